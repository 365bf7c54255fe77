"""Turn the text of a cell into an exact value: numbers, units, clock times, gestation."""

import datetime as dt
import re
from fractions import Fraction
from functools import cache, lru_cache
from typing import cast
from zoneinfo import ZoneInfo

NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
MONTH = re.compile(r"\d{4}-(0[1-9]|1[0-2])")
GESTATION = re.compile(r"(\d{1,2})\s*(?:\+|w\s*\+?|\s|/)\s*([0-6])\s*(?:d|/7)?", re.IGNORECASE)

# (canonical unit, recorded unit) -> exact (factor, offset): canonical = (x - offset) * factor.
# Pound and inch: international yard and pound agreement, 1959. Celsius: (F - 32) * 5 / 9.
# Glucose: molar mass of C6H12O6 180.156 g/mol. From memory, as any handbook prints them.
TO_CANONICAL = {
    ("g", "kg"): (Fraction(1000), Fraction(0)),
    ("g", "[lb_av]"): (Fraction("453.59237"), Fraction(0)),
    ("g", "[oz_av]"): (Fraction("453.59237") / 16, Fraction(0)),
    ("cm", "mm"): (Fraction(1, 10), Fraction(0)),
    ("cm", "m"): (Fraction(100), Fraction(0)),
    ("cm", "[in_i]"): (Fraction("2.54"), Fraction(0)),
    ("Cel", "[degF]"): (Fraction(5, 9), Fraction(32)),
    ("mg/dL", "mmol/L"): (Fraction("18.0156"), Fraction(0)),
    # Bilirubin: molar mass of C33H36N4O6 584.66 g/mol; written with five digits.
    ("mg/dL", "umol/L"): (1 / Fraction("17.104"), Fraction(0)),
    ("d", "wk"): (Fraction(7), Fraction(0)),
    ("min", "h"): (Fraction(60), Fraction(0)),
    ("min", "s"): (Fraction(1, 60), Fraction(0)),
}


class Unreadable(Exception):
    """The text of a cell cannot be what its column says it is."""


def round_half_up(value: Fraction, decimals: int) -> Fraction:
    """Round an exact number to decimals, a half away from zero."""
    scale = 10**decimals
    whole = (abs(value) * scale + Fraction(1, 2)).__floor__()
    return Fraction(whole if value >= 0 else -whole, scale)


def number(text: str) -> Fraction:
    """Read a plain decimal number exactly; raises Unreadable."""
    if not NUMBER.fullmatch(text):
        raise Unreadable(text)
    return Fraction(text)


def to_canonical(value: Fraction, canonical: str | None, recorded: str | None) -> Fraction:
    """Convert an exact number between UCUM units; equal or missing units change nothing."""
    if canonical is None or recorded is None or canonical == recorded:
        return value
    factor, offset = TO_CANONICAL[canonical, recorded]
    return (value - offset) * factor


@cache
def minutes_of(seconds: int) -> Fraction:
    """Turn whole seconds into minutes, exactly.

    Whole minutes stay whole numbers: these compare with fractions as exactly, ten times as fast.
    """
    return Fraction(seconds, 60) if seconds % 60 else cast(Fraction, seconds // 60)


@lru_cache(maxsize=1_000_000)
def instant(text: str, formats: tuple[str, ...], zone: str) -> dt.datetime:
    """Read a local clock time as a UTC instant; raises Unreadable.

    Where the clocks go back an hour happens twice, and the text does not say which: the
    second (standard time) is taken, as DuckDB's timezone('Area/City', timestamp) does
    (checked with 2.0.1). In the hour that is skipped both take the offset before the change.
    """
    for form in formats:
        try:
            local = dt.datetime.strptime(text, form)
        except ValueError:
            continue
        first = local.replace(tzinfo=ZoneInfo(zone), fold=0)
        second = local.replace(tzinfo=ZoneInfo(zone), fold=1)
        happens_twice = second.astimezone(dt.UTC) > first.astimezone(dt.UTC)
        return (second if happens_twice else first).astimezone(dt.UTC)
    raise Unreadable(text)


def gestation_days(text: str, form: str | None) -> Fraction:
    """Read gestational age in days from '39+2', '39w2d', '39 2/7' or completed weeks."""
    if form is None:
        return number(text)
    if form == "completed_weeks":
        return number(text) * 7
    found = GESTATION.fullmatch(text)
    if not found:
        raise Unreadable(text)
    return Fraction(int(found[1]) * 7 + int(found[2]))

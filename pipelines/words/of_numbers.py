"""Numbers as words: percents, points, counts, intervals, months, lists."""

import math
import re
from collections.abc import Sequence
from typing import Any, Final, TypedDict

import pandas as pd

from pipelines.definitions.read_measures import KINDS


class KindRow(TypedDict):
    """What ``noun`` asks of a row of a measure."""

    kind: str


SPACE: Final = "\N{NO-BREAK SPACE}"


NONE: Final = "\N{EN DASH}"


MINUS: Final = "\N{MINUS SIGN}"


_NOTHING: Final = 1e-9  # what binary arithmetic adds or loses


def is_missing(value: Any) -> bool:
    """Return whether a scalar is null, NaN or NaT; lists never are."""
    return not isinstance(value, list | tuple) and bool(pd.isna(value))


def by_hand(number: float, digits: int = 0) -> float:
    """Round as a reader does who works it out: a half goes up.

    Also where a half is none in binary: 23 of 40 are 57.49999999999999 %.

    >>> by_hand(100 * 23 / 40), by_hand(16.5), by_hand(100 * 3 / 240, 1)
    (58.0, 17.0, 1.3)
    """
    unit = 10.0**digits
    return math.floor(number * unit + 0.5 + _NOTHING) / unit


def percent(rate: float | None) -> str:
    """Write a share of 1 as a percentage; whole, unless that would say all or none wrongly.

    >>> percent(0.645).replace(SPACE, " "), percent(0.998).replace(SPACE, " ")
    ('65 %', '99.8 %')
    >>> percent(None) == NONE
    True
    """
    if is_missing(rate) or rate is None:
        return NONE
    whole = int(by_hand(rate * 100))
    if (whole == 100 and rate < 1 - _NOTHING) or (whole == 0 and rate > _NOTHING):
        return f"{min(max(by_hand(rate * 100, 1), 0.1), 99.9):g}{SPACE}%"
    return f"{whole}{SPACE}%"


def apart(one: float | None, other: float | None) -> tuple[str, str]:
    """Write two shares that are set against each other; one decimal where they would be alike.

    >>> [text.replace(SPACE, " ") for text in apart(0.012, 0.008)]
    ['1.2 %', '0.8 %']
    """
    first, second = percent(one), percent(other)
    if first == second and one != other and one is not None and other is not None:
        first, second = (f"{by_hand(100 * share, 1):.1f}{SPACE}%" for share in (one, other))
    return first, second


def points(share: float) -> str:
    """Write a difference of shares in percentage points, with its sign.

    >>> points(-0.121) == MINUS + "12.1", points(0.05)
    (True, '+5.0')
    """
    text = f"{100 * share:+.1f}"
    return "0.0" if text in {"+0.0", "-0.0"} else text.replace("-", MINUS)


def count(number: float) -> str:
    """Write a whole number with thin groups of three.

    >>> count(1200).replace("\\N{NARROW NO-BREAK SPACE}", "_")
    '1_200'
    """
    return f"{int(number):,}".replace(",", "\N{NARROW NO-BREAK SPACE}")


def number_of(amount: int, one: str, many: str | None = None) -> str:
    """Write an amount with its noun.

    >>> number_of(1, "newborn"), number_of(2, "newborn")
    ('1 newborn', '2 newborns')
    """
    return f"{count(amount)} {one if amount == 1 else many or one + 's'}"


def month_name(month: pd.Timestamp) -> str:
    return f"{month:%B %Y}"


def fractions(rows: pd.DataFrame) -> list[str]:
    """Return "n of N" for each row of numerator and counted."""
    pairs = zip(rows["numerator"], rows["counted"], strict=True)
    return [f"{count(met)} of {count(of)}" for met, of in pairs]


def interval(lower: float | None, upper: float | None) -> str:
    """Write an interval of shares: "54 to 74 %"."""
    if is_missing(lower) or is_missing(upper):
        return NONE
    return f"{percent(lower).removesuffix(SPACE + '%')} to {percent(upper)}"


def intervals(rows: pd.DataFrame) -> list[str]:
    return [interval(low, high) for low, high in zip(rows["lower"], rows["upper"], strict=True)]


def noun(row: KindRow) -> str:
    """Say what the rows of a measure are: newborns, or episodes, doses, findings of newborns."""
    return KINDS[row["kind"]][1]


def words(name: str) -> str:
    """Write a name as words.

    >>> words("hepatitis_b_vaccine"), words("vitamin_k")
    ('hepatitis B vaccine', 'vitamin K')
    """
    return re.sub(r"\b[bk]\b", lambda letter: letter[0].upper(), name.replace("_", " "))


def column(name: str) -> str:
    """Say a column's name as words with its unit.

    >>> column("head_circumference_cm"), column("maternal_hepatitis_b_minutes")
    ('head circumference (cm)', 'maternal hepatitis B time')
    """
    endings = {"_g": " (g)", "_cm": " (cm)", "_c": " (\N{DEGREE SIGN}C)", "_days": " (days)"}
    endings["_minutes"] = " time"
    for ending, unit in endings.items():
        if name.endswith(ending):
            return words(name.removesuffix(ending)) + unit
    return "time" if name == "minutes" else words(name)


def listed(items: Sequence[str], most: int = 3) -> str:
    """Join names for a sentence and say how many were left out.

    >>> listed(["a", "b", "c", "d"], most=2)
    'a; b; and 2 more'
    """
    shown = list(items[:most])
    left = len(items) - len(shown)
    return "; ".join([*shown, f"and {left} more"] if left else shown)

"""The written forms of time that a unit's file may declare, and why another is refused.

A form is what ``strptime`` reads (``%d.%m.%Y %H:%M``), or a word for a number that counts from
a fixed moment. What could be read in two ways is refused here, before any export is opened.
"""

import datetime as dt
import re
from collections.abc import Iterator
from itertools import combinations
from typing import Any, Final

from pipelines.base.errors import DeclarationError, nearest

# Days since a fixed day (spreadsheets' two date systems), seconds and milliseconds since 1970.
COUNTED: Final = ("excel", "excel_1904", "unix_seconds", "unix_milliseconds")
# A time outside these years is no birth, and no event of one, that a unit can still export.
YEARS: Final = (1980, 2100)
_DIRECTIVES: Final = frozenset("YymdbBHIMSpfgzjaA%")
# So chosen that no two of their numbers are the same, before and after noon.
_PROBES: Final = (
    dt.datetime(2004, 5, 6, 7, 8, 9, tzinfo=dt.UTC),
    dt.datetime(2012, 11, 10, 9, 8, 7, tzinfo=dt.UTC),
    dt.datetime(2009, 8, 7, 15, 14, 13, tzinfo=dt.UTC),
)


def has_offset(form: str) -> bool:
    return "%z" in form


def checked_forms(where: str, forms: Any) -> tuple[str, ...]:
    """Return the declared forms of time.

    Raises DeclarationError for a form that leaves out a part of the time, that would take a
    written offset for decoration, or that reads one text otherwise than another form does.
    """
    if not isinstance(forms, list | tuple) or not forms:
        raise DeclarationError(f'{where}: formats must be a list, such as ["%d.%m.%Y %H:%M"].')
    for form in forms:
        _check(where, str(form))
    written = [str(form) for form in forms if form not in COUNTED]
    for one, other in combinations(written, 2):
        _refuse_two_readings(where, one, other)
    counted = [form for form in forms if form in COUNTED]
    if len(counted) > 1:
        raise DeclarationError(
            f"{where}: a bare number cannot be both '{counted[0]}' and '{counted[1]}'; "
            "give the columns of one of them their own formats."
        )
    return tuple(str(form) for form in forms)


def _check(where: str, form: str) -> None:
    if form in COUNTED:
        return
    used = set(re.findall(r"%-?(.)", form))
    if not used:
        known = ("%Y-%m-%d %H:%M", *COUNTED)
        raise DeclarationError(
            f"{where}: '{form}' is no form of a time.{nearest(form, COUNTED)} "
            f"Write one such as {', '.join(known)}."
        )
    strange = sorted(used - _DIRECTIVES)
    if strange:
        hint = " Names of zones are not unique: say 'zone' and use %z for offsets." * (
            "Z" in strange
        )
        raise DeclarationError(f"{where}: '{form}' has %{strange[0]}, which is not read.{hint}")
    every = re.findall(r"%-?(.)", form)
    if len(every) > len(used):
        raise DeclarationError(f"{where}: '{form}' has a part of the time twice; write each once.")
    for needed, word in (("Yy", "year"), ("mbBj", "month"), ("djd", "day"), ("HI", "hour")):
        if not used & set(needed):
            raise DeclarationError(
                f"{where}: '{form}' has no {word}, so a time could not be read rightly. Where it "
                'stands in a column of its own, name both: from = ["date", "time"].'
            )
    if "M" not in used:
        raise DeclarationError(f"{where}: '{form}' has no minute (%M); whole hours are too coarse.")
    if "I" in used and "p" not in used:
        raise DeclarationError(
            f"{where}: '{form}' has a 12-hour clock (%I) and no %p: 07:05 would be morning and "
            "evening. Add %p, or write %H for a 24-hour clock."
        )
    if "p" in used and "I" not in used:
        raise DeclarationError(
            f"{where}: '{form}' has %p beside %H, where PM would be passed over; write %I."
        )
    letters = re.sub(r"%-?.", "", form)
    if re.search(r"Z|UTC|GMT|[+-]\d", letters):
        raise DeclarationError(
            f"{where}: '{form}' passes over the offset that is written in it; the times would be "
            "read as local ones. Write %z in its place: Z and +01:00 are then read."
        )


def _readings(one: str, other: str) -> Iterator[tuple[str, dt.datetime, dt.datetime]]:
    """Yield (text, reading, other reading) of texts that two forms read differently."""
    for probe, form in ((probe, form) for probe in _PROBES for form in (one, other)):
        text = probe.strftime(form)
        try:
            first, second = (dt.datetime.strptime(text, each) for each in (one, other))
        except ValueError:
            continue
        if first.replace(tzinfo=None) != second.replace(tzinfo=None):
            yield text, first, second


def _refuse_two_readings(where: str, one: str, other: str) -> None:
    for text, first, second in _readings(one, other):
        raise DeclarationError(
            f"{where}: '{text}' would be {_said(first)} as '{one}' and {_said(second)} as "
            f"'{other}'. Keep the form that the export means; where columns differ, give each "
            "its own formats."
        )


def _said(moment: dt.datetime) -> str:
    return f"{moment.day} {moment:%B %Y %H:%M}"


def turned(form: str) -> str | None:
    """Return a form with day and month the other way round, None where it has no two numbers.

    >>> turned("%d/%m/%Y %H:%M")
    '%m/%d/%Y %H:%M'
    >>> turned("%d %b %Y %H:%M")
    """
    if not ("%d" in form and "%m" in form):
        return None
    swapped = form.replace("%d", "\0").replace("%m", "%d").replace("\0", "%m")
    return None if form.startswith(("%Y", "%y")) else swapped


def two_readings(form: str) -> str:
    """Say an invented date that could be the one or the other, in both readings.

    >>> two_readings("%d/%m/%y %H%M").split(" and ")[1]
    "4 March 2026 07:00 as '%m/%d/%y %H%M'"
    """
    other = turned(form) or form
    moment = dt.datetime(2026, 4, 3, 7, 0)
    text = moment.strftime(form)
    other_moment = dt.datetime.strptime(text, other)
    return f"'{text}' is {_said(moment)} as '{form}' and {_said(other_moment)} as '{other}'"

"""Which written forms of a date and time an export may use, and which of them a text fits."""

import datetime as dt
import re
from collections.abc import Iterable
from functools import cache
from itertools import product
from typing import Final

from pipelines.definitions.safe_to_say import shape

_DATES: Final = (
    "%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y", "%Y/%m/%d", "%Y%m%d",
    "%d.%m.%y", "%d/%m/%y", "%m/%d/%y", "%d-%b-%Y", "%d %b %Y", "%d-%b-%y",
)  # fmt: skip
_TIMES: Final = ("%H:%M", "%H:%M:%S", "%H:%M:%S.%f", "%I:%M %p", "%I:%M:%S %p", "%H%M")
# The day before the month comes first where both fit: most of the world writes it so.
_LOCAL: Final = tuple(
    f"{date}{joint}{time}" for date, time, joint in product(_DATES, _TIMES, (" ", "T"))
)
_WITH_OFFSET: Final = tuple(
    f"{form}{joint}%z" for form, joint in product(_LOCAL, ("", " ")) if "%p" not in form
)
FORMS: Final = (*_LOCAL, *_WITH_OFFSET)
# A time that carries its offset ends so: Z, +01, +0100, +01:00.
_OFFSET: Final = re.compile(r"\d:?\d\d(?::\d\d(?:\.\d+)?)? ?(?:Z|[+-]\d\d(?::?\d\d)?)$")
MONTH: Final = re.compile(r"\d{4}-\d{2}")
CLOCK: Final = re.compile(r"\d{1,2}:\d{2}(:\d{2})?( ?[AaPp]\.?[Mm]\.?)?")


def _fits(text: str, form: str) -> bool:
    try:
        dt.datetime.strptime(text, form)
    except ValueError:
        return False
    return True


def _mostly(texts: list[str], form: str) -> bool:
    """Whether nine of ten texts fit: a slip in one entry must not hide the form."""
    misses = 0
    for text in texts:
        misses += not _fits(text, form)
        if misses > 0.1 * len(texts):
            return False
    return True


def forms_of(texts: Iterable[str]) -> list[str]:
    """Return the forms that fit nine of ten texts, in the order of ``FORMS``.

    >>> forms_of(["31.12.2025 23:05", "01.01.2026 00:10"])
    ['%d.%m.%Y %H:%M']
    >>> forms_of(["03/04/2026 07:00"])
    ['%d/%m/%Y %H:%M', '%m/%d/%Y %H:%M']
    >>> forms_of(["2026-03-29T02:30:00+01:00", "2026-03-29T01:30:00Z"])
    ['%Y-%m-%dT%H:%M:%S%z']
    >>> forms_of(["36.5", "37.0"])
    []
    """
    given = list(texts)
    with_offset = sum(bool(_OFFSET.search(text)) for text in given) >= 0.9 * len(given)
    return _fitting(given, _WITH_OFFSET if with_offset else _LOCAL)


def _fitting(texts: Iterable[str], forms: Iterable[str]) -> list[str]:
    given = list(texts)
    return [form for form in forms if given and _mostly(given, form)]


def date_forms_of(texts: Iterable[str]) -> list[str]:
    """Return the forms of a date without a time that fit nine of ten texts.

    >>> date_forms_of(["31.12.2025", "01.01.2026"])
    ['%d.%m.%Y']
    """
    return _fitting(texts, _DATES)


def forms_of_shape(written: str) -> list[str]:
    """Return the forms whose texts have this shape (9 for a digit, x for a letter).

    >>> forms_of_shape("99.99.9999 99:99")
    ['%d.%m.%Y %H:%M']
    >>> forms_of_shape("9999-99-99x99:99:99+99:99")
    ['%Y-%m-%dT%H:%M:%S%z']
    >>> forms_of_shape("9999-99-99 99:99:99.999x")
    ['%Y-%m-%d %H:%M:%S.%f%z']
    """
    return [form for form in FORMS if written in _shapes(form)]


@cache
def _shapes(form: str) -> frozenset[str]:
    """Return the shapes of the texts of a form: offsets and fractions are written in many."""
    moment = dt.datetime(2025, 12, 11, 10, 9, 8)
    fractions = ("9", "99", "999", "999999") if "%f" in form else ("",)
    offsets = ("x", "+99", "+9999", "+99:99", "-99", "-9999", "-99:99") if "%z" in form else ("",)
    plain = form.replace("%f", "<").replace("%z", ">")
    written = shape(moment.strftime(plain))
    return frozenset(
        written.replace("<", fraction).replace(">", offset)
        for fraction, offset in product(fractions, offsets)
    )

"""Which written forms of a date and time an export may use, and which of them a text fits."""

import datetime as dt
import re
from collections.abc import Iterable
from itertools import product
from typing import Final

from pipelines.definitions.safe_to_say import shape

_DATES: Final = ("%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y", "%Y/%m/%d", "%Y%m%d")
_TIMES: Final = ("%H:%M", "%H:%M:%S", "%I:%M %p", "%H%M")
# The day before the month comes first where both fit: most of the world writes it so.
FORMS: Final = tuple(
    f"{date}{joint}{time}" for date, time, joint in product(_DATES, _TIMES, (" ", "T"))
)
MONTH: Final = re.compile(r"\d{4}-\d{2}")
CLOCK: Final = re.compile(r"\d{1,2}:\d{2}(:\d{2})?( ?[AaPp]\.?[Mm]\.?)?")


def _fits(text: str, form: str) -> bool:
    try:
        dt.datetime.strptime(text, form)
    except ValueError:
        return False
    return True


def forms_of(texts: Iterable[str]) -> list[str]:
    """Return the forms that fit nine of ten texts, in the order of ``FORMS``.

    >>> forms_of(["31.12.2025 23:05", "01.01.2026 00:10"])
    ['%d.%m.%Y %H:%M']
    >>> forms_of(["03/04/2026 07:00"])
    ['%d/%m/%Y %H:%M', '%m/%d/%Y %H:%M']
    >>> forms_of(["36.5", "37.0"])
    []
    """
    return _fitting(texts, FORMS)


def _fitting(texts: Iterable[str], forms: Iterable[str]) -> list[str]:
    given = list(texts)
    need = 0.9 * len(given)  # a slip in one entry must not hide the form
    return [form for form in forms if given and sum(_fits(text, form) for text in given) >= need]


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
    """
    moment = dt.datetime(2025, 12, 11, 10, 9, 8)
    return [form for form in FORMS if shape(moment.strftime(form)) == written]

"""How one text becomes a number, a gestation or an instant: DuckDB expressions.

A text that does not fit the declared form gives null, never an error and never a guess: what
cannot be read is listed, what is misread looks like any other value.
"""

from typing import Final

from pipelines.base.measuring_units import conversion
from pipelines.base.sql import quote
from pipelines.definitions.read_units import Unit
from pipelines.definitions.unit_readings import PART_FORMS, PLAIN, Marks, parts_ratio
from pipelines.definitions.unit_takes import Source
from pipelines.definitions.unit_times import YEARS, has_offset
from pipelines.stages.raw.export_text import part_texts, recorded_text
from pipelines.stages.raw.raw_file import RawFile

# "39+6", "39w6d", "39 6/7", "39/6": completed weeks and days 0 to 6. A bare "39" is refused:
# whether it means 39+0 or "some day of week 39" is for the unit file to say.
WEEKS_AND_DAYS: Final = (
    r"^\s*(\d{1,2})\s*(?:\+|w(?:eeks?)?|/|\s)\s*([0-6])\s*(?:d(?:ays?)?|/7)?\s*$"
)
_BARE_WEEKS: Final = r"^\s*(\d{1,2})(?:\.0+)?\s*(?:w(?:eeks?)?)?\s*$"
_WEEKS_POINT_DAYS: Final = r"^\s*(\d{1,2})\.([0-6])\s*$"
# "7 lb 4 oz", "7lb4", "7 4", "1' 8""": two numbers, whatever marks the first.
_PARTS: Final = (
    r"^(\d{1,2})\s*(?:lbs?\.?|pounds?|#|ft\.?|feet|foot|''?|\s|-)\s*"
    r"(\d{1,2}(?:[.,]\d+)?)\s*(?:oz\.?|ounces?|in\.?|inch(?:es)?|\")?$"
)
_MIDDLE_OF_WEEK: Final = 3
# A spreadsheet's day 20,000 is in 1954, day 80,000 in 2119: what lies outside is no date.
_SERIALS: Final = (20_000, 80_000)
_DAY_ZERO: Final = {"excel": "1899-12-30", "excel_1904": "1904-01-01"}
_PER_SECOND: Final = {"unix_seconds": 1, "unix_milliseconds": 1000}


def number_of(text: str, marks: Marks) -> str:
    """Return the number a text says; "nan" and "inf" are words, not readings.

    With declared marks the whole text must have their form: thousands stand in groups of three,
    so that "36.7" is no 367 where a point sets off thousands.
    """
    if marks == PLAIN:
        value = f"try_cast({text} as double)"
        return f"if(isfinite({value}), {value}, null)"
    decimal = "\\" + marks.decimal
    groups = _class_of(marks.thousands)
    whole = rf"(?:\d{{1,3}}(?:{groups}\d{{3}})+|\d+)" if groups else r"\d+"
    plain = f"regexp_replace({text}, {quote(groups)}, '', 'g')" if groups else text
    if marks.decimal == ",":
        plain = f"replace({plain}, ',', '.')"
    form = quote(rf"[-+]?{whole}(?:{decimal}\d+)?")
    return f"if(regexp_full_match({text}, {form}), try_cast({plain} as double), null)"


def _class_of(thousands: str) -> str:
    """Return a class of characters for the mark; a blank may be a no-break or a narrow one."""
    if thousands == " ":
        return "[ \u00a0\u202f]"
    if thousands in {"'", "\u2019"}:
        return "['\u2019]"
    return f"[{thousands}]" if thousands else ""


def added_up(raw: RawFile, source: Source, canonical: str) -> str:
    """Return two numbers added up in the canonical unit, as pounds and ounces.

    Both must be there, the first whole, the second less than one of the first: a blank beside
    a 7 may be 0 ounces or ounces that nobody wrote down.
    """
    if source.form in PART_FORMS:
        text = f"lower({recorded_text(raw, source)})"
        texts = [
            f"nullif(regexp_extract({text}, {quote(_PARTS)}, {group}), '')" for group in (1, 2)
        ]
    else:
        texts = part_texts(raw, source)
    first, second = (number_of(text, source.marks) for text in texts)
    rules = [conversion("", canonical, unit) for unit in source.units]
    ratio = parts_ratio(canonical, source.units)
    return (
        f"case when {first} >= 0 and {first} = trunc({first}) and {second} >= 0 "
        f"and {second} < {ratio!r} then {rules[0].sql(first)} + {rules[1].sql(second)} end"
    )


def gestation(text: str, form: str | None) -> str:
    """Return days of gestation. A bare week means its middle day, where the unit allows it."""
    if form == "completed_weeks":
        return f"{_group(text, _BARE_WEEKS, 1)} * 7 + {_MIDDLE_OF_WEEK}"
    pattern = _WEEKS_POINT_DAYS if form == "weeks_point_days" else WEEKS_AND_DAYS
    exact = f"{_group(text, pattern, 1)} * 7 + {_group(text, pattern, 2)}"
    if form == "weeks_with_or_without_days":
        return f"coalesce({exact}, {_group(text, _BARE_WEEKS, 1)} * 7 + {_MIDDLE_OF_WEEK})"
    return exact


def _group(text: str, pattern: str, group: int) -> str:
    return f"try_cast(regexp_extract({text}, {quote(pattern)}, {group}, 'i') as integer)"


def instant(raw: RawFile, source: Source, text: str) -> str:
    """Return a UTC instant from a clock time, in the first of the declared forms that fits.

    A local time is taken in the unit's zone; a time that carries its offset needs none. A year
    that no birth can have is no reading: "26" is read as the year 26 where four digits are meant.
    """
    forms = (*source.formats, *raw.own_forms)
    read = [in_one_form(raw.unit, form, text, source.marks) for form in dict.fromkeys(forms)]
    return read[0] if len(read) == 1 else f"coalesce({', '.join(read)})"


def in_one_form(unit: Unit, form: str, text: str, marks: Marks = PLAIN) -> str:
    """Return the UTC instant that a text says in one form, null where the form does not fit."""
    read = _in_form(unit, form, text, marks)
    low, high = (f"timestamptz '{year}-01-01 00:00:00+00'" for year in YEARS)
    return f"case when {read} >= {low} and {read} < {high} then {read} end"


def month(text: str) -> str:
    """Return the first of a month written as 2026-03."""
    read = f"cast(try_strptime({text}, '%Y-%m') as date)"
    return f"case when year({read}) >= {YEARS[0]} and year({read}) < {YEARS[1]} then {read} end"


def _in_form(unit: Unit, form: str, text: str, marks: Marks) -> str:
    zone = quote(unit.zone or "UTC")
    if form in _DAY_ZERO:
        days = number_of(text, marks)
        low, high = _SERIALS
        # To the second: a spreadsheet's fraction of a day is seldom a whole one.
        kept = f"case when {days} between {low} and {high} then {days} end"
        micros = f"cast(round(({kept}) * 86400) as bigint) * 1000000"
        return f"timezone({zone}, timestamp '{_DAY_ZERO[form]}' + to_microseconds({micros}))"
    if form in _PER_SECOND:
        count = f"try_cast({number_of(text, marks)} * {1_000_000 // _PER_SECOND[form]} as bigint)"
        return f"timezone('UTC', make_timestamp({count}))"
    if has_offset(form):
        # Z is the offset nought; the reader of %z knows only numbers.
        return f"try_strptime(regexp_replace({text}, '[zZ]$', '+00:00'), {quote(form)})"
    return f"timezone({zone}, try_strptime({text}, {quote(form)}))"

"""What the data quality page says in sentences, and where in the chart a value is looked up."""

from collections.abc import Mapping
from typing import Any, Final

import pandas as pd
from scipy.stats import binomtest

from pipelines.base.frames import checked
from pipelines.definitions.states import OPEN_SEVERITIES
from pipelines.pages.quality import read as quality
from pipelines.pages.quality.frames import CheckRow, MovedRateRow
from pipelines.pages.quality.last_digits import Heap
from pipelines.pages.quality.read import QualityData
from pipelines.words import of_numbers
from pipelines.words.of_numbers import (
    count,
    is_missing,
    month_name,
    number_of,
    percent,
    words,
)

# Our own bounds for the words, from the share of needed values that are present and usable.
TRUSTED: Final = 0.95
MOST_USES: Final = 0.90
WITH_CARE: Final = 0.75
CHANCE: Final = 0.01

CAUTIONS: Final = (
    "A flag is a question about a record, not about the person who wrote it. Most have an "
    "ordinary cause: another unit, a slipped digit, a renamed item, a device.",
    "A value with no flag is not proved right. A weight that is wrong by a kilogram at term, or "
    "a temperature that is wrong by a few tenths, cannot be told from a true one.",
    "Nothing is corrected here. A suggestion says what the value may have been; only the chart "
    "or the person who measured knows.",
    "Sick and very small newborns are flagged more often, because their true values are unusual. "
    "Confirm a value that is true, so that it counts.",
    "Not documented is not the same as not done.",
)
GLOSSARY: Final = {
    "answer": "what the unit says of a flag: confirmed (the value is true and counts) or wrong "
    "(it is left out); the flag stays",
    "as recorded": "the rate if every flagged value that can be read were used as it stands",
    "flag": "a remark of a rule on one value or a whole column: cannot be right, unlikely, or "
    "worth knowing",
    "heaping": "some last digits recorded far more often than the readings themselves explain",
    "needed value": "one newborn (or episode) that a measure is about; present and believable "
    "means that the measure can use what was recorded",
    "more than chance": "for flags of a month: the exact binomial probability of so uneven a "
    "split between this month and the twelve before is below 1 in 100",
    "silent": "a column, kind of entry or shift with less than a fifth of its usual share, "
    "beyond chance",
    "usable": "readable, on a recode list where it is a code, and without a flag that says it "
    "cannot be right",
    "words for trust": "our own: at least 95 % of the needed values and nothing else against it, "
    "trusted; at least 90 %, for most uses; at least 75 %, with care; below, not for decisions",
}

_SIZES = "look at the measuring sheet or the cot card"
_TIMES = "look at the admission and leaving notes"
# (title, where to look) by column of the admission table.
_ADMISSION: Final[Mapping[str, tuple[str, str]]] = {
    "weight_g": ("Weight", "look at the scale's record"),
    "length_cm": ("Length", _SIZES),
    "head_circumference_cm": ("Head circumference", _SIZES),
    "size_minutes": ("Time of measuring", _SIZES),
    "gestational_age_days": ("Gestation", "look at the dating in the mother's chart"),
    "apgar_1": ("Apgar", "look at the birth record"),
    "apgar_5": ("Apgar", "look at the birth record"),
    "apgar_10": ("Apgar", "look at the birth record"),
    "birth_time": ("Time of birth", "look at the birth record"),
    "birth_month": ("Time of birth", "look at the birth record"),
    "birth_hour": ("Time of birth", "look at the birth record"),
    "record_id": ("Repeated record", "see which row of the export is the true one"),
    "room_temperature_c": ("Room temperature", "look at the birth room's log"),
    "maternal_temperature_c": ("Mother's temperature", "look at the mother's chart"),
    "maternal_hepatitis_b": ("Mother's hepatitis B result", "look at the mother's chart"),
    "maternal_hepatitis_b_minutes": ("Mother's hepatitis B result", "look at the mother's chart"),
    "arrival_minutes": ("Time of arrival", _TIMES),
    "leave_birth_room_minutes": ("Time of leaving the birth room", _TIMES),
    "discharge_minutes": ("Time of leaving the unit", _TIMES),
    "disposition": ("Where the newborn went", _TIMES),
}
_TABLES: Final[Mapping[str, str]] = {
    "admission": "look at the birth and admission record",
    "observation": "look at the flowsheet, or the device's own memory",
    "dose": "look at the medication record",
    "care": "look at the nursing notes",
    "finding": "look at the examination sheet",
}
_EVENTS: Final[Mapping[str, str]] = {
    "observation": "observations",
    "dose": "doses",
    "care": "care",
    "finding": "examinations",
}
TABLE_WORDS: Final[Mapping[str, str]] = {
    "admission": "Admission",
    "observation": "Observations",
    "dose": "Doses",
    "care": "Care",
    "finding": "Examination",
}


def subject(kind: str | None, name: str) -> str:
    """Say what a flag is about: a kind of event with its column, or an admission column.

    >>> subject("vitamin_k", "minutes"), subject("bath", "kind"), subject(None, "apgar_1")
    ('vitamin K: time', 'bath', 'apgar 1')
    """
    column = words(of_numbers.column(name))
    if is_missing(kind) or kind is None:
        return column
    return words(kind) if name in {"kind", "value"} else f"{words(kind)}: {column}"


def where_to_look(table: str, kind: str | None, name: str) -> tuple[str, str]:
    """Return the title of a group of the worklist and where in the chart to look.

    >>> where_to_look("admission", None, "weight_g")
    ('Weight', "look at the scale's record")
    >>> where_to_look("dose", "vitamin_k", "minutes")
    ('Times of doses', 'look at the medication record')
    """
    if table == "admission" and name in _ADMISSION:
        return _ADMISSION[name]
    look = _TABLES.get(table, "look at the chart")
    if table != "admission" and name.endswith("minutes"):
        return f"Times of {_EVENTS.get(table, words(table))}", look
    title = subject(kind, name)
    return title[:1].upper() + title[1:], look


def _level(data: QualityData) -> str:
    """Return the words for trust; whatever else is wrong takes away the best of them."""
    usable, total = quality.needed(data)
    share = usable / total if total else 0.0
    against = len(quality.not_judged(data)) + len(recent_columns(data)) + len(quality.moved(data))
    if share >= TRUSTED and not against:
        return "These figures can be trusted"
    if share >= MOST_USES:
        return "These figures can be trusted for most uses"
    if share >= WITH_CARE:
        return "These figures can be used with care, measure by measure"
    return "These figures should not be used for decisions yet"


def recent_columns(data: QualityData) -> pd.DataFrame:
    """Return the findings about whole columns that are more than a note."""
    found = quality.of_columns(data)
    return found[found["severity"] != "note"]


def verdict(data: QualityData) -> str:
    """Say in words how far the figures can be trusted, each reason with its number."""
    usable, total = quality.needed(data)
    reasons = [
        f"{percent(usable / total)} of the needed values of the last "
        f"{number_of(len(data.span), 'month')} are present and believable "
        f"({count(usable)} of {count(total)})"
        if total
        else "no measure has a newborn yet"
    ]
    columns = len(recent_columns(data))
    if columns:
        reasons.append(
            f"{number_of(columns, 'column, shift or month', 'columns, shifts or months')}"
            f" {'looks' if columns == 1 else 'look'} wrong as a whole"
        )
    moved = quality.moved(data)["measure_id"].nunique()
    reasons.append(
        f"flags move {number_of(moved, 'measure')} by more than a point"
        if moved
        else "no measure moves by more than a point through flags"
    )
    unjudged = len(quality.not_judged(data))
    reasons.append(
        f"{number_of(unjudged, 'check')} could not be judged"
        if unjudged
        else "every check could be judged"
    )
    return f"{_level(data)}: {'; '.join(reasons)}."


def first_to_do(data: QualityData) -> str:
    """Say what would help most: a whole column, then unknown words, then the longest group."""
    parts = []
    columns = recent_columns(data)
    if len(columns):
        found = str(columns["explanation"].iloc[0])
        parts.append(f"Put right at the source: {found.split('. ', 1)[0].rstrip('.')}.")
    unknown = quality.unmapped(data)
    if len(unknown):
        entries = int(unknown["entries"].sum())
        parts.append(
            f"{number_of(entries, 'entry', 'entries')} "
            f"{'carries a word' if entries == 1 else 'carry words'} that the unit file does not "
            "know: add them to its recode lists."
        )
    groups = worklist(data)
    if len(groups):
        sizes = groups.groupby("title", sort=False).size()
        title = str(sizes.idxmax())
        look = str(groups.loc[groups["title"] == title, "look"].iloc[0])
        parts.append(f"Longest list to check: {title}, {count(sizes.max())} values; {look}.")
    return " ".join(parts) or "Nothing waits to be checked."


def changed(data: QualityData) -> str:
    """Say whether the last full month has more flagged values than the months before."""
    flags = quality.of_values(data)
    errors = flags[flags["severity"] == "error"]
    before_months = data.span[:-1]
    newborns = data.months.set_index("month")["newborns"]
    now, before = (errors["month"] == data.month).sum(), errors["month"].isin(before_months).sum()
    text = f"{number_of(int(now), 'value')} of {month_name(data.month)} cannot be right"
    text += f" and {'is' if now == 1 else 'are'} left out"
    if not len(before_months):
        return f"{text}; there is no month before to compare with."
    usual = before / len(before_months)
    text += f"; {usual:.1f} a month in the {len(before_months)} before"
    exposed = newborns.get(data.month, 0) / newborns.reindex([*before_months, data.month]).sum()
    chance = binomtest(int(now), int(now + before), exposed).pvalue if now + before else 1.0
    text += ", no more than chance." if chance >= CHANCE else ", more than chance explains."
    return text + _new_causes(flags, data)


def _new_causes(flags: pd.DataFrame, data: QualityData) -> str:
    """Name the rules that found something in the last full month and never before."""
    since = flags.groupby("rule_id")["month"].min()
    new = [words(str(rule)) for rule in since.index[since == data.month]]
    return (
        f" New this month: {of_numbers.listed(sorted(new))}."
        if new and len(data.months) > 1
        else ""
    )


def worklist(data: QualityData) -> pd.DataFrame:
    """Return the open flags to look up in the chart, with title and look of their group.

    A note only informs; a word on no list is settled in the unit file, not in the chart.
    """
    flags = quality.of_values(data)
    is_open = flags["answer"].isna() & flags["severity"].isin(OPEN_SEVERITIES)
    listed = flags[is_open & (flags["rule_id"] != "not_on_list")].copy()
    keys = zip(listed["table_name"], listed["kind"], listed["column_name"], strict=True)
    places: list[Any] = [where_to_look(*key) for key in keys]
    listed["title"] = [title for title, _ in places]
    listed["look"] = [look for _, look in places]
    return checked(listed, CheckRow)


def moved_why(row: MovedRateRow, causes: list[tuple[str, int]]) -> str:
    """Say why a rate differs when flagged values are used as recorded."""
    fewer = int(row["unusable"] - row["recorded_unusable"])
    text = (
        f"{number_of(fewer, 'newborn')} whose value cannot be believed would count as recorded"
        if fewer > 0
        else "flagged values decide how newborns are counted"
    )
    if causes:
        named = [f"{words(rule)} ({count(amount)})" for rule, amount in causes]
        text += f"; flags on these records: {of_numbers.listed(named)}"
    return f"{text}."


def _shares(digits: pd.DataFrame) -> list[tuple[str, float]]:
    return list(zip(digits["digit"].astype(str), digits["observed"].astype(float), strict=True))


def heap_finding(heap: Heap) -> str:
    """Say what one picture of last digits shows; plain where there is nothing to say."""
    said = []
    heaped = heap.heaped.sort_values("observed", ascending=False)
    if len(heaped):
        digits = of_numbers.listed(
            [f"{digit} ({percent(share)})" for digit, share in _shares(heaped)], 4
        )
        said.append(
            f"{number_of(len(heaped), 'last digit')} stand out: {digits}"
            if len(heaped) > 1
            else f"one last digit stands out: {digits}"
        )
    name, observed, expected = heap.extra
    if heap.extra_stands_out:
        said.append(f"{name}: {percent(observed)}, where {percent(expected)} are expected")
    if not said:
        return (
            f"No digit is favoured beyond chance by five points or more; {name}: "
            f"{percent(observed)}, expected {percent(expected)}."
        )
    return f"{'; '.join(said)}. ".capitalize() + heap.meaning


def heap_text(heap: Heap) -> str:
    """Return the alternative text of one picture of last digits."""
    shares = ", ".join(f"{digit} {percent(share)}" for digit, share in _shares(heap.digits))
    return (
        f"{heap.title}: bars of the share of each last digit among {count(heap.readings)} entries, "
        f"with the expected share as a line: {shares}."
    )

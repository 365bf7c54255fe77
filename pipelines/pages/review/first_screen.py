"""What the first screen and the points for a meeting say alike: what is urgent, moved, to trust."""

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.review.harm.words import alarm_words
from pipelines.pages.review.read import ReviewData
from pipelines.reading.needed import needed_values, needs
from pipelines.reading.signals import NOT_COMPARED, NOT_MOVED
from pipelines.statistics.over_time import OverTime
from pipelines.words import of_life, of_numbers, of_verdicts
from pipelines.words.of_measures import by_sum_words, change_sentence
from pipelines.words.of_numbers import count, number_of, percent
from pipelines.words.of_silence import NOT_IN_EXPORT


def moved(data: ReviewData, row: MeasureRow) -> str:
    """Say how a measure moved: in the words of the verdict on a change that made it worse."""
    for change in data.verdicts:
        for one in change.unanswered:
            if one.measure_id == row["measure_id"]:
                said = of_verdicts.sentence(one).removesuffix(".")
                return "; ".join(part for part in (said, by_sum(data, row)) if part)
    told = (change_sentence(row), by_sum(data, row), of_life.now_words(row))
    return "; ".join(part for part in told if part)


def by_sum(data: ReviewData, row: MeasureRow) -> str:
    """Say what the sum of a rare harm says; empty where the chart itself speaks, or nothing."""
    return by_sum_words(row, alarm_words(data.harms, row["measure_id"]))


def urgent(data: ReviewData) -> pd.DataFrame:
    """Return what needs attention: what got worse unanswered, then targets; the gravest first."""
    rows = data.measures[data.measures["rank"] == 0]
    keys = ["is_urgent", "gravity_place", "gap"]
    return rows.sort_values(keys, ascending=[False, True, False], kind="stable")


def _rows(frame: pd.DataFrame) -> list[MeasureRow]:
    return rows_of(frame, MeasureRow)


def strongest(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the measures with a signal, those that luck explains least first."""
    moved = rows[~rows["change"].isin(NOT_MOVED)]
    keys = ["by_luck", "strength"]
    return moved.sort_values(keys, ascending=[True, False], na_position="last", kind="stable")


def compared(data: ReviewData) -> dict[str, OverTime]:
    """Return the charts of the measures that are compared with their own past."""
    is_compared = data.measures["change"] != NOT_COMPARED
    return {
        str(name): data.over_time[name] for name in data.measures.loc[is_compared, "measure_id"]
    }


def _most_missing(data: ReviewData) -> str:
    """Name the measure whose value is most often missing; empty where none is."""
    once = needs(data.measures)
    unknown = once["not_documented"] + once["unusable"]
    if not unknown.max() > 0:
        return ""
    row = _rows(once[unknown == unknown.max()])[0]
    return f"; most often missing: {row['title']}, {count(unknown.max())} {of_numbers.noun(row)}"


def trust(data: ReviewData) -> str:
    """Say how far the figures can be trusted: values present, flags, rows, checks."""
    usable, needed = needed_values(data.measures)
    share = percent(usable / needed) if needed else "none"
    rules = data.flag_rules
    errors = int(rules.loc[rules["severity"] == "error", "in_month"].sum())
    rejected, rows_in = int(data.loads["rows_rejected"].sum()), int(data.loads["rows_in"].sum())
    unjudged = len(data.unjudged)
    judged = (
        f"{number_of(unjudged, 'check')} could not be judged"
        if unjudged
        else "every check could be judged"
    )
    return (
        f"{share} of the needed values are documented and usable ({count(usable)} of "
        f"{count(needed)}){_most_missing(data)}.{_silent(data)} "
        f"{number_of(errors, 'value')} of this month cannot be right and "
        f"{'is' if errors == 1 else 'are'} left out; {count(rejected)} of "
        f"{number_of(rows_in, 'export row')} were rejected; {judged}.{_restated(data)}"
    )


def _silent(data: ReviewData) -> str:
    """Say how many measures the export says nothing of; empty where none."""
    silent = int(data.measures["is_silent"].sum())
    every = number_of(len(data.measures), "measure")
    return f" {count(silent)} of {every} {NOT_IN_EXPORT}." if silent else ""


def _restated(data: ReviewData) -> str:
    """Say that numbers of earlier months moved at the last build; empty where none did."""
    last = last_restated(data)
    if last.empty:
        return ""
    months = number_of(last["period_start"].nunique(), "earlier month")
    return f" {number_of(len(last), 'number')} of {months} changed since last time."


def last_restated(data: ReviewData) -> pd.DataFrame:
    """Return the restated numbers that the build of this store itself noticed."""
    built = pd.to_datetime(data.build.get("built_at", "").removesuffix(" UTC"), errors="coerce")
    return data.restated[data.restated["noticed_at"] == built]

"""The three sentences at the head of a review: what needs attention, what changed, trust."""

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.review.read import ReviewData
from pipelines.reading import standing
from pipelines.reading.signals import NOT_COMPARED, NOT_MOVED
from pipelines.statistics.false_alarms import measured
from pipelines.statistics.many import expected_by_chance
from pipelines.words import of_life, of_measures, of_numbers, of_verdicts
from pipelines.words.of_measures import change_sentence, reading, target_sentence
from pipelines.words.of_numbers import count, listed, number_of, percent
from pipelines.words.of_silence import NOT_IN_EXPORT


def moved(data: ReviewData, row: MeasureRow) -> str:
    """Say how a measure moved: in the words of the verdict on a change that made it worse."""
    for change in data.verdicts:
        for one in change.unanswered:
            if one.measure_id == row["measure_id"]:
                return of_verdicts.sentence(one).removesuffix(".")
    told = (change_sentence(row), of_life.now_words(row))
    return "; ".join(part for part in told if part)


def _short(data: ReviewData, row: MeasureRow) -> str:
    """Say why a row needs attention: what got worse, or its target."""
    text = moved(data, row)
    if text.startswith(str(row["title"])):
        return text
    if not row["is_urgent"] and row["target_state"] == standing.SHORT_BEYOND_CHANCE:
        text = target_sentence(row)
    return f"{row['title']}: {reading(row)}, {text}"


def urgent(data: ReviewData) -> pd.DataFrame:
    """Return what needs attention: what got worse unanswered, then targets; the gravest first."""
    rows = data.measures[data.measures["rank"] == 0]
    keys = ["is_urgent", "gravity_place", "gap"]
    return rows.sort_values(keys, ascending=[False, True, False], kind="stable")


def _answered(data: ReviewData) -> str:
    """Say what got worse and is answered, and what ended unanswered; empty where nothing did."""
    rows = data.measures
    left = _rows(rows[rows["is_left"] & (rows["rank"] == 1)])
    known = _rows(rows[(rows["change"] == "worse") & ~rows["is_urgent"]])
    text = ""
    if known:
        told = [f"{row['title']} ({of_life.short_words(row)})" for row in known]
        text += f"Worse, and answered: {listed(told, 2)}. "
    if left:
        told = [f"{row['title']} ({of_life.short_words(row)})" for row in left]
        text += f"Got worse, ended, and nobody answered: {listed(told, 2)}. "
    return text


def _rows(frame: pd.DataFrame) -> list[MeasureRow]:
    return rows_of(frame, MeasureRow)


def attention(data: ReviewData) -> str:
    """Say which measures need attention, then how the others stand against their targets."""
    rows = data.measures
    first = urgent(data)
    others = _answered(data)
    text = "No measure misses its target, or got worse, by more than chance explains. "
    if others:
        text = "Nothing else misses its target, or got worse, by more than chance explains. "
    if len(first):
        text = listed([_short(data, row) for row in _rows(first)], 2) + ". "
    text += others
    with_target = rows["target"].notna() & (rows["direction"] != "neither") & (rows["counted"] > 0)
    if not with_target.any():
        return f"{text}No measure has a target yet; the unit's file sets them."
    state = rows.loc[with_target, "target_state"].value_counts()
    met, short = state.get(standing.MET, 0), state.get(standing.SHORT, 0)
    text += f"On target: {met} of {number_of(int(with_target.sum()), 'measure')} with a target"
    if short:
        text += f"; {short} short of it within chance"
    if state.get(standing.UNSURE, 0):
        text += f"; for {state[standing.UNSURE]} the documentation decides"
    return text + "."


def _moved(row: MeasureRow) -> str:
    return f"{row['title']}: {reading(row)}, {of_measures.moved_words(row)}"


def changed(data: ReviewData) -> str:
    """Say which measures moved more than chance explains, and how many would by chance."""
    rows = data.measures
    compared = rows[rows["change"] != NOT_COMPARED]
    if compared.empty:
        return "Nothing can be compared yet: there are too few months or newborns."
    moved = strongest(compared)
    text = "Nothing moved more than chance explains"
    if len(moved):
        text = listed([_moved(row) for row in _rows(moved)], 2)
    expected = expected_signals(len(compared), data.newborns)
    return (
        f"{text}. With {number_of(len(compared), 'chart')} about "
        f"{number_of(max(1, round(expected)), 'chart')} would show a signal at some time in two "
        "years by chance alone."
    )


def strongest(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the measures with a signal, the strongest first."""
    moved = rows[~rows["change"].isin(NOT_MOVED)]
    return moved.sort_values("strength", ascending=False, na_position="last", kind="stable")


def expected_signals(charts: int, births_a_month: float) -> float:
    """Return how many of ``charts`` would signal within 24 months with nothing going on."""
    return expected_by_chance(measured().nearest(births_a_month)["default"], charts)


def _read_once(data: ReviewData) -> pd.DataFrame:
    """Return one row per measure file of which the export has any usable record."""
    rows = data.measures[~data.measures["is_silent"]]
    return rows.drop_duplicates(subset="parent_id", keep="first")


def needed_values(data: ReviewData) -> tuple[int, int]:
    """Return how many needed values are documented and usable, and how many are needed.

    A need is one newborn (or episode) in the denominator of one measure file; the bands of
    one file read the same value and count once. What the whole export is silent on is told apart.
    """
    once = _read_once(data)
    needed = int(once["denominator"].sum())
    unknown = int((once["not_documented"] + once["unusable"]).sum())
    return needed - unknown, needed


def _most_missing(data: ReviewData) -> str:
    """Name the measure whose value is most often missing; empty where none is."""
    once = _read_once(data)
    unknown = once["not_documented"] + once["unusable"]
    if not unknown.max() > 0:
        return ""
    row = _rows(once[unknown == unknown.max()])[0]
    return f"; most often missing: {row['title']}, {count(unknown.max())} {of_numbers.noun(row)}"


def trust(data: ReviewData) -> str:
    """Say how far the figures can be trusted: values present, flags, rows, checks."""
    usable, needed = needed_values(data)
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

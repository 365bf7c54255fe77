"""What else could explain it, and did anything get worse: the doubt of a change study, in words."""

import tomllib
from functools import cache
from typing import Any, Final

from pipelines.base.frames import rows_of
from pipelines.base.sql import ROOMS
from pipelines.pages.change.frames import TouchingRow
from pipelines.pages.change.read import ChangeData
from pipelines.pages.change.study import Line
from pipelines.pages.change.words import (
    effect_words,
    is_fine,
    month,
    number,
    points_range,
    rate,
    side,
    span_words,
    title,
    verdict_words,
)
from pipelines.reading.before_after import CHARTING, Study
from pipelines.reading.frames import InfoRow
from pipelines.statistics.over_time import WORSE
from pipelines.words import of_numbers, of_verdicts
from pipelines.words.of_numbers import points

TRUTH: Final = ROOMS / "statistics" / "change_truth.toml"


def worse_answer(data: ChangeData) -> str:
    """Say whether anything got worse: the one verdict, then how far the data can tell."""
    if not data.balancing:
        return (
            "Neither the log nor the measure names a balancing measure with newborns in these "
            "months, so nothing here can say. Name one in the unit file."
        )
    said = of_verdicts.harmed(data.verdict)
    firm = [one for one in (*data.balancing, *data.meant) if one.verdict == WORSE]
    if firm:
        return " ".join([said, *(f"{title(one)}: {effect_words(one)}" for one in firm[:3])])
    known = [one for one in data.balancing if one.effect is not None]
    if data.verdict.worse or not known:
        return said
    hidden = of_numbers.listed([f"{title(one)}, {_worst(one)}" for one in known], 3)
    return f"{said} What could still hide: {hidden}."


def _worst(study: Study) -> str:
    assert study.effect is not None
    span, direction = study.effect.points, str(study.row["direction"])
    if direction == "neither":
        return span_words(span, direction)
    end = span.lower if direction == "higher" else span.upper
    if side(end, direction) == "better":
        return "none worse"
    return f"up to {number(end, is_fine(span))} points worse"


def else_answer(data: ChangeData) -> str:
    """Say what else could explain what was seen, the most telling first."""
    parts = [*_other_changes(data), *_comparison_answer(data), *_charting_answer(data)]
    if data.main.effect is not None:
        parts.append(turned_words(data))
    return " ".join(parts) or "Nothing was analysed, so nothing needs explaining yet."


def turned_words(data: ChangeData) -> str:
    """Say how many of the other analyses read otherwise."""
    turned = turned_lines(data)
    if not turned:
        return "Every other way of analysing it reads the same."
    tried = [line for line in data.lines[1:] if line.points is not None]
    verb = "reads" if len(turned) == 1 else "read"
    names = of_numbers.listed(turned, 2)
    return f"{len(turned)} of {len(tried)} other analyses {verb} otherwise ({names})."


def turned_lines(data: ChangeData) -> list[str]:
    """Return the names of the other analyses whose verdict differs."""
    return [
        line.name
        for line in data.lines[1:]
        if line.points is not None and line.verdict != data.main.reading
    ]


def _other_changes(data: ChangeData) -> list[str]:
    touching = data.changes[data.changes["touches"]]
    if touching.empty:
        return []
    names = [f"{row['title']} ({row['start_on']:%b %y})" for row in rows_of(touching, TouchingRow)]
    return [f"The log has another change of this measure: {of_numbers.listed(names, 2)}."]


def _comparison_answer(data: ChangeData) -> list[str]:
    one = data.comparison
    if one is None or one.difference is None:
        return []
    direction = str(data.main.row["direction"])
    if one.difference.leaves_out_zero:
        told = f"Against {one.title}, without the change, {span_words(one.difference, direction)}."
    else:
        told = (
            f"Against {one.title}, without the change, the data cannot tell "
            f"({points_range(one.difference)} points)."
        )
    return [told]


def _charting_answer(data: ChangeData) -> list[str]:
    """Say that charting moved, unless the verdict says it already."""
    told = data.told[str(data.main.row["measure_id"])]
    if told.state == CHARTING or told.known is None or not data.main.is_charting_clear:
        return []
    return [
        f"Charting moved too: {rate(told.known[0])} documented before, {rate(told.known[1])} after."
    ]


def unknown_words(data: ChangeData) -> str:
    """Say charting and care side by side: the share documented, and the measure among those."""
    told = data.told[str(data.main.row["measure_id"])]
    if told.known is None or told.care is None:
        return "Everything is documented on neither side, so there is nothing to set side by side."
    text = f"Documented: {rate(told.known[0])} before, {rate(told.known[1])} after. "
    if data.main.charting is None:
        text += "Too few, or too few months, are without to follow month by month. "
    else:
        text += f"The data fit {span_words(data.main.charting.points, 'neither')} of it. "
    care = data.main.care
    text += f"Among the documented: {rate(told.care[0])} before, {rate(told.care[1])} after"
    if care is None or care.effect is None:
        return text + "."
    return f"{text}; the data fit {span_words(care.effect.points, data.main.direction)}."


@cache
def measured_truth() -> list[dict[str, Any]]:
    """Return what the verdict said of series whose truth was known, one row per kind."""
    rows: list[dict[str, Any]] = tomllib.loads(TRUTH.read_text(encoding="utf-8"))["cells"]
    return rows


def truth_words() -> str:
    """Say how the verdict did on series whose truth was known."""
    rows = measured_truth()
    none = [row["better_percent"] for row in rows if row["truth"] == "no change"]
    charted = [row["better_percent"] for row in rows if row["truth"] == "charting alone"]
    planned = [row for row in rows if "planned_percent" in row]
    off = {
        is_alike: max(
            abs(row["planned_percent"] - row["better_percent"])
            for row in planned
            if (row["alike"] > 0) == is_alike
        )
        for is_alike in (False, True)
    }
    return (
        f"Tried with the shipped priors on {len(rows)} kinds of drawn series of known truth, "
        f"{rows[0]['series']} of each: where nothing happened it said improvement in at most "
        f"{max(none):g} in 100, where only documentation rose in at most {max(charted):g}. What "
        f"the plan promised before a change was off by at most {off[False]:.0f} in 100, and up to "
        f"{off[True]:.0f} too hopeful where neighbouring months are alike."
    )


def line_words(line: Line, row: InfoRow) -> str:
    """Say one line of the other analyses."""
    if line.points is None:
        return "not possible with these months"
    return span_words(line.points, str(row["direction"]))


def left_out_words(data: ChangeData) -> str:
    """Say what leaving out each single month does."""
    one = data.left_out
    if one is None:
        return ""
    text = (
        f"Each of {one.tried} months left out in turn: the best guess stays between "
        f"{points(one.lowest)} and {points(one.highest)} points"
    )
    if not one.turned:
        return text + ", and the reading stays the same every time."
    names = of_numbers.listed([month(moment) for moment in one.turned], 4)
    return text + f"; without {names} the reading is another. Look at that month's records."


def comparison_words(data: ChangeData) -> str:
    """Say how a unit without the change did at the same time."""
    one = data.comparison
    if one is None:
        if not data.other_units:
            return "The store holds no other unit to compare with."
        return "No unit was compared with. The store also holds: " + ", ".join(data.other_units)
    text = f"{one.title}, same months: {verdict_words(one.study, data.start_on)}"
    if one.difference is not None:
        text += (
            f" Beyond what both have in common: {points(one.difference.guess)} points "
            f"({points_range(one.difference)})."
        )
    if len(one.own_changes):
        names = [str(name) for name in one.own_changes["title"]]
        text += (
            f" But it logged a change of its own to this measure ({of_numbers.listed(names, 2)}), "
            "so it is no unit without the change, and nothing is taken off."
        )
    return text

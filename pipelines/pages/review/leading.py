"""The measures that a unit leads with: this month beside the last, a year before and the mean."""

from typing import Any, Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.definitions.leading import MOST
from pipelines.drawing import in_cells
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.review.read import ReviewData
from pipelines.pages.shell.markup import Part, part
from pipelines.reading import standing
from pipelines.words import of_measures, of_numbers

YEAR: Final = 12  # months


def leading(data: ReviewData) -> pd.DataFrame:
    """Return the measures of the first table: what the unit leads with, else what weighs most.

    Of a unit that names none: measures that have a side and newborns this month, first those
    with a target, then the gravest. What needs attention comes first, then the gravest.
    """
    rows = data.measures
    chosen = rows[rows["leading_place"].notna()]
    if chosen.empty:
        told = rows[
            (rows["direction"] != "neither") & ~rows["target_state"].isin(standing.WITHOUT_FIGURE)
        ]
        order = told.assign(has_none=told["target"].isna())
        chosen = order.sort_values(["has_none", "gravity_place", "position"], kind="stable")
        chosen = chosen.head(MOST)[rows.columns]
    return chosen.sort_values(["rank", "gravity_place", "position"], kind="stable")


def _share(series: pd.DataFrame, months: "pd.Series[bool]") -> str:
    """Return the share over some months of one measure, all their newborns together."""
    own = series[months]
    counted = float(own["counted"].sum())
    return of_numbers.percent(float(own["numerator"].sum()) / counted if counted else None)


def signals_of(row: MeasureRow) -> list[tuple[str, str, str]]:
    """Return what a row has to say; that it has no target stands in its column already."""
    said = of_measures.signals(row)
    without = of_measures.against_target(row)
    if row["target_state"] != standing.NO_TARGET:
        return said
    return [one for one in said if one[2] != without]


def _row(data: ReviewData, row: MeasureRow, series: pd.DataFrame) -> dict[str, Any]:
    title, month = str(row["title"]), series["month"]
    year_before = data.month - pd.DateOffset(months=YEAR)
    empty = row["target_state"] in standing.WITHOUT_FIGURE
    return {
        "measure_id": row["measure_id"],
        "title": title,
        "also": (row.get("also_called") or [""])[0],
        "rank": row["rank"],
        "empty": of_measures.against_target(row) if empty else "",
        "fraction": f"{of_numbers.count(row['numerator'])} of {of_numbers.count(row['counted'])}",
        "percent": of_measures.rate_words(row),
        "target": of_numbers.percent(row["target"]),
        "last": _share(series, month == data.month - pd.DateOffset(months=1)),
        "year_before": _share(series, month == year_before),
        "mean": _share(series, (month > year_before) & (month <= data.month)),
        "not_documented": of_numbers.count(row["not_documented"]),
        "signals": signals_of(row),
        "trend": in_cells.trend(series),
        "trend_text": of_measures.trend_text(series.tail(in_cells.TREND_MONTHS), title),
    }


def _targets(data: ReviewData) -> str:
    """Say how the measures stand against their targets."""
    rows = data.measures
    with_target = rows["target"].notna() & (rows["direction"] != "neither")
    with_target &= (rows["counted"] > 0) & ~rows["is_silent"]
    if not with_target.any():
        return "No measure has a target yet; the unit's file sets them."
    state = rows.loc[with_target, "target_state"].value_counts()
    number = of_numbers.number_of(int(with_target.sum()), "measure")
    text = f"On target: {state.get(standing.MET, 0)} of {number} with a target"
    if state.get(standing.SHORT_BEYOND_CHANCE, 0):
        text += f"; {state[standing.SHORT_BEYOND_CHANCE]} short of it, more than chance"
    if state.get(standing.SHORT, 0):
        text += f"; {state[standing.SHORT]} short of it within chance"
    if state.get(standing.UNSURE, 0):
        text += f"; for {state[standing.UNSURE]} the documentation decides"
    return text + "."


def leading_table(data: ReviewData, *, links: bool = True) -> Part:
    """Return the table of the measures that the unit leads with.

    ``links``: whether each leads to its own place in the page.
    """
    by_measure = dict(list(data.series.groupby("measure_id")))
    chosen = leading(data)
    rows = [_row(data, row, by_measure[row["measure_id"]]) for row in rows_of(chosen, MeasureRow)]
    return part(
        "pages/review/leading",
        rows=rows,
        links=links,
        is_named=bool(data.measures["leading_place"].notna().any()),
        targets=_targets(data),
        month=of_numbers.month_name(data.month),
        last=f"{data.month - pd.DateOffset(months=1):%b %y}",
        year_before=f"{data.month - pd.DateOffset(months=YEAR):%b %y}",
    )

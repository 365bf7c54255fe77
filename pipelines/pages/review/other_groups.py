"""Another group of newborns beside a measure's months: a shift, a kind of birth, another unit.

The page holds the figures once, by quarter; ``draw.js`` lays the group that the reader chooses
over every chart by months. A group is shown, never judged: that is done on the fair care page.
"""

import json
from typing import Annotated, Any, Final

import altair as alt
import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.definitions.strata import BIRTH, NOT_RECORDED, STRATUM_ORDER
from pipelines.drawing.layers import ISO, as_channel, tips
from pipelines.drawing.theme import LIGHT, SHAPES
from pipelines.pages.review.frames import GroupRow
from pipelines.pages.review.read import ReviewData
from pipelines.pages.shell.markup import Part
from pipelines.reading.small_numbers import SMALL
from pipelines.words import of_numbers
from pipelines.words.of_strata import stratum

UNIT: Final = "unit"
SPLITS: Final = {UNIT: "Another unit", **BIRTH}
WORDS: Final = (
    "Crosses on a broken line: the group that was chosen, by quarter, open where fewer than "
    f"{SMALL} count. Groups are not judged here; fair care compares them."
)
COLUMNS: Final = ("Quarter", "n of N", "Percent", "Interval")


class PlacedRow(GroupRow):
    """One row of ``groups`` of the review, with the place of its quarter on the page."""

    place: Annotated[int, "number of the quarter among those shown"]


def _layer() -> dict[str, Any]:
    """Return the marks of a group; the page gives them their rows (month, percent, ...)."""
    base = alt.Chart().encode(x=alt.X("month:T"), y=alt.Y("percent:Q"))
    line = base.mark_line(strokeWidth=1.2, strokeDash=[6, 3], color=LIGHT["ink"])
    fill = alt.condition("datum.isSmall", alt.value(LIGHT["paper"]), alt.value(LIGHT["ink"]))
    told = tips("Group", *COLUMNS)
    mark = base.mark_point(shape=SHAPES["other"], size=52, stroke=LIGHT["ink"], opacity=1)
    spec = alt.layer(line, mark.encode(fill=as_channel(alt.FillValue, fill), tooltip=told)).to_dict(
        validate=False
    )
    for inner in spec["layer"]:
        del inner["data"]
    return {"layer": spec["layer"]}


def _order(groups: pd.DataFrame) -> pd.DataFrame:
    """Put the groups in reading order; what is not recorded stands last in its split."""
    splits = {name: place for place, name in enumerate(SPLITS)}
    known = {name: place for place, name in enumerate((*STRATUM_ORDER, None, NOT_RECORDED))}
    keyed = groups.assign(
        split_place=groups["split_by"].map(splits),
        place=groups["group_name"].map(known).fillna(len(STRATUM_ORDER)),
    )
    return keyed.sort_values(["split_place", "place", "group_name"], ignore_index=True)


def _quarter(start: pd.Timestamp) -> list[str]:
    """Return a quarter's place on the axis, its middle month, and its name."""
    middle, end = (start + pd.DateOffset(months=months) for months in (1, 2))
    return [middle.strftime(ISO), f"{start:%b} to {end:%b %y}"]


def _line(row: PlacedRow) -> list[Any]:
    """Return a row: which quarter, percent, is it small, then the cells of the table."""
    counted = f"{of_numbers.count(row['numerator'])} of {of_numbers.count(row['counted'])}"
    return [
        row["place"],
        round(100 * row["rate"], 1),
        int(row["counted"] < SMALL),
        counted,
        of_numbers.percent(row["rate"]),
        of_numbers.interval(row["lower"], row["upper"]),
    ]


def figures(data: ReviewData) -> dict[str, Any]:
    """Return what the page holds: words, columns, layer, the groups, their rows by measure.

    ``quarters``: [middle month, name]. ``groups``: [key, split in words, group in words].
    ``measures``: measure_id -> key -> rows, for the measures whose chart goes by months.
    """
    by_month = {name for name, over in data.over_time.items() if over.period_kind == "month"}
    rows = data.groups[data.groups["measure_id"].isin(by_month)].copy()
    rows["key"] = rows["split_by"] + ":" + rows["group_name"]
    once = _order(rows.drop_duplicates("key"))
    quarters = sorted(pd.to_datetime(rows["quarter"]).unique())
    rows["place"] = [quarters.index(one) for one in pd.to_datetime(rows["quarter"])]
    measures: dict[str, dict[str, list[Any]]] = {}
    for (measure, key), own in rows.groupby(["measure_id", "key"], sort=False):
        lines = [_line(row) for row in rows_of(own, PlacedRow)]
        measures.setdefault(str(measure), {})[str(key)] = lines
    return {
        "words": WORDS,
        "columns": list(COLUMNS),
        "layer": _layer(),
        "quarters": [_quarter(pd.Timestamp(one)) for one in quarters],
        "groups": [
            [key, SPLITS[split], stratum(name)]
            for key, split, name in zip(
                once["key"], once["split_by"], once["group_name"], strict=True
            )
        ],
        "measures": measures,
    }


def groups(data: ReviewData) -> Part:
    """Return the figures as data in the page; ``<`` can start no markup in it."""
    text = json.dumps(figures(data), separators=(",", ":"), allow_nan=False, ensure_ascii=False)
    inert = text.replace("<", "\\u003c")
    return Part(f'<script type="application/json" id="other-groups">{inert}</script>')

"""Pictures made of rows: a label, a mark and what is told of it, each in a column of its own.

A frame in, an ``alt.LayerChart`` out. Rows stand in groups under a heading. No line of the plot
enters the columns of words, and a line through all rows leaves the headings out, so nothing strikes
through words or figures. On a phone labels take more lines and what is told is short. Heights
are in px, so that nothing depends on the number of rows.
"""

import textwrap
from dataclasses import dataclass
from typing import Any, Final, cast

import altair as alt
import pandas as pd

from pipelines.drawing import percents
from pipelines.drawing.layers import whole, x_px, y_px
from pipelines.drawing.percents import Fitted
from pipelines.drawing.theme import HALO, LIGHT

LINE_PX: Final = 13  # from one line of a label to the next
PAD_PX: Final = 11  # of a row, above and below its label together
HEADING_PX: Final = 28
TOP_PX: Final = 20  # room for the label of a line through all rows
FOOT_PX: Final = 6
LETTER_PX: Final = 6.6  # a rough width; what is longer than its column ends in an ellipsis
FIGURE_PX: Final = 6.2  # the same, of words that are mostly figures
TICK_PX: Final = 60  # from one tick to the next, about: the library has them at round numbers
GAP_PX: Final = 12  # between two columns
SMALL_PX: Final = 420  # below this the chart is a phone's
LABEL_SHARE: Final = {"wide": 0.42, "small": 0.4}  # of the width, at most
LETTERS: Final = {"wide": 34, "small": 19}  # in a line of a label
LINES: Final = 3
SMALL: Final = f"width < {SMALL_PX}"


@dataclass(frozen=True)
class Rows:
    """Rows with their place: ``frame`` has y_mark, label_wide, label_small; ``headings`` group, y.

    ``spans``: top and foot of each group, px. ``start``, ``end``: where the plot begins and ends
    across, as the library's expressions.
    """

    frame: pd.DataFrame
    headings: pd.DataFrame
    spans: pd.DataFrame
    height: int
    start: str
    end: str


def _wrapped(label: str, letters: int) -> str:
    lines = textwrap.wrap(label, letters, max_lines=LINES, placeholder=" \N{HORIZONTAL ELLIPSIS}")
    return "\n".join(lines)


def place(rows: pd.DataFrame) -> Rows:
    """Give every row and heading its height in px. Needs group, label, told, in order.

    ``short``, where there is one, is told on a phone.
    """
    labels = {
        f"label_{size}": [_wrapped(str(one), letters) for one in rows["label"]]
        for size, letters in LETTERS.items()
    }
    # A row is as high as its longer label needs: a height cannot follow the width.
    lines = [
        1 + max(one.count("\n") for one in both) for both in zip(*labels.values(), strict=True)
    ]
    row_px = LINE_PX * pd.Series(lines, index=rows.index) + PAD_PX
    is_new = rows["group"] != rows["group"].shift()
    group = is_new.cumsum()
    foot = TOP_PX + HEADING_PX * group + row_px.cumsum()
    top = foot - row_px
    frame = rows.assign(**labels, y_mark=top + row_px / 2)
    heads = frame.loc[is_new, ["group"]].assign(y=top[is_new] - HEADING_PX + 16)
    spans = pd.DataFrame({"top": top, "foot": foot}).groupby(group)
    found = spans.agg({"top": "min", "foot": "max"}).reset_index(drop=True)
    height = int(foot.iloc[-1]) + FOOT_PX
    return Rows(frame, heads, found, height, *_columns(frame))


def _columns(frame: pd.DataFrame) -> tuple[str, str]:
    """Return where the plot begins and ends across: each column is as wide as its longest words."""
    label, told = {}, {}
    for size in LETTERS:
        lines = [line for one in frame[f"label_{size}"] for line in one.split("\n")]
        longest = GAP_PX + LETTER_PX * max(map(len, lines), default=0)
        label[size] = f"min({longest:.0f}, {LABEL_SHARE[size]} * width)"
        words = frame["short" if size == "small" and "short" in frame else "told"]
        told[size] = GAP_PX + FIGURE_PX * int(words.astype(str).str.len().max() or 0)
    start = f"({SMALL} ? {label['small']} : {label['wide']})"
    return start, f"(width - ({SMALL} ? {told['small']:.0f} : {told['wide']:.0f}))"


def ends(rows: Rows) -> list[Any]:
    """Return the two ends of the plot across, as the range of a scale."""
    return [alt.ExprRef(rows.start), alt.ExprRef(rows.end)]


def across(rows: Rows, field: str, domain: Fitted | tuple[float, float], suffix: str) -> alt.X:
    """Return the x axis at the foot: percent, which may be fitted, or points."""
    words = f"replace(datum.label, '-', '\N{MINUS SIGN}') + '{suffix}'"
    look: dict[str, Any] = {"orient": "bottom", "title": None, "grid": True, "labelExpr": words}
    if isinstance(domain, Fitted):
        return percents.along(field, domain, (rows.start, rows.end), look)
    count = f"max(2, min(5, floor(({rows.end} - {rows.start}) / {TICK_PX})))"
    axis = alt.Axis(**look, tickCount=alt.ExprRef(count))
    scale = alt.Scale(domain=list(domain), range=ends(rows), nice=False)
    return alt.X(f"{field}:Q", scale=scale, axis=axis)


def down(rows: Rows, field: str) -> alt.Y:
    """Return the height in px as a scale, without an axis."""
    scale = alt.Scale(domain=[0, rows.height], range=[0, rows.height], nice=False)
    return alt.Y(f"{field}:Q", scale=scale, axis=None)


def _text(frame: pd.DataFrame, **mark: Any) -> alt.Chart:
    return cast(alt.Chart, alt.Chart(frame).mark_text(baseline="middle", **mark))


def words(rows: Rows) -> list[alt.Chart]:
    """Return the headings, the column of labels and the column of what is told."""
    label = f"({SMALL} ? datum.label_small : datum.label_wide)"
    lift = f"-{LINE_PX / 2} * (length(split({label}, '\\n')) - 1)"
    labels = _text(
        rows.frame,
        align="left",
        color=LIGHT["ink"],
        lineBreak="\n",
        lineHeight=LINE_PX,
        dy=alt.ExprRef(lift),
        limit=alt.ExprRef(f"{rows.start} - 4"),
        text=alt.ExprRef(label),
    )
    told = "datum.told" if "short" not in rows.frame else f"{SMALL} ? datum.short : datum.told"
    figures = _text(rows.frame, align="right", color=LIGHT["quiet"], text=alt.ExprRef(told))
    look: dict[str, Any] = {
        "align": "left", "fontStyle": "italic", "limit": alt.ExprRef("width"),
    }  # fmt: skip
    # A heading may be longer than the column of labels.
    behind = _text(rows.headings, **look, **HALO)
    before = _text(rows.headings, **look, color=LIGHT["quiet"])
    return [
        *(
            one.encode(x=x_px(0), y=down(rows, "y"), text=alt.Text("group:N"))
            for one in (behind, before)
        ),
        labels.encode(x=x_px(0), y=down(rows, "y_mark")),
        figures.encode(x=x_px("width"), y=down(rows, "y_mark")),
    ]


def line_through(rows: Rows, at: float, label: str) -> list[alt.Chart]:
    """Return an upright dashed line through the rows of every group, its label on top."""
    frame = rows.spans.assign(at=at)
    rule = alt.Chart(frame).mark_rule(strokeDash=[3, 3], strokeWidth=1.3, color=LIGHT["ink"])
    place = f"scale('x', {at})"
    half = LETTER_PX * len(label) / 2
    align = f"{place} < {half:.0f} ? 'left' : {place} > width - {half:.0f} ? 'right' : 'center'"
    look: dict[str, Any] = {"align": alt.ExprRef(align)}
    texts = [_text(frame.head(1), **look, **HALO), _text(frame.head(1), **look)]
    return [
        rule.encode(x=alt.X("at:Q"), y=down(rows, "top"), y2=alt.Y2("foot:Q")),
        *(one.encode(x=alt.X("at:Q"), y=y_px(8), text=alt.TextValue(label)) for one in texts),
    ]


def _sign(rows: Rows, axis: Fitted) -> list[alt.Chart]:
    """Return the break at the left end of the axis of percentages, its words beneath the labels."""
    if not axis.is_broken:
        return []
    at = rows.height + percents.SIGN_PX / 2
    return percents.broken(axis, at, alt.ExprRef(f"{rows.start} - 8"), 90)


def finish(
    rows: Rows, marks: list[alt.Chart], description: str, axis: Fitted | None = None
) -> alt.LayerChart:
    """Return the chart as wide as its container, with its alternative text.

    ``axis``: that of its percentages, where it is fitted.
    """
    drawn = [*marks, *(_sign(rows, axis) if axis else [])]
    settings = percents.setting(axis) if axis else {}
    return whole(drawn, rows.height, description, settings=settings, read="down")

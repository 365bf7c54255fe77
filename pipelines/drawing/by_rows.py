"""Pictures made of rows: a label above, a mark below it; they fit a phone and a wide page.

A frame in, an ``alt.LayerChart`` out. Rows stand in groups under a heading. Heights are in px,
so that nothing depends on the number of rows.
"""

from dataclasses import dataclass
from typing import Any, Final, cast

import altair as alt
import pandas as pd

from pipelines.drawing.layers import whole, x_px, y_px
from pipelines.drawing.theme import LIGHT

ROW_PX: Final = 31
HEADING_PX: Final = 30
TOP_PX: Final = 20  # room for the label of a line through all rows
LABEL_DROP_PX: Final = 11
MARK_DROP_PX: Final = 23
FOOT_PX: Final = 8
LETTER_PX: Final = 6
SMALL_PX: Final = 420  # below this the short text stands at the right, where there is one


@dataclass(frozen=True)
class Rows:
    """Rows with their place: ``frame`` has y_label and y_mark, ``headings`` group and y."""

    frame: pd.DataFrame
    headings: pd.DataFrame
    height: int


def place(rows: pd.DataFrame) -> Rows:
    """Give every row and heading its height in px. Needs group, label, told, in order."""
    is_new = rows["group"] != rows["group"].shift()
    group = is_new.cumsum()
    top = TOP_PX + HEADING_PX * group + ROW_PX * pd.Series(range(len(rows)), index=rows.index)
    frame = rows.assign(y_label=top + LABEL_DROP_PX, y_mark=top + MARK_DROP_PX)
    heads = frame.loc[is_new, ["group"]].assign(y=top[is_new] - HEADING_PX + 18)
    height = TOP_PX + HEADING_PX * int(is_new.sum()) + ROW_PX * len(rows) + FOOT_PX
    return Rows(frame, heads, height)


def across(field: str, domain: tuple[float, float], suffix: str) -> alt.X:
    """Return the x axis at the foot: percent, or points."""
    axis = alt.Axis(
        orient="bottom", title=None, grid=True, tickCount=5, labelFlush=True,
        labelExpr=f"replace(datum.label, '-', '\N{MINUS SIGN}') + '{suffix}'",
    )  # fmt: skip
    return alt.X(f"{field}:Q", scale=alt.Scale(domain=list(domain), nice=False), axis=axis)


def down(rows: Rows, field: str) -> alt.Y:
    """Return the height in px as a scale, without an axis."""
    scale = alt.Scale(domain=[0, rows.height], range=[0, rows.height], nice=False)
    return alt.Y(f"{field}:Q", scale=scale, axis=None)


def _text(frame: pd.DataFrame, **mark: Any) -> alt.Chart:
    return cast(alt.Chart, alt.Chart(frame).mark_text(baseline="middle", **mark))


def words(rows: Rows) -> list[alt.Chart]:
    """Return the headings, the label at the left of each row and what is told at its right."""
    # A long label gives way to the numbers; the table has it whole.
    told = rows.frame["told"].str.len().max()
    short = rows.frame["short"].str.len().max() if "short" in rows.frame else told
    small = f"width < {SMALL_PX}"
    room = alt.ExprRef(f"width - ({small} ? {short} : {told}) * {LETTER_PX} - 12")
    choice = alt.ExprRef(f"{small} ? datum.short : datum.told")
    right_text = {"text": choice} if "short" in rows.frame else {}
    left, right = x_px(0), x_px("width")
    lines: list[tuple[pd.DataFrame, Any, str, str, dict[str, Any], str]] = [
        (rows.headings, left, "y", "group:N", {"align": "left", "fontStyle": "italic"}, "quiet"),
        (rows.frame, left, "y_label", "label:N", {"align": "left", "limit": room}, "ink"),
        (rows.frame, right, "y_label", "told:N", {"align": "right", **right_text}, "quiet"),
    ]
    marks = []
    for frame, x, y, text, look, role in lines:
        # Paper behind the letters, so that a line through all rows does not strike them out.
        behind = _text(frame, **look, color=LIGHT["paper"], stroke=LIGHT["paper"], strokeWidth=5)
        before = _text(frame, **look, color=LIGHT[role])
        encoded = {
            "x": x,
            "y": down(rows, y),
            **({} if "text" in look else {"text": alt.Text(text)}),
        }
        marks += [one.encode(**encoded) for one in (behind, before)]
    return marks


def line_through(rows: Rows, at: float, label: str, domain: tuple[float, float]) -> list[alt.Chart]:
    """Return an upright dashed line through all rows, with its label on top."""
    frame = pd.DataFrame({"at": [at], "top": [TOP_PX - 4], "foot": [rows.height]})
    rule = alt.Chart(frame).mark_rule(strokeDash=[3, 3], strokeWidth=1.3, color=LIGHT["ink"])
    share = (at - domain[0]) / (domain[1] - domain[0])
    align = "left" if share < 1 / 3 else "right" if share > 2 / 3 else "center"
    text = _text(frame, align=align)
    return [
        rule.encode(x=alt.X("at:Q"), y=down(rows, "top"), y2=alt.Y2("foot:Q")),
        text.encode(x=alt.X("at:Q"), y=y_px(8), text=alt.TextValue(label)),
    ]


def finish(rows: Rows, marks: list[alt.Chart], description: str) -> alt.LayerChart:
    """Return the chart as wide as its container, with its alternative text."""
    return whole(marks, rows.height, description)

"""The signals of a chart over time: each mark has the shape of its rule; the last has its words.

The words stand in a lane of their own above the plot, with a thin line down to their mark: there
they lie on no line and no other words, however the axis is drawn and however narrow the page is.
"""

from collections.abc import Callable, Mapping
from typing import Any, Final

import altair as alt
import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.drawing.layers import LANE_PX, y2_px, y_px
from pipelines.drawing.theme import HALO, LIGHT, SENSES, SHAPES, SIGNAL_PX
from pipelines.statistics import rules
from pipelines.statistics.frames import SignalRow
from pipelines.statistics.over_time import OverTime
from pipelines.words import of_states

LABELLED: Final = 1  # signals whose words stand in the picture; the others tell when pointed at
BESIDE_PX: Final = 4  # from the line to the words
COLUMNS: Final = ("at", "value", "sense", "shape", "words")


def _shape(row: SignalRow) -> str:
    if row["rule"] == rules.OUTSIDE:
        return SHAPES["outside"]
    return SHAPES["rule down" if row["direction"] == "down" else "rule up"]


def _words(row: SignalRow) -> str:
    side = "down" if row["direction"] == "down" else "up"
    return f"{of_states.SHORT_RULE[row['rule']]}, {side}"


def spoken(
    over: OverTime, values: Mapping[Any, float], place: Callable[[SignalRow], Any]
) -> pd.DataFrame:
    """Return one row per mark of a signal: at, value, sense, shape, words ("" where not shown).

    ``values``: what is drawn at each place along x; ``place`` says where a signal stands. Of the
    signals of one rule and direction the last has its words, and only the latest of all are shown.
    """
    rows = [(place(row), row) for row in rows_of(over.signals, SignalRow)]
    known = [(at, row) for at, row in rows if not pd.isna(values.get(at, float("nan")))]
    found = pd.DataFrame(
        [
            (at, float(values[at]), SENSES.get(row["sense"], "ink"), _shape(row), _words(row))
            for at, row in known
        ],
        columns=list(COLUMNS),
    ).sort_values("at", kind="stable", ignore_index=True)
    is_last = ~found.duplicated(["words"], keep="last")
    found["words"] = found["words"].where(is_last & (is_last[::-1].cumsum() <= LABELLED), "")
    return found


def marks(found: pd.DataFrame, x: str, y: str) -> list[alt.Chart]:
    """Return the marks of the signals, above everything else. ``x``, ``y``: field and type."""
    field, value = (one.split(":")[0] for one in (x, y))
    drawn = found.rename(columns={"at": field, "value": value})
    layers = []
    for (sense, shape), rows in drawn.groupby(["sense", "shape"]):
        mark = alt.Chart(rows[[field, value]]).mark_point(
            shape=str(shape),
            size=SIGNAL_PX,
            filled=True,
            opacity=1,
            color=LIGHT[str(sense)],
        )
        layers.append(mark.encode(x=alt.X(x), y=alt.Y(y)))
    return layers


def lane(found: pd.DataFrame, x: str, y: str, top: float, middle: Any) -> list[alt.Chart]:
    """Return the words in their lane, ``top`` px down, each with its line to the mark.

    Those right of ``middle``, a place along x, stand left of their line.
    """
    field, value = (one.split(":")[0] for one in (x, y))
    told = found[found["words"] != ""]
    layers = []
    for place, height, words in zip(told["at"], told["value"], told["words"], strict=True):
        is_late = place > middle
        at = alt.Chart(pd.DataFrame({field: [place], value: [height], "words": [words]}))
        line = at.mark_rule(strokeWidth=1, color=LIGHT["quiet"])
        look: dict[str, Any] = {
            "align": "right" if is_late else "left",
            "baseline": "top",
            "dx": -BESIDE_PX if is_late else BESIDE_PX,
        }
        # Paper behind the letters, so that the line of a change does not strike them out.
        behind = at.mark_text(**look, **HALO)
        before = at.mark_text(**look, color=LIGHT["ink"])
        layers.append(line.encode(x=alt.X(x), y=alt.Y(y), y2=y2_px(top)))
        layers += [
            text.encode(x=alt.X(x), y=y_px(top), text=alt.Text("words:N"))
            for text in (behind, before)
        ]
    return layers


def lanes(found: pd.DataFrame) -> int:
    """Return how many px the words need above the plot."""
    return LANE_PX if (found["words"] != "").any() else 0

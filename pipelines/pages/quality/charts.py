"""Charts of the data quality page: a frame in, an ``alt.LayerChart`` out. No SQL, no files."""

from typing import Final

import altair as alt

from pipelines.drawing.layers import as_channel, tips, whole
from pipelines.drawing.theme import LIGHT
from pipelines.pages.quality import words as quality_words
from pipelines.pages.quality.last_digits import Heap

HEIGHT_PX: Final = 150
ROOM: Final = 1.18  # above the highest bar, for its number


def last_digits(heap: Heap) -> alt.LayerChart:
    """Chart the share of each last digit as a bar, the expected share as a line across it.

    A digit that stands out is filled in another tone and carries its percent; the finding above
    the chart names it as well. The chart is as wide as its container and carries its alternative
    text as ``description``.
    """
    shown = heap.digits.copy()
    shown["Observed"] = [f"{100 * share:.1f} %" for share in shown["observed"]]
    shown["Expected"] = [f"{100 * share:.1f} %" for share in shown["expected"]]
    shown["Last digit"] = shown["digit"]
    for name in ("observed", "expected"):
        shown[name] = (shown[name] * 100).round(2)
    top = max(20.0, float(shown[["observed", "expected"]].to_numpy().max()) * ROOM)
    x = alt.X("digit:N", axis=alt.Axis(title="last digit", labelAngle=0), sort=None)
    y_scale = alt.Scale(domain=[0, top], nice=False)
    y = alt.Y(
        "observed:Q",
        scale=y_scale,
        axis=alt.Axis(title=None, labelExpr="datum.value + ' %'", tickCount=4),
    )
    tone = alt.condition(
        "datum.stands_out", alt.value(LIGHT["attention"]), alt.value(LIGHT["data"])
    )
    base = alt.Chart(shown).encode(x=x)
    bars = base.mark_bar(width=alt.RelativeBandSize(0.62)).encode(
        y=y,
        fill=as_channel(alt.FillValue, tone),
        tooltip=tips("Last digit", "Observed", "Expected"),
    )
    expected = base.mark_tick(
        thickness=2, color=LIGHT["ink"], orient="horizontal", width=alt.RelativeBandSize(0.9)
    ).encode(y=alt.Y("expected:Q", scale=y_scale))
    label = (
        base.transform_filter("datum.stands_out")
        .mark_text(dy=-7, fontWeight="bold")
        .encode(y=y, text=alt.Text("Observed:N"))
    )
    return whole([bars, expected, label], HEIGHT_PX, quality_words.heap_text(heap))

"""The pictures of the fair-care page: a dot and its interval for each group."""

from typing import Final

import altair as alt
import pandas as pd

from pipelines.definitions.strata import NOT_RECORDED
from pipelines.drawing import by_rows
from pipelines.drawing.by_rows import Rows
from pipelines.drawing.percents import Fitted, fitted
from pipelines.drawing.theme import LIGHT, SHAPES, SIGNAL_PX
from pipelines.pages.fair import words as fair_words
from pipelines.pages.fair.frames import FairMeasureRow
from pipelines.pages.fair.read import SHOWN as STRATIFIERS
from pipelines.words import of_numbers, of_strata

_KINDS: Final = ("plain", "few", "unknown", "out")


def _kind(strata: pd.DataFrame) -> pd.Series:
    """Say how each row is drawn: a filled or an open dot, a hatched square, or a diamond."""
    kind = pd.Series("plain", index=strata.index)
    kind = kind.mask(strata["stands_out"] != "", "out")
    kind = kind.mask(strata["is_few"], "few")
    return kind.mask(strata["stratum"] == NOT_RECORDED, "unknown")


def _told(strata: pd.DataFrame, is_short: bool = False) -> list[str]:
    """Say each row's percent, with its counts where there is room, and the side it stands on."""
    marks = {"higher": "higher: ", "lower": "lower: "}
    counts = [f"{fraction}, " for fraction in of_numbers.fractions(strata)]
    rows = zip(strata["stands_out"], counts, strata["rate"], strict=True)
    return [
        f"{marks.get(out, '')}{'' if is_short else of}{of_numbers.percent(rate)}"
        for out, of, rate in rows
    ]


def _points(strata: pd.DataFrame) -> pd.DataFrame:
    drawn = pd.DataFrame(
        {
            "group": strata["stratifier"].map(STRATIFIERS),
            "label": [of_strata.stratum(str(name)) for name in strata["stratum"]],
            "told": _told(strata),
            "short": _told(strata, is_short=True),
            "kind": _kind(strata),
            "Interval": of_numbers.intervals(strata),
        }
    )
    for name in ("rate", "lower", "upper"):
        drawn[name] = (100 * strata[name]).round(2)
    return drawn.reset_index(drop=True)


Domain = Fitted | tuple[float, float]
# kind -> meaning of its shape, stroke, fill, size
_LOOKS: Final = {
    "plain": ("value", LIGHT["data"], LIGHT["data"], 46),
    "few": ("value", LIGHT["data"], LIGHT["paper"], 46),
    "unknown": ("unknown", LIGHT["ink"], LIGHT["unknown"], 60),
    "out": ("outside", LIGHT["attention"], LIGHT["attention"], SIGNAL_PX),
}


def _dots(rows: Rows, domain: Domain, suffix: str) -> list[alt.Chart]:
    """Return the interval and the mark of every row; each kind has a shape of its own."""
    marks: list[alt.Chart] = []
    for kind in _KINDS:
        meaning, stroke, fill, size = _LOOKS[kind]
        base = alt.Chart(rows.frame[rows.frame["kind"] == kind])
        line = base.mark_rule(strokeWidth=2, color=stroke)
        dot = base.mark_point(
            shape=SHAPES[meaning],
            size=size,
            stroke=stroke,
            fill=fill,
            strokeWidth=1.4,
            opacity=1,
        )
        y = by_rows.down(rows, "y_mark")
        told = [
            alt.Tooltip("group:N", title="By"),
            alt.Tooltip("label:N", title="Group"),
            alt.Tooltip("told:N", title="Reading"),
            alt.Tooltip("Interval:N"),
        ]
        marks += [
            line.encode(x=alt.X("lower:Q"), x2=alt.X2("upper:Q"), y=y),
            # One of the dots carries the axis for all.
            dot.encode(
                x=alt.X("rate:Q") if marks else by_rows.across(rows, "rate", domain, suffix),
                y=y,
                tooltip=told,
            ),
        ]
    return marks


def percent_axis(strata: pd.DataFrame) -> Fitted:
    """Return the axis of percents, fitted to the groups and, as far as it goes, their intervals."""
    held = [*strata["rate"], *strata["all_rate"]]
    reached = [*strata["lower"], *strata["upper"]]
    return fitted(*([100 * one for one in some] for some in (held, reached)))


def by_stratum(measure: FairMeasureRow, strata: pd.DataFrame) -> alt.LayerChart:
    """Chart one measure's percent and 95 % interval in each stratum, beside all newborns.

    ``strata``: stratifier, stratum, numerator, counted, rate, lower, upper, is_few, stands_out,
    all_rate, in order. The order is fixed: nothing is ranked.
    """
    rows = by_rows.place(_points(strata))
    rate = float(strata["all_rate"].iloc[0])
    axis = percent_axis(strata)
    marks = [
        *by_rows.line_through(rows, 100 * rate, f"all newborns {of_numbers.percent(rate)}"),
        *by_rows.words(rows),
        *_dots(rows, axis, " %"),
    ]
    return by_rows.finish(rows, marks, fair_words.chart_text(measure, strata), axis)


def gap_domain(found: pd.DataFrame) -> tuple[float, float]:
    """Return the axis of a picture of gaps in points: whole fives, 0 always inside."""
    low = min(-5.0, 5 * (100 * found["gap_lower"].min() // 5))
    high = max(5.0, -5 * (-100 * found["gap_upper"].max() // 5))
    return float(low), float(high)


def gap_picture(found: pd.DataFrame) -> alt.LayerChart:
    """Chart the gaps that stand out in percentage points, grouped by stratum.

    ``found`` as ``fair.standing_out`` gives it.
    """
    drawn = pd.DataFrame(
        {
            "group": [
                f"{of_strata.stratum(str(name))} ({STRATIFIERS[str(by)].lower()})"
                for name, by in zip(found["stratum"], found["stratifier"], strict=True)
            ],
            "label": found["title"].astype(str),
            "told": [f"{of_numbers.points(gap)} points" for gap in found["gap"]],
            "kind": "out",
            "Interval": [
                fair_words.points_interval(low, high)
                for low, high in zip(found["gap_lower"], found["gap_upper"], strict=True)
            ],
            "rate": (100 * found["gap"]).round(2),
            "lower": (100 * found["gap_lower"]).round(2),
            "upper": (100 * found["gap_upper"]).round(2),
        }
    )
    rows = by_rows.place(drawn)
    domain = gap_domain(found)
    text = (
        f"Gaps that stand out, in percentage points against all newborns, with 95 % interval: "
        f"{len(found)}. Every number stands in the table below."
    )
    marks = [
        *by_rows.line_through(rows, 0, "as all newborns"),
        *by_rows.words(rows),
        *_dots(rows, domain, ""),
    ]
    return by_rows.finish(rows, marks, text)

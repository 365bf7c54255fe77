"""The pictures of why care was missed: stacked shares, causes, factors."""

from typing import Final, cast

import altair as alt
import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.drawing import by_rows
from pipelines.drawing.by_rows import Rows
from pipelines.drawing.layers import tips
from pipelines.drawing.theme import LIGHT, SHAPES
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.review.why import cold_factors
from pipelines.pages.review.why import words as why_words
from pipelines.pages.review.why.frames import RatioRow, SplitRow
from pipelines.pages.review.why.read import SPLITS, states_of
from pipelines.words import of_numbers

TOPS: Final = (10.0, 20.0, 40.0, 60.0, 80.0, 100.0)
HALF_BAR_PX: Final = 4
# State -> (fill, stroke): known states differ in lightness, what is not known is hatched.
LOOKS: Final = {
    "late": (LIGHT["data"], LIGHT["data"]),
    "met": (LIGHT["data"], LIGHT["data"]),
    "not_done": (LIGHT["ink"], LIGHT["ink"]),
    "not_met": (LIGHT["paper"], LIGHT["data"]),
    "not_documented": (LIGHT["unknown"], LIGHT["line"]),
    "unusable": (LIGHT["unknown"], LIGHT["ink"]),
}


def _top(highest: float) -> tuple[float, float]:
    return 0.0, next((top for top in TOPS if highest <= top), TOPS[-1])


def _bars(rows: Rows, frame: pd.DataFrame, state: str, domain: tuple[float, float]) -> alt.Chart:
    """Return one state's bars; ``frame`` has start, end, y_mark."""
    fill, stroke = LOOKS[state]
    drawn = frame.assign(y_top=frame["y_mark"] - HALF_BAR_PX, y_foot=frame["y_mark"] + HALF_BAR_PX)
    bar = alt.Chart(drawn).mark_rect(fill=fill, stroke=stroke, strokeWidth=1, opacity=1)
    drawn_bar = bar.encode(
        x=by_rows.across(rows, "start", domain, " %"),
        x2=alt.X2("end:Q"),
        y=by_rows.down(rows, "y_top"),
        y2=alt.Y2("y_foot:Q"),
        tooltip=[alt.Tooltip("label:N", title="Of"), *tips("State", "Newborns")],
    )
    return cast(alt.Chart, drawn_bar)


def _stacked(rows: Rows, states: dict[str, str], domain: tuple[float, float]) -> list[alt.Chart]:
    """Return the bars of every state, each beginning where the one before ends."""
    frame, marks = rows.frame, []
    start = pd.Series(0.0, index=frame.index)
    for state, words in states.items():
        end = start + 100 * frame[state] / frame["denominator"]
        newborns = [
            f"{of_numbers.count(some)} of {of_numbers.count(of)}"
            for some, of in zip(frame[state], frame["denominator"], strict=True)
        ]
        drawn = frame.assign(start=start, end=end, State=words, Newborns=newborns)
        drawn = drawn[["label", "y_mark", "start", "end", "State", "Newborns"]]
        marks.append(_bars(rows, drawn[frame[state] > 0], state, domain))
        start = end
    return marks


def missed(levels: pd.DataFrame, measure: MeasureRow) -> alt.LayerChart:
    """Chart how the newborns of each level were missed, stacked by state.

    ``levels`` as ``why.with_shares`` gives it, of one measure, in order.
    """
    states = states_of(str(measure["direction"]))
    total = levels[list(states)].sum(axis=1)
    drawn = levels.assign(
        group=levels["split_by"].map(SPLITS),
        label=[why_words.level(row) for row in rows_of(levels, SplitRow)],
        told=[
            f"{of_numbers.count(some)} of {of_numbers.count(of)}, {of_numbers.percent(some / of)}"
            for some, of in zip(total, levels["denominator"], strict=True)
        ],
        short=[of_numbers.percent(share) for share in total / levels["denominator"]],
    ).reset_index(drop=True)
    rows = by_rows.place(drawn)
    domain = _top(float((100 * total / levels["denominator"]).max()))
    marks = [*by_rows.words(rows), *_stacked(rows, states, domain)]
    return by_rows.finish(rows, marks, why_words.missed_text(measure, levels))


def assigned(causes: pd.DataFrame) -> alt.LayerChart:
    """Chart the assigned causes of each band; what was not reviewed is hatched and last.

    ``causes`` as ``cold.assigned_causes`` gives it.
    """
    total = causes.groupby("band")["newborns"].transform("sum")
    share = 100 * causes["newborns"] / total
    drawn = causes.assign(
        group=[
            f"{cold_factors.BANDS[str(band)]}: {n} newborns"
            for band, n in zip(causes["band"], total, strict=True)
        ],
        label=causes["title"].str.capitalize(),
        told=[
            f"{n}, {of_numbers.percent(s / 100)}"
            for n, s in zip(causes["newborns"], share, strict=True)
        ],
        short=causes["newborns"].map(of_numbers.count),
        start=0.0,
        end=share,
        State="newborns",
        Newborns=causes["newborns"].map(of_numbers.count),
    )
    rows = by_rows.place(drawn)
    frame, domain = rows.frame, _top(float(share.max()))
    looks = {
        "late": ~frame["cause"].isin(list(cold_factors.LAST)),
        "not_met": frame["cause"] == cold_factors.NO_FACTOR,
    }
    looks["unusable"] = frame["cause"] == cold_factors.NOT_REVIEWED
    names = ["label", "y_mark", "start", "end", "State", "Newborns"]
    bars = [
        _bars(rows, frame.loc[chosen & (frame["newborns"] > 0), names], look, domain)
        for look, chosen in looks.items()
    ]
    return by_rows.finish(rows, [*by_rows.words(rows), *bars], why_words.assigned_text(causes))


def _short_ratio(row: RatioRow) -> str:
    return "no ratio" if row["ratio"] is None else f"{row['ratio']:.1f} times"


def factors(shares: pd.DataFrame) -> alt.LayerChart:
    """Chart each factor's share among cold newborns beside newborns in range.

    ``shares`` as ``cold.factor_shares`` gives it: an open ring is in range, a filled mark cold.
    """
    shares = shares[cold_factors.happens(shares)].reset_index(drop=True)
    drawn = shares.assign(
        group=why_words.factor_headings(shares),
        label=shares["band"].map(cold_factors.BANDS),
        told=[why_words.ratio_told(row) for row in rows_of(shares, RatioRow)],
        short=[_short_ratio(row) for row in rows_of(shares, RatioRow)],
        cold_percent=100 * shares["share"],
        warm_percent=100 * shares["in_range_share"],
    )
    rows = by_rows.place(drawn)
    base = alt.Chart(rows.frame)
    y = by_rows.down(rows, "y_mark")
    domain = (0.0, 100.0)
    line = base.mark_rule(color=LIGHT["data"], strokeWidth=1.6).encode(
        x=by_rows.across(rows, "warm_percent", domain, " %"), x2=alt.X2("cold_percent:Q"), y=y
    )
    ring = base.mark_point(
        shape=SHAPES["value"],
        size=60,
        fill=LIGHT["paper"],
        stroke=LIGHT["data"],
        strokeWidth=1.5,
        opacity=1,
    ).encode(x=by_rows.across(rows, "warm_percent", domain, " %"), y=y)
    told = [
        alt.Tooltip("group:N", title="Factor"),
        alt.Tooltip("label:N", title="Band"),
        alt.Tooltip("told:N", title="Cold against in range"),
    ]
    shapes = {"mild": SHAPES["value"], "colder": SHAPES["other"]}
    dots = [
        alt.Chart(rows.frame[rows.frame["band"] == band])
        .mark_point(shape=shape, size=70, filled=True, color=LIGHT["data"], opacity=1)
        .encode(
            x=by_rows.across(rows, "cold_percent", domain, " %"),
            y=y,
            tooltip=told,
        )
        for band, shape in shapes.items()
    ]
    text = why_words.factors_text(shares)
    return by_rows.finish(rows, [*by_rows.words(rows), line, ring, *dots], text)

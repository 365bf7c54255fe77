"""Which measures moved by more than chance explains: every measure's chart over time, judged.

The methods are in :mod:`pipelines.statistics.over_time`; here they meet the measures of a page.
"""

from collections.abc import Mapping
from typing import Annotated, Final, TypedDict

import numpy as np
import pandas as pd

from pipelines.base.frames import checked, columns_of
from pipelines.statistics import many, rules
from pipelines.statistics.frames import PhaseRow, PointRow, SignalRow
from pipelines.statistics.over_time import OverTime, over_time
from pipelines.statistics.reasons import LINE_DOES_NOT_DIVIDE, NO_DATA, TOO_FEW_OFF_THE_LINE

NOT_COMPARED: Final = "not_compared"
SAME: Final = "same"
NOT_MOVED: Final = (SAME, NOT_COMPARED)
# A signal in one of these ways is told first.
_ORDER: Final = (*rules.WITH_LIMITS, *rules.RUN_CHART)
_UNJUDGED: Final = {TOO_FEW_OFF_THE_LINE, LINE_DOES_NOT_DIVIDE, NO_DATA}
# Charts from event to event run the other way: up is rarer.
_GAP_CHARTS: Final = ("g", "t")
# Where what is charted ends, and limits with it; measured values have no end, others 0 alone.
_ENDS: Final = {"p": (0.0, 1.0), "p_prime": (0.0, 1.0), "xmr": ()}


class MovedRow(TypedDict):
    """One row per measure: whether it moved, by the signals that reach its last period."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    moved: Annotated[str, "higher, lower, rarer, more often, uneven, same or not_compared"]
    change: Annotated[str, "better, worse, moved, same or not_compared"]
    rule: Annotated[str | None, "the rule that speaks first; missing without a signal"]
    since: Annotated[pd.Timestamp | None, "first period of the signal"]
    before_rate: Annotated[float | None, "the baseline's share, or births or days between"]
    before_first: Annotated[
        pd.Timestamp | None, "first month of the baseline; missing where not of months"
    ]
    before_last: Annotated[pd.Timestamp | None, "last month of it"]
    run_rate: Annotated[float | None, "share over the periods of the signal, where of shares"]
    strength: Annotated[float | None, "standard deviations of chance; missing without limits"]
    by_luck: Annotated[
        float | None, "of signals as strong or stronger, the share that luck would give"
    ]
    chart_kind: Annotated[str, "p, p_prime, g, t, run, ...: see OverTime"]


def judge(
    series: pd.DataFrame, info: pd.DataFrame, changes: pd.DataFrame, births: pd.DataFrame
) -> dict[str, OverTime]:
    """Return each measure's chart over time by measure_id.

    ``series``: the whole history, one row per measure and month (measure_id, month, numerator,
    counted). ``info``: measure_id, kind, direction. ``changes``: measure_id, start_on, kind
    (change or policy). ``births``: for small numbers, one row per birth that counts (measure_id,
    month, is_met), in order of birth.
    """
    by_measure = dict(list(series.groupby("measure_id")))
    by_change = dict(list(changes.groupby("measure_id")))
    by_birth = dict(list(births.groupby("measure_id"))) if len(births) else {}
    judged = {
        name: over_time(
            by_measure.get(name, series.head(0)),
            kind=str(kind),
            direction=str(direction),
            breaks=by_change.get(name, changes.head(0))[["start_on", "kind"]],
            births=by_birth.get(name),
        )
        for name, kind, direction in zip(
            info["measure_id"], info["kind"], info["direction"], strict=True
        )
    }
    for one in judged.values():
        checked(one.points, PointRow)
        checked(one.signals, SignalRow)
        checked(one.phases, PhaseRow)
    return judged


def moved(over: Mapping[str, OverTime]) -> pd.DataFrame:
    """Say of each measure whether it moved, by the signals that reach its last period.

    Columns: those of ``MovedRow``.
    """
    rows = [{"measure_id": name, **_moved(one)} for name, one in over.items()]
    found = pd.DataFrame(rows, columns=list(columns_of(MovedRow)))
    types = dict.fromkeys(("before_rate", "run_rate", "strength", "by_luck"), "float64")
    types |= dict.fromkeys(("before_first", "before_last"), "datetime64[us]")
    found = found.astype(types)
    signalled = found["rule"].notna()
    looked_at = int((found["moved"] != NOT_COMPARED).sum())
    found.loc[signalled, "by_luck"] = many.adjusted(found.loc[signalled, "by_luck"], looked_at)
    return checked(found, MovedRow)


def _moved(one: OverTime) -> dict[str, object]:
    by_phase = one.phases.set_index("phase")
    told = {**_baseline(one, by_phase.tail(1)), "chart_kind": one.chart_kind}
    if one.current.empty:
        state = SAME if _is_compared(one) else NOT_COMPARED
        return {**told, "moved": state, "change": state}
    found = one.current.assign(order=one.current["rule"].map(_ORDER.index))
    # What got worse first, then the plainest rule, then the oldest.
    found = found.assign(is_worse=found["sense"] == "worse")
    keys = ["is_worse", "order", "first_period"]
    first = found.sort_values(keys, ascending=[False, True, True]).iloc[0]
    strength = _strength(one, first)
    return {
        **told,
        **_baseline(one, by_phase.loc[[first["phase"]]]),
        "moved": _way(str(first["direction"]), one.chart_kind),
        "change": first["sense"],
        "rule": first["rule"],
        "since": first["first_on"],
        "run_rate": _run_rate(one.points, first),
        "strength": strength,
        # Of this chart alone; what many charts make of it, ``moved`` says.
        "by_luck": many.so_strong(strength, len(one.points), one.now_by_chance),
    }


def _baseline(one: OverTime, phase: pd.DataFrame) -> dict[str, object]:
    """Return the baseline of a phase, no row or one: its rate, and the months it is made of.

    Of a chart of quarters or blocks of births the months are not whole, and missing.
    """
    names = {"before_rate": "baseline_rate"}
    if one.period_kind == "month":
        names |= {"before_first": "baseline_first_on", "before_last": "baseline_last_on"}
    return {name: phase[column].iloc[0] for name, column in names.items()} if len(phase) else {}


def _way(direction: str, chart_kind: str) -> str:
    if chart_kind in _GAP_CHARTS:
        return {"up": "rarer", "down": "more often"}.get(direction, "uneven")
    return {"up": "higher", "down": "lower"}.get(direction, "uneven")


def _is_compared(one: OverTime) -> bool:
    has_limits = len(one.phases) > 0 and bool(one.phases["has_limits"].iloc[-1])
    return has_limits or not {reason.name for reason in one.reasons} & _UNJUDGED


def _run_rate(points: pd.DataFrame, signal: pd.Series) -> float:
    own = points.iloc[int(signal["first_period"]) - 1 : int(signal["last_period"])]
    counted = float(own["n"].sum())
    return float(own["numerator"].sum()) / counted if counted else float("nan")


def _strength(one: OverTime, signal: pd.Series) -> float:
    """How far the periods of a signal lie from the centre together, in standard deviations.

    How many of them a limit stands for, its point says; a limit at an end (0, or 100 %) lies
    nearer than chance would allow, and the other one is read. Distances of k periods add up as
    their sum over root k.
    """
    own = one.points.iloc[int(signal["first_period"]) - 1 : int(signal["last_period"])]
    away = (own["rate"] - own["centre"]).to_numpy(float)
    limits = own[["lower_limit", "upper_limit"]].to_numpy(float)
    room = np.abs(limits - own[["centre"]].to_numpy(float))
    is_end = np.isin(limits, _ENDS.get(one.chart_kind, (0.0,)))
    rows, side = np.arange(len(own)), (away > 0).astype(int)
    side = np.where(is_end[rows, side], 1 - side, side)
    sd = room[rows, side] / own["limit_sds"].to_numpy(float)
    known = away[sd > 0] / sd[sd > 0]
    return float(abs(known.sum()) / np.sqrt(len(known))) if len(known) else float("nan")

"""One measure over time: which chart, where its limits come from, and what signals.

``over_time`` is the only thing a page needs of the charts over time. It chooses the points
(months; quarters or blocks of births for small numbers; from event to event for rare ones),
lays frozen baselines over them (:mod:`phases`), takes limits from what chance allows
(:mod:`chance`) and applies the shipped rules (:mod:`rules`).
"""

from dataclasses import dataclass, field
from typing import Annotated, Final, TypedDict

import numpy as np
import pandas as pd

from pipelines.statistics import charting, many, phases, rules
from pipelines.statistics.chance import Chance, Level
from pipelines.statistics.charting import Charted
from pipelines.statistics.expected import Expected, learn
from pipelines.statistics.reasons import (
    ALL_MET,
    CONSTANT,
    LINE_DOES_NOT_DIVIDE,
    NO_DATA,
    NO_VARIATION,
    NONE_MET,
    OVERDISPERSED,
    SHORT_BASELINE,
    TOO_FEW_OFF_THE_LINE,
    TOO_FEW_POINTS,
    Reason,
)
from pipelines.statistics.runs import USEFUL_AT_LEAST, runs_about

RUN: Final = "run"  # a run chart: no period of it has limits
# Of run charts with nothing going on that signal (false_alarms.toml, other: run).
RUN_BY_CHANCE: Final = 0.01
BETTER: Final = "better"
WORSE: Final = "worse"
MOVED: Final = "moved"


class PointRow(TypedDict):
    """``points``: one row per period with data. Rates and limits are in what is charted."""

    period: Annotated[int, "number of the period, from 1"]
    start_on: Annotated[pd.Timestamp | None, "first day; missing: births without a month"]
    n: Annotated[float, "how many newborns (or items) it is made of"]
    numerator: Annotated[float | None, "of these, met; missing: not a chart of counts"]
    rate: Annotated[float, "share, events per exposure, count, value, births or days between"]
    phase: Annotated[int, "number of the stretch with its own limits"]
    is_baseline: Annotated[bool, "limits stand on it"]
    has_limits: Annotated[bool, "chance gives limits for it"]
    centre: Annotated[float | None, "middle of its phase"]
    lower_limit: Annotated[float | None, "lowest that chance allows"]
    upper_limit: Annotated[float | None, "highest that chance allows"]
    earlier_centre: Annotated[float | None, "of the phase before an accepted level, drawn on"]
    earlier_lower_limit: Annotated[float | None, "of the phase before, drawn on"]
    earlier_upper_limit: Annotated[float | None, "of the phase before, drawn on"]
    rules: Annotated[tuple[str, ...], "names of the rules that speak about it"]


class SignalRow(TypedDict):
    """``signals``: one row per signal."""

    start_on: Annotated[pd.Timestamp | None, "period in which the rule first spoke"]
    rule: Annotated[str, "its name"]
    direction: Annotated[str, "up, down or blank"]
    sense: Annotated[str, "better, worse or moved"]
    first_on: Annotated[pd.Timestamp | None, "first period it is about"]
    last_on: Annotated[pd.Timestamp | None, "last period it is about"]
    period: Annotated[int, "number of the period in which it first spoke"]
    first_period: Annotated[int, "number of the first period it is about"]
    last_period: Annotated[int, "number of the last period it is about"]
    phase: Annotated[int, "number of the phase whose limits speak"]


class PhaseRow(TypedDict):
    """``phases``: one row per stretch with its own limits, or its own median."""

    phase: Annotated[int, "its number, from 1"]
    start_on: Annotated[pd.Timestamp | None, "first period"]
    reason: Annotated[str, "start, policy or accepted: why it began"]
    first_period: Annotated[int, "number of its first period"]
    last_period: Annotated[int, "number of its last period"]
    baseline_first_on: Annotated[pd.Timestamp | None, "first period of its baseline"]
    baseline_last_on: Annotated[pd.Timestamp | None, "last period of its baseline"]
    baseline_periods: Annotated[int, "periods"]
    baseline_numerator: Annotated[float, "met in the baseline"]
    baseline_n: Annotated[float, "newborns (or items) of the baseline"]
    baseline_rate: Annotated[float, "its centre, in what is charted"]
    has_limits: Annotated[bool, "chance gives limits"]
    sigma_z: Annotated[float, "how many times wider than chance the baseline varies; 1 if not"]


POINT_COLUMNS: Final = tuple(PointRow.__annotations__)
SIGNAL_COLUMNS: Final = tuple(SignalRow.__annotations__)
PHASE_COLUMNS: Final = tuple(PhaseRow.__annotations__)


@dataclass(frozen=True)
class OverTime:
    """A chart over time, ready to be drawn and told.

    ``points``: one row a period with data. rate is what is charted (share, events per unit of
    exposure, count, value, births between, days between); lower_limit and upper_limit are the
    outermost values that chance allows, and like the earlier_ columns (the limits before an
    accepted level, drawn on for a year) empty (NaN) where there are none: see has_limits.
    rules: the names of the rules that speak about the period.
    ``signals``: one row a signal. start_on: the period in which the rule first spoke; first_on
    and last_on: what it is about; direction: up, down or empty; sense: better, worse or moved;
    phase: the number of the phase whose limits speak.
    ``phases``: one row a stretch with its own limits, why it began, its baseline.
    ``chart_kind``: p, p_prime, u, u_prime, c, c_prime, xmr, g, t, or run (no limits).
    ``period_kind``: month, quarter, block (of ``block_of`` births) or gap.
    ``sigma_z``: how many times wider than chance the last phase's baseline varies; 1 if not.
    ``since_last``: births since the last event, for a g chart.
    ``now_by_chance``: the chance that a signal reaches the last period where nothing changed.
    ``season``: how far the middle of the last year lies off the level at most, on the charted
    scale; ``season_could``: how far it could, while one year alone is known; None later.
    ``sees``: the chance that a share which moves by ten points to the worse is seen within six
    periods; None for other charts.
    """

    points: pd.DataFrame
    signals: pd.DataFrame
    phases: pd.DataFrame
    chart_kind: str
    period_kind: str
    block_of: int | None
    sigma_z: float
    reasons: tuple[Reason, ...]
    since_last: int | None = None
    better: str = ""  # up, down or empty: the way that is better, on the scale that is charted
    now_by_chance: float = 0.0
    sees: float | None = None
    season: float | None = None
    season_could: float | None = None

    @property
    def current(self) -> pd.DataFrame:
        """The signals that reach the last period."""
        return self.signals[self.signals["last_period"] == len(self.points)]


@dataclass
class _Judged:
    """What is gathered phase by phase."""

    columns: dict[str, np.ndarray]
    found: list[tuple[int, rules.Found]] = field(default_factory=list)
    rows: list[dict[str, object]] = field(default_factory=list)
    reasons: list[Reason] = field(default_factory=list)
    sigma_z: float = 1.0
    now_by_chance: float = 0.0
    sees: float | None = None
    season: float | None = None
    season_could: float | None = None


def over_time(
    series: pd.DataFrame,
    *,
    kind: str,
    direction: str,
    breaks: pd.DataFrame | None = None,
    births: pd.DataFrame | None = None,
    block_of: int | None = None,
    between: str = "births",
) -> OverTime:
    """Choose and judge the chart of one measure of one unit.

    ``series``: one row a month, from the first month there is (not the window a page shows:
    limits stand on the first months): month (timestamp of the first), numerator, counted (the
    denominator of the rate; 0, NaN or no row where there is none). ``kind``: a measure's kind
    (proportion, descriptive, episode, finding, observation, dose, bands: shares), ``minutes``
    (numerator is the month's median, counted how many were measured), ``rate`` (events per
    exposure), ``count`` (counted is not used), or ``rare`` (from event to event in any case).
    ``direction``: higher, lower or neither is better. ``breaks``: start_on, kind (policy,
    accepted, or change, which moves no limit). ``births``: one row a birth that counts, in order
    of birth: month (or NaT), is_met, and for ``between="days"`` born_on; with it small numbers go
    into blocks and rare events into a g (births between) or t chart (days between).

    Raises ValueError for counts that cannot be, naming the month. Whatever else is odd (too
    few, constant, empty months) is a reason in the result.
    """
    asked = charting.Asked(kind, direction, block_of, between)
    cuts = charting.checked_breaks(breaks)
    # A block or quarter divided by a recorded change would change what the limits stand on.
    parts = cuts[cuts["kind"].isin(phases.BREAKS)]
    charted = charting.choose(charting.checked(series, kind), asked, parts, births)
    plan, why = ([], []) if charted.points.empty else phases.plan(charted.points["start_on"], cuts)
    judged = _Judged(_empty_columns(len(charted.points)))
    for number in range(1, len(plan) + 1):
        _judge_phase(judged, charted, plan, number)
    return _assembled(charted, judged, plan, [*charted.reasons, *why])


def _empty_columns(periods: int) -> dict[str, np.ndarray]:
    limits = [name for name in POINT_COLUMNS if name.endswith(("centre", "_limit"))]
    columns = {name: np.full(periods, np.nan) for name in limits}
    flags = {name: np.zeros(periods, bool) for name in ("is_baseline", "has_limits")}
    return {**columns, **flags, "phase": np.zeros(periods, int)}


def _judge_phase(judged: _Judged, charted: Charted, plan: list[phases.Phase], number: int) -> None:
    """Draw the limits of one phase, or its median, and note what signals."""
    phase = plan[number - 1]
    own = slice(phase.first, phase.stop)
    judged.columns["phase"][own] = number
    basis = charted.points.iloc[phase.first : phase.baseline_stop]
    chance = charted.learn(basis) if phase.has_limits else None
    if isinstance(chance, Level) and chance.sigma <= 0:
        judged.reasons.append(Reason(NO_VARIATION, phase.start_on))
        chance = None
    if not phase.has_limits:
        points = phase.stop - phase.first
        judged.reasons.append(
            Reason(TOO_FEW_POINTS, phase.start_on, points, phases.POINTS_AT_LEAST)
        )
    if chance is None:
        _run_chart(judged, charted, phase, number)
        return
    beside = learn(chance, charted.points, plan, number - 1)
    judged.columns["is_baseline"][phase.first : phase.baseline_stop] = True
    judged.columns["has_limits"][own] = True
    _limits(judged, charted, phase, chance, beside)
    judged.season, judged.season_could = (None, None) if beside is None else beside.swing(chance)
    _signals(judged, charted, phase, number=number, chance=chance, beside=beside)
    sigma_z = chance.sigma_z if beside is None else beside.wider
    _note(judged, phase, sigma_z)
    row = _phase_row(phase, number, basis, chance.centre, sigma_z=sigma_z, has_limits=True)
    judged.rows.append(row)


def _limits(
    judged: _Judged,
    charted: Charted,
    phase: phases.Phase,
    chance: Chance,
    beside: Expected | None,
) -> None:
    """Fill the phase's own limits, and those of before where a new level was accepted."""
    size = charted.points["size"].to_numpy(float)[phase.first : phase.drawn_stop]
    off = None if beside is None else beside.off(1)
    lower, upper = chance.limits(size, rules.level(chance, beside, rules.OUTSIDE_TAIL), off)
    drawn = {
        "centre": chance.middles(size, off),
        "lower_limit": lower,
        "upper_limit": upper,
    }
    own = phase.stop - phase.first
    for name, values in drawn.items():
        judged.columns[name][phase.first : phase.stop] = values[:own]
        judged.columns[f"earlier_{name}"][phase.stop : phase.drawn_stop] = values[own:]


def _signals(
    judged: _Judged,
    charted: Charted,
    phase: phases.Phase,
    *,
    number: int,
    chance: Chance,
    beside: Expected | None,
) -> None:
    """Apply the rules to the phase's own periods."""
    points = charted.points.iloc[phase.first : phase.stop]
    sequence = rules.Periods(*(points[name].to_numpy(float) for name in ("rate", "total", "size")))
    own = None if beside is None else beside.part(0, len(points))
    found = rules.judge(chance, sequence, own)
    judged.now_by_chance = many.now_by_chance(chance, sequence.sizes, own)
    judged.sees = many.sees(chance, sequence.sizes, own, is_fall=charted.better != "down")
    judged.found += [(number, _moved(one, phase.first)) for one in found]


def _moved(one: rules.Found, first: int) -> rules.Found:
    return rules.Found(one.rule, one.direction, one.at + first, one.first + first, one.last + first)


def _note(judged: _Judged, phase: phases.Phase, sigma_z: float) -> None:
    """Keep what a reader must know of limits: a short baseline, overdispersion."""
    judged.sigma_z = sigma_z
    if phase.baseline < phases.POINTS_AT_LEAST:
        judged.reasons.append(
            Reason(SHORT_BASELINE, phase.start_on, phase.baseline, phases.POINTS_AT_LEAST)
        )
    if sigma_z > 1:
        judged.reasons.append(Reason(OVERDISPERSED, phase.start_on, sigma_z))


def _run_chart(judged: _Judged, charted: Charted, phase: phases.Phase, number: int) -> None:
    """Judge a stretch without limits about its own median, where it has enough points."""
    points = charted.points.iloc[phase.first : phase.stop]
    values = points["rate"].to_numpy(float)
    line = float(np.median(values))
    judged.columns["centre"][phase.first : phase.stop] = line
    counts = runs_about(values, line)
    if counts.useful < USEFUL_AT_LEAST:
        judged.reasons.append(
            Reason(TOO_FEW_OFF_THE_LINE, phase.start_on, counts.useful, USEFUL_AT_LEAST)
        )
    elif not counts.line_divides:
        judged.reasons.append(Reason(LINE_DOES_NOT_DIVIDE, phase.start_on))
    found = rules.run_chart(values, line)
    judged.now_by_chance, judged.sees = RUN_BY_CHANCE, None
    judged.season = judged.season_could = None
    judged.found += [(number, _moved(one, phase.first)) for one in found]
    judged.rows.append(_phase_row(phase, number, points, line))


def _phase_row(
    phase: phases.Phase,
    number: int,
    basis: pd.DataFrame,
    centre: float,
    *,
    sigma_z: float = 1.0,
    has_limits: bool = False,
) -> dict[str, object]:
    return {
        "phase": number,
        "start_on": phase.start_on,
        "reason": phase.reason,
        "first_period": phase.first + 1,
        "last_period": phase.stop,
        "baseline_first_on": basis["start_on"].iloc[0],
        "baseline_last_on": basis["start_on"].iloc[-1],
        "baseline_periods": len(basis),
        "baseline_numerator": float(basis["numerator"].sum()),
        "baseline_n": float(basis["n"].sum()),
        "baseline_rate": centre,
        "has_limits": has_limits,
        "sigma_z": sigma_z,
    }


def _sense(direction: str, better: str) -> str:
    """Say what a move means; ``better``: the direction that is better, or empty."""
    if not direction or not better:
        return MOVED
    return BETTER if direction == better else WORSE


def _signal_frame(charted: Charted, found: list[tuple[int, rules.Found]]) -> pd.DataFrame:
    on = charted.points["start_on"]
    rows = [
        {
            "start_on": on.iloc[one.at],
            "rule": one.rule,
            "direction": one.direction,
            "sense": _sense(one.direction, charted.better),
            "first_on": on.iloc[one.first],
            "last_on": on.iloc[one.last],
            "period": one.at + 1,
            "first_period": one.first + 1,
            "last_period": one.last + 1,
            "phase": number,
        }
        for number, one in found
    ]
    frame = pd.DataFrame(rows, columns=list(SIGNAL_COLUMNS))
    return frame.sort_values(["period", "phase", "rule"], ignore_index=True)


def _spoken(found: list[tuple[int, rules.Found]], periods: int) -> list[tuple[str, ...]]:
    """Return the rules that speak about each period, each once."""
    names: list[dict[str, None]] = [{} for _ in range(periods)]
    for _, one in found:
        for at in range(one.first, one.last + 1):
            names[at][one.rule] = None
    return [tuple(each) for each in names]


def _constant(points: pd.DataFrame, is_share: bool) -> list[Reason]:
    """Return the reasons that all periods give the same value."""
    if points.empty or points["rate"].nunique() > 1:
        return []
    value = float(points["rate"].iloc[0])
    reasons = [Reason(CONSTANT, None, value)]
    if is_share and value in {0.0, 1.0}:
        reasons.append(Reason(ALL_MET if value else NONE_MET))
    return reasons


def _assembled(
    charted: Charted,
    judged: _Judged,
    plan: list[phases.Phase],
    reasons: list[Reason],
) -> OverTime:
    points = charted.points.drop(columns=["total", "size"])
    points = points.assign(
        period=np.arange(1, len(points) + 1),
        rules=pd.Series(_spoken(judged.found, len(points)), dtype=object),
        **judged.columns,
    )[list(POINT_COLUMNS)]
    has_limits = bool(judged.columns["has_limits"].any())
    prime = "_prime" if judged.sigma_z > 1 else ""
    reasons = [*reasons, *judged.reasons, *_constant(points, charted.is_share)]
    if not plan:
        reasons.append(Reason(NO_DATA))
    return OverTime(
        points=points,
        signals=_signal_frame(charted, judged.found),
        phases=pd.DataFrame(judged.rows, columns=list(PHASE_COLUMNS)),
        chart_kind=charted.chart_kind + prime if has_limits else RUN,
        period_kind=charted.period_kind,
        block_of=charted.block_of,
        sigma_z=judged.sigma_z,
        reasons=tuple(reasons),
        since_last=charted.since_last,
        better=charted.better,
        now_by_chance=judged.now_by_chance,
        sees=judged.sees,
        season=judged.season,
        season_could=judged.season_could,
    )

"""One measure over time: which chart, where its limits come from, and what signals.

``over_time`` is the only thing a page needs of the charts over time. It chooses the points
(months; quarters or blocks of births for small numbers; from event to event for rare ones),
lays frozen baselines over them (:mod:`phases`), and has each phase judged by the shipped rules
(:mod:`phase_by_phase`).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from pipelines.statistics import charting, phases, rules
from pipelines.statistics.charting import Charted
from pipelines.statistics.frames import PHASE_COLUMNS, POINT_COLUMNS, SIGNAL_COLUMNS
from pipelines.statistics.phase_by_phase import Judged, judge_phases
from pipelines.statistics.reasons import ALL_MET, CONSTANT, NO_DATA, NONE_MET, Reason

RUN: Final = "run"  # a run chart: no period of it has limits
BETTER: Final = "better"
WORSE: Final = "worse"
MOVED: Final = "moved"


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
    judged = judge_phases(charted, plan)
    return _assembled(charted, judged, plan, [*charted.reasons, *why])


def _sense(direction: str, better: str) -> str:
    """Say what a move means; ``better``: the direction that is better, or empty."""
    if not direction or not better:
        return MOVED
    return BETTER if direction == better else WORSE


def _signal_frame(charted: Charted, found: list[tuple[int, rules.Found]]) -> pd.DataFrame:
    if not found:
        return pd.DataFrame(columns=list(SIGNAL_COLUMNS))
    found = sorted(found, key=lambda each: (each[1].at, each[0], each[1].rule))
    at, first, last = np.array([(one.at, one.first, one.last) for _, one in found]).T
    on = charted.points["start_on"].array
    columns: dict[str, object] = {
        "start_on": on.take(at),
        "rule": [one.rule for _, one in found],
        "direction": [one.direction for _, one in found],
        "sense": [_sense(one.direction, charted.better) for _, one in found],
        "first_on": on.take(first),
        "last_on": on.take(last),
        "period": at + 1,
        "first_period": first + 1,
        "last_period": last + 1,
        "phase": [number for number, _ in found],
    }
    return pd.DataFrame(columns)


def _spoken(found: list[tuple[int, rules.Found]], periods: int) -> list[tuple[str, ...]]:
    """Return the rules that speak about each period, each once."""
    names: list[dict[str, None]] = [{} for _ in range(periods)]
    for _, one in found:
        for at in range(one.first, one.last + 1):
            names[at][one.rule] = None
    return [tuple(each) for each in names]


def _constant(points: pd.DataFrame, is_share: bool) -> list[Reason]:
    """Return the reasons that all periods give the same value."""
    rates = points["rate"].to_numpy(float)
    if not len(rates) or (rates != rates[0]).any():
        return []
    value = float(rates[0])
    reasons = [Reason(CONSTANT, None, value)]
    if is_share and value in {0.0, 1.0}:
        reasons.append(Reason(ALL_MET if value else NONE_MET))
    return reasons


def _points(charted: Charted, judged: Judged) -> pd.DataFrame:
    spoken = np.empty(len(charted.points), dtype=object)
    spoken[:] = _spoken(judged.found, len(spoken))
    made = {**judged.columns, "period": np.arange(1, len(spoken) + 1), "rules": spoken}
    return pd.DataFrame(
        {name: made[name] if name in made else charted.points[name].array for name in POINT_COLUMNS}
    )


def _assembled(
    charted: Charted,
    judged: Judged,
    plan: list[phases.Phase],
    reasons: list[Reason],
) -> OverTime:
    has_limits = bool(judged.columns["has_limits"].any())
    prime = "_prime" if judged.says.sigma_z > 1 else ""
    reasons = [*reasons, *judged.reasons, *_constant(charted.points, charted.is_share)]
    if not plan:
        reasons.append(Reason(NO_DATA))
    return OverTime(
        points=_points(charted, judged),
        signals=_signal_frame(charted, judged.found),
        phases=pd.DataFrame(judged.rows, columns=list(PHASE_COLUMNS)),
        chart_kind=charted.chart_kind + prime if has_limits else RUN,
        period_kind=charted.period_kind,
        block_of=charted.block_of,
        sigma_z=judged.says.sigma_z,
        reasons=tuple(reasons),
        since_last=charted.since_last,
        better=charted.better,
        now_by_chance=judged.says.now_by_chance,
        sees=judged.says.sees,
        season=judged.says.season,
        season_could=judged.says.season_could,
    )

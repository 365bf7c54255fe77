"""The phases of a chart over time judged one by one: limits or a median, and what signals.

Limits come from what chance allows (:mod:`chance`) about what is expected (:mod:`expected`);
a stretch without them is judged about its own median. Everything here is arrays by period; the
frames that a page reads are made in :mod:`over_time`.
"""

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import pandas as pd

from pipelines.statistics import false_alarms, many, phases, rules
from pipelines.statistics.chance import Chance, Level
from pipelines.statistics.charting import Charted
from pipelines.statistics.expected import Expected, learn
from pipelines.statistics.frames import POINT_COLUMNS
from pipelines.statistics.reasons import (
    LINE_DOES_NOT_DIVIDE,
    NO_VARIATION,
    OVERDISPERSED,
    SHORT_BASELINE,
    TOO_FEW_OFF_THE_LINE,
    TOO_FEW_POINTS,
    Reason,
)
from pipelines.statistics.runs import USEFUL_AT_LEAST, runs_about

_LIMITS: Final = tuple(
    name for name in POINT_COLUMNS if name.endswith(("centre", "_limit", "_sds"))
)


@dataclass(frozen=True)
class OfItself:
    """What the last phase says of itself; see ``OverTime`` for each."""

    sigma_z: float = 1.0
    now_by_chance: float = 0.0
    sees: float | None = None
    season: float | None = None
    season_could: float | None = None


@dataclass
class Judged:
    """What is gathered phase by phase.

    ``columns``: one array a column, a value a period; ``found``: each signal with the number of
    its phase; ``rows``: one a phase.
    """

    columns: dict[str, np.ndarray]
    found: list[tuple[int, rules.Found]] = field(default_factory=list)
    rows: list[dict[str, object]] = field(default_factory=list)
    reasons: list[Reason] = field(default_factory=list)
    says: OfItself = OfItself()


def judge_phases(charted: Charted, plan: list[phases.Phase]) -> Judged:
    """Judge every phase of ``plan`` in order."""
    judged = Judged(_empty_columns(len(charted.points)))
    for number in range(1, len(plan) + 1):
        _judge_phase(judged, charted, plan, number)
    return judged


def _empty_columns(periods: int) -> dict[str, np.ndarray]:
    columns = {name: np.full(periods, np.nan) for name in _LIMITS}
    flags = {name: np.zeros(periods, bool) for name in ("is_baseline", "has_limits")}
    return {**columns, **flags, "phase": np.zeros(periods, int)}


def _judge_phase(judged: Judged, charted: Charted, plan: list[phases.Phase], number: int) -> None:
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
    sigma_z = chance.sigma_z if beside is None else beside.wider
    swing = (None, None) if beside is None else beside.swing(chance)
    judged.says = OfItself(sigma_z, 0.0, None, *swing)
    _signals(judged, charted, phase, number=number, chance=chance, beside=beside)
    _note(judged, phase, sigma_z)
    row = _phase_row(phase, number, basis, chance.centre, sigma_z=sigma_z, has_limits=True)
    judged.rows.append(row)


def _limits(
    judged: Judged,
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
    sds = rules.limit_sds(beside, len(size))
    judged.columns["limit_sds"][phase.first : phase.stop] = sds[:own]
    for name, values in drawn.items():
        judged.columns[name][phase.first : phase.stop] = values[:own]
        judged.columns[f"earlier_{name}"][phase.stop : phase.drawn_stop] = values[own:]


def _signals(
    judged: Judged,
    charted: Charted,
    phase: phases.Phase,
    *,
    number: int,
    chance: Chance,
    beside: Expected | None,
) -> None:
    """Apply the rules to the phase's own periods; say what chance gives now, and what is seen."""
    points = charted.points.iloc[phase.first : phase.stop]
    sequence = rules.Periods(*(points[name].to_numpy(float) for name in ("rate", "total", "size")))
    own = None if beside is None else beside.part(0, len(points))
    found = rules.judge(chance, sequence, own)
    judged.found += [(number, _moved(one, phase.first)) for one in found]
    judged.says = replace(
        judged.says,
        now_by_chance=many.now_by_chance(chance, sequence.sizes, own),
        sees=many.sees(chance, sequence.sizes, own, is_fall=charted.better != "down"),
    )


def _moved(one: rules.Found, first: int) -> rules.Found:
    return rules.Found(one.rule, one.direction, one.at + first, one.first + first, one.last + first)


def _note(judged: Judged, phase: phases.Phase, sigma_z: float) -> None:
    """Keep what a reader must know of limits: a short baseline, overdispersion."""
    if phase.baseline < phases.POINTS_AT_LEAST:
        judged.reasons.append(
            Reason(SHORT_BASELINE, phase.start_on, phase.baseline, phases.POINTS_AT_LEAST)
        )
    if sigma_z > 1:
        judged.reasons.append(Reason(OVERDISPERSED, phase.start_on, sigma_z))


def _run_chart(judged: Judged, charted: Charted, phase: phases.Phase, number: int) -> None:
    """Judge a stretch without limits about its own median, where it has enough points."""
    points = charted.points.iloc[phase.first : phase.stop]
    values = points["rate"].to_numpy(float)
    line = float(np.median(values))
    judged.columns["centre"][phase.first : phase.stop] = line
    counts = runs_about(values, line)
    is_judged = counts.useful >= USEFUL_AT_LEAST and counts.line_divides
    if counts.useful < USEFUL_AT_LEAST:
        judged.reasons.append(
            Reason(TOO_FEW_OFF_THE_LINE, phase.start_on, counts.useful, USEFUL_AT_LEAST)
        )
    elif not counts.line_divides:
        judged.reasons.append(Reason(LINE_DOES_NOT_DIVIDE, phase.start_on))
    found = rules.run_chart(values, line)
    # What is not judged cannot signal; of what is, the share was measured.
    by_chance = false_alarms.run_now() if is_judged else 0.0
    judged.says = OfItself(judged.says.sigma_z, by_chance)
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

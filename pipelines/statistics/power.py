"""Before starting: how many newborns, and how many months, it takes to see an effect.

Two answers. Two shares side by side, as if nothing else moved: statsmodels. And the series that
will be analysed, with its own months before and its own variation from month to month, by the
error that ``effects.effect`` will have and a noncentral t; no simulation.
"""

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from pipelines.statistics import effects
from pipelines.statistics.interrupted import (
    FEWEST_MONTHS,
    SEASON_MONTHS,
    TAIL,
    Floats,
    Model,
    Split,
    design,
)

POWER: Final = 0.8  # common practice, no published source
MOST_MONTHS: Final = 36  # longer than this nobody waits for an answer


def newborns_each(before: float, after: float, power: float = POWER) -> float:
    """Return the newborns needed before and, as many, after, to tell two shares apart.

    Two-sided at 5 %, pooled variance without a correction, as ``power.prop.test`` in R.
    """
    from statsmodels.stats.proportion import samplesize_proportions_2indep_onetail

    # Two-sided by default, whatever its name says.
    return float(samplesize_proportions_2indep_onetail(after - before, before, power))


def newborns_each_corrected(before: float, after: float, power: float = POWER) -> int:
    """Return the same with the continuity correction, rounded up.

    Casagrande, Pike and Smith (Biometrics 1978;34:483); Fleiss, Tytun and Ury (Biometrics
    1980;36:343): n/4 * (1 + sqrt(1 + 4 / (n * difference)))^2.
    """
    plain = newborns_each(before, after, power)
    return math.ceil(plain / 4 * (1 + math.sqrt(1 + 4 / (plain * abs(after - before)))) ** 2)


@dataclass(frozen=True)
class Start:
    """What is known before a change. Shares of 1; ``dispersion``: variance over the binomial."""

    before: float
    newborns_a_month: float
    dispersion: float
    months_before: int


def _columns(start: Start, months_after: int) -> tuple[Floats, Floats, int]:
    """Return the columns of all months, those of the months counted without the change, and
    how many months are before."""
    months = start.months_before + months_after
    split = Split(start.months_before, start.months_before)
    model = Model(has_season=months >= SEASON_MONTHS)
    month = np.arange(months)
    whole = design(month, 0, split, model)
    last = start.months_before + min(effects.MONTHS, months_after)
    counted = month[start.months_before : last]
    return whole, design(counted, 0, split, model, changed=False), last


def series_power(start: Start, points: float, months_after: int) -> float:
    """Return the chance that the interval of the effect will lie wholly on the side of ``points``.

    ``points``: the effect as a share of 1, its sign the direction.
    """
    from scipy import stats

    whole, without, last = _columns(start, months_after)
    freedom = whole.shape[0] - whole.shape[1]
    if freedom < 1:
        return 0.0
    share = np.where(
        np.arange(len(whole)) < start.months_before, start.before, start.before + points
    )
    weight = start.newborns_a_month * share * (1 - share)
    covariance = np.linalg.inv(whole.T @ (whole * weight[:, None])) * max(1.0, start.dispersion)
    counted = whole[start.months_before : last]
    after = start.before + points
    gradient = (after * (1 - after) * counted - start.before * (1 - start.before) * without).mean(0)
    error = math.sqrt(gradient @ covariance @ gradient)
    return float(stats.nct.sf(stats.t.ppf(TAIL, freedom), freedom, abs(points) / error))


def _waits(start: Start) -> range:
    """Return the months after to try: two years in all, so that a season can be told apart."""
    return range(max(FEWEST_MONTHS, SEASON_MONTHS - start.months_before), MOST_MONTHS + 1)


def months_needed(start: Start, points: float, power: float = POWER) -> int | None:
    """Return the fewest months after the change with that power; None if not within three years."""
    waits = _waits(start)
    return next((wait for wait in waits if series_power(start, points, wait) >= power), None)


def months_before_needed(
    start: Start, points: float, months_after: int = effects.MONTHS, power: float = POWER
) -> int | None:
    """Return the fewest months before, up to three years, that give that power after a year."""
    for months in range(FEWEST_MONTHS, MOST_MONTHS + 1):
        longer = replace(start, months_before=months)
        enough = months + months_after >= SEASON_MONTHS
        if enough and series_power(longer, points, months_after) >= power:
            return months
    return None

"""Before starting: how many newborns, and how many months, it takes to see an effect.

Two answers. Two shares side by side, as if nothing else moved: statsmodels. And the verdict that
will be given: the same course, the same priors and the same interval as ``effects.effect``, whose
best guess is a weighted sum of the months, so that its spread is known; no simulation.
"""

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from pipelines.statistics import effects, shrunk
from pipelines.statistics.effects import END
from pipelines.statistics.interrupted import (
    FEWEST_MONTHS,
    PRIORS,
    Priors,
    Series,
    Split,
    course,
    design,
    log_odds,
)
from pipelines.statistics.shrunk import Floats, Seen

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
    """What is known before a change. ``before``: share of 1.

    ``apart``: by how much months differ beyond chance, standard deviation in log-odds, as the
    verdict will allow for it; ``likeliest``: by how much they most likely do (None: as much);
    ``alike``: likeness of neighbours in it.
    """

    before: float
    newborns_a_month: float
    months_before: int
    apart: float = 0.0
    likeliest: float | None = None
    alike: float = 0.0
    priors: Priors = PRIORS


def variation(series: Series) -> tuple[float, float, float]:
    """Return ``apart``, ``likeliest`` and ``alike`` of ``Start``.

    Trend and season apart. Needs months with newborns only, some met and some not.
    """
    last = int(series.month[-1]) + 1
    found = course(series, Split(last, last)).posterior
    return found.apart, found.likeliest, found.alike


def _step(month: np.ndarray, split: Split, mean: Floats) -> Floats:
    """Return how the effect, in log-odds, moves with each coefficient."""
    counted = month[(month >= 0) & (month < effects.MONTHS)]
    weights = np.full(len(counted), 1 / len(counted))
    rows = [
        effects.middle(design(counted, split, changed), weights, mean, True)[1:]
        for changed in (True, False)
    ]
    return np.asarray(rows[0] - rows[1])


def series_power(start: Start, points: float, months_after: int) -> float:
    """Return the chance that the interval will lie wholly on the side of ``points``.

    ``points``: the effect as a share of 1, its sign the direction. It is set beside chance on the
    log-odds scale, where its interval is symmetric. The verdict asks for the effect among the
    documented as well: there it is as far from chance or farther (fewer newborns, more points).
    """
    from scipy import stats

    if start.months_before < FEWEST_MONTHS or months_after < FEWEST_MONTHS:
        return 0.0
    month = np.arange(start.months_before + months_after) - start.months_before
    split = Split(0, 0)
    columns, spread = design(month, split), start.priors.spread()
    true = np.where(month < 0, start.before, start.before + points)
    seen = Seen(month, log_odds(true), 1 / (start.newborns_a_month * true * (1 - true)))
    likeliest = start.apart if start.likeliest is None else start.likeliest
    apart, alike = np.array([start.apart, likeliest]), np.repeat(start.alike, 2)
    allowed, likely = shrunk.covariances(seen, apart, alike)
    mean, covariance, _ = shrunk.solve(columns, seen.value, allowed[None], spread)
    step = _step(month, split, mean[0])
    weights = step @ covariance[0] @ columns.T @ np.linalg.inv(allowed)
    error = math.sqrt(step @ covariance[0] @ step)
    drawn = math.sqrt(weights @ likely @ weights)
    # The mean of ``weights @ months``: what the priors leave of the true effect.
    guess = abs(float(weights @ seen.value))
    return float(stats.norm.sf((END * error - guess) / drawn))


def months_needed(start: Start, points: float, power: float = POWER) -> int | None:
    """Return the fewest months after the change with that power; None if not within three years."""
    waits = range(FEWEST_MONTHS, MOST_MONTHS + 1)
    return next((wait for wait in waits if series_power(start, points, wait) >= power), None)


def months_before_needed(
    start: Start, points: float, months_after: int = effects.MONTHS, power: float = POWER
) -> int | None:
    """Return the fewest months before, up to three years, that give that power after a year."""
    for months in range(FEWEST_MONTHS, MOST_MONTHS + 1):
        longer = replace(start, months_before=months)
        if series_power(longer, points, months_after) >= power:
            return months
    return None

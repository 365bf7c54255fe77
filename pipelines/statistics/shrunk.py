"""A course of months with priors: a Gaussian linear model in closed form, no sampler.

Observed months are ``columns @ coefficients``, with chance of known variance, and on top of it a
variation of months of unknown size whose neighbours may be alike (first-order autoregression).
Coefficients have independent normal priors around zero (ridge; Bayesian linear regression as in
Gelman and others, Bayesian Data Analysis, chapter 14, from memory). Size and likeness of the
variation are tried on a grid and weighed by their marginal likelihood, so that their doubt widens
the answer. Which numbers the priors have stands in priors.toml.
"""

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
HOME: Final = Path(__file__).with_name("priors.toml")


@cache
def numbers() -> dict[str, Any]:
    """Return priors.toml."""
    return tomllib.loads(HOME.read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Posterior:
    """Coefficients after the months were seen, the variation of months averaged over.

    ``apart``: standard deviation of months beyond chance, as the answer allows for it;
    ``likeliest``: the same where it is most likely; ``alike``: likeness of neighbours in it.
    """

    mean: Floats
    covariance: Floats
    apart: float
    likeliest: float
    alike: float


@dataclass(frozen=True)
class _Grid:
    """Sizes and likenesses tried, one of each per place, with the log of their prior weight."""

    apart: Floats
    alike: Floats
    weight: Floats
    width: Floats  # of the stretch of sizes that each stands for


@cache
def _grid() -> _Grid:
    told = numbers()["months"]
    tried = [
        (apart, alike, share)
        for apart in told["apart_tried"]
        for alike, share in zip(told["alike_tried"], told["alike_weight"], strict=True)
        if apart > 0 or alike == 0
    ]
    apart, alike, share = np.array(tried, dtype=float).T
    share = np.where(apart == 0, 1.0, share)
    # Each size stands for the stretch half way to its neighbours.
    sizes = np.array(told["apart_tried"], dtype=float)
    edges = np.concatenate([[0.0], (sizes[1:] + sizes[:-1]) / 2, [sizes[-1] * 1.2]])
    width = np.diff(edges)[np.searchsorted(sizes, apart)]
    weight = np.log(share * width / (1 + (apart / told["apart"]) ** 2))
    return _Grid(apart, alike, weight, width)


@dataclass(frozen=True)
class Seen:
    """Months as they were seen. ``variance``: of each by chance alone.

    ``unit``: what one log-odds is worth on the scale of ``value``. ``group``: months of different
    groups (units) are never alike.
    """

    month: npt.NDArray[np.int64]
    value: Floats
    variance: Floats
    unit: float = 1.0
    group: npt.NDArray[np.int64] | None = None


def covariances(seen: Seen, apart: Floats, alike: Floats) -> Floats:
    """Return one covariance of the months per pair of size and likeness."""
    distance = np.abs(seen.month[:, None] - seen.month[None, :])
    near = alike[:, None, None] ** distance
    if seen.group is not None:
        near = np.where(seen.group[:, None] == seen.group[None, :], near, 0.0)
    return np.asarray(np.diag(seen.variance) + apart[:, None, None] ** 2 * near)


def solve(
    columns: Floats, value: Floats, variances: Floats, spread: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return mean, covariance and log marginal likelihood (up to a constant) for each variance."""
    inverse = np.linalg.inv(variances)
    weighed = np.einsum("ij,kil->kjl", columns, inverse)  # X' V^-1
    precision = weighed @ columns + np.diag(1 / spread**2)
    covariance = np.linalg.inv(precision)
    mean = np.einsum("kij,kj->ki", covariance, weighed @ value)
    misfit = np.einsum("i,kij,j->k", value, inverse, value)
    misfit -= np.einsum("ki,ki->k", mean, weighed @ value)
    log_size = np.linalg.slogdet(variances)[1] + np.linalg.slogdet(precision)[1]
    return mean, covariance, np.asarray(-(log_size + misfit) / 2)


def posterior(columns: Floats, seen: Seen, spread: Sequence[float] | Floats) -> Posterior:
    """Return the coefficients given the months.

    ``spread``: prior standard deviation of each coefficient.
    """
    grid = _grid()
    apart = grid.apart * seen.unit
    variances = covariances(seen, apart, grid.alike)
    means, covariance, likelihood = solve(columns, seen.value, variances, np.asarray(spread, float))
    weight = np.exp(likelihood + grid.weight - (likelihood + grid.weight).max())
    weight /= weight.sum()
    mean = weight @ means
    off = means - mean
    whole = np.einsum("k,kij->ij", weight, covariance) + (weight[:, None] * off).T @ off
    dense = [
        weight[apart == each].sum() / grid.width[apart == each][0] for each in np.unique(apart)
    ]
    likeliest = float(np.unique(apart)[int(np.argmax(dense))])
    return Posterior(mean, whole, float(weight @ apart), likeliest, float(weight @ grid.alike))

"""Draws that several modules share; all of them over whole arrays."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from synthetic_data.scenario import Bools, Floats

Objects = npt.NDArray[np.object_]


def pick(rng: np.random.Generator, shares: Mapping[str, float], n: int) -> Objects:
    """Draw ``n`` names in proportion to their shares."""
    cuts = np.cumsum(np.array(list(shares.values()), dtype=float))
    codes = np.searchsorted(cuts / cuts[-1], rng.random(n), side="right")
    return np.array(list(shares), dtype=object)[np.minimum(codes, len(shares) - 1)]


def chance(rng: np.random.Generator, share: Floats | float, n: int) -> Bools:
    """Draw ``n`` yes or no, each with its share."""
    return np.asarray(rng.random(n) < share)


def delay(
    rng: np.random.Generator, spec: Mapping[str, float], n: int, times: Floats | float = 1.0
) -> Floats:
    """Draw ``n`` log-normal delays in whole minutes: the median times a factor."""
    return np.asarray(
        np.round(spec["median"] * times * np.exp(spec["spread"] * rng.normal(size=n)))
    )


def expit(logit: Floats) -> Floats:
    """Return the share that belongs to a logit."""
    return np.asarray(1.0 / (1.0 + np.exp(-logit)))


def logit(share: float) -> float:
    """Return the logit of a share."""
    return float(np.log(share / (1.0 - share)))


def choose(where: Bools, yes: Any, no: Any) -> Objects:
    """Return an array of objects: ``yes`` (array or one value) where asked, else ``no``."""
    chosen = np.empty(len(where), dtype=object)
    chosen[:] = no
    chosen[where] = yes[where] if isinstance(yes, np.ndarray) else yes
    return chosen


def blank(values: Any, where: Bools) -> Floats:
    """Return the values as floats with ``nan`` where asked."""
    return np.asarray(np.where(where, np.nan, np.asarray(values, dtype=float)))

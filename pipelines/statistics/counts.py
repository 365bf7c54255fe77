"""Tables of chances of counts, made for all periods of a chart at once."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import special

from pipelines.statistics.sigma import Array


def beta_binomial_cdf(size: NDArray[np.int_], alpha: Array, beta: Array) -> Array:
    """Return cumulative chances (row: period, column: count from 0 to the largest size)."""
    return _cumulative(size.tobytes(), alpha.tobytes(), beta.tobytes())


@lru_cache(maxsize=8)
def _cumulative(sizes: bytes, alphas: bytes, betas: bytes) -> Array:
    """Return the table of :func:`beta_binomial_cdf`; a chart asks it for limits and for tails.

    Each chance follows from the one before: that of k + 1 is (n - k) (a + k) / ((k + 1)
    (b + n - k - 1)) times that of k.
    """
    n = np.frombuffer(sizes, np.int_)[:, None]
    a, b = (np.frombuffer(each)[:, None] for each in (alphas, betas))
    count = np.arange(int(n.max()))
    inside = count < n
    left = np.maximum(n - count, 1)  # newborns left before one more is met
    ratio = left * (a + count) / ((count + 1) * (b + left - 1))
    logs = np.zeros((len(n), len(count) + 1))
    np.cumsum(np.where(inside, np.log(ratio), 0.0), axis=1, out=logs[:, 1:])
    logs -= logs.max(axis=1, keepdims=True)
    chances = np.exp(logs, out=logs)
    chances[:, 1:] *= inside
    below = np.cumsum(chances, axis=1)
    below /= below[:, -1:]
    below.flags.writeable = False
    return below


def below_and_above(
    under: Array, upto: Array, size: NDArray[np.int_], rate: Array
) -> tuple[Array, Array]:
    """Return the binomial chances of at most ``under``, and of more than ``upto``, of each size.

    ``rate``: (grid, periods or 1). Where no count lies on the middle the two are one number, and
    one minus the other.
    """
    not_above = special.bdtr(upto, size, rate)
    below = not_above.copy()
    on = np.flatnonzero(under != upto)
    count = under[on]
    there = special.bdtr(np.maximum(count, 0), size[on], np.broadcast_to(rate, below.shape)[:, on])
    below[:, on] = np.where(count >= 0, there, 0)
    return below, 1 - not_above

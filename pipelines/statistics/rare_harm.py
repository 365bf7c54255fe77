"""Rare harm, newborn by newborn: a sum of log-likelihood ratios, adjusted for risk.

Each newborn adds log(R^y / (1 - p + R p)): y is 1 where the event came, p its chance as it was
known before care, R the odds ratio that is looked for. The sum never falls below 0; at its limit it
signals and begins anew (Steiner, Cook, Farewell and Treasure, Biostatistics 2000;1:441, from
memory). The limit is found by drawing histories in which nothing changes, with a season, and with
the doubt of a baseline of few events, so that the promised share of false alarms holds for short
baselines too. Which numbers it works with stands in rare_harm.toml.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from scipy import special

Floats = npt.NDArray[np.float64]
HOME: Final = Path(__file__).with_suffix(".toml")
TRUTH: Final = HOME.with_name("rare_harm_truth.toml")  # written by tests/benchmark/rare_harm.py
YEAR: Final = 12
_STEPS: Final = 50  # of Newton's method; a fit of a few groups takes under ten
_CLOSE: Final = 1e-10


@cache
def numbers() -> Mapping[str, Any]:
    """Return rare_harm.toml."""
    return tomllib.loads(HOME.read_text(encoding="utf-8"))


@cache
def measured() -> list[dict[str, Any]]:
    """Return what was measured of kinds of history, one row each (rare_harm_truth.toml).

    name, is_quiet (nothing gets worse), series, and in_12_months, in_24_months, in_60_months: the
    share of 1 that signals so soon after the baseline.
    """
    found = tomllib.loads(TRUTH.read_text(encoding="utf-8"))
    return [dict(row) for row in found["kind"]]


def fitted(groups: Floats, events: Floats, of: Floats, spread: float) -> Floats:
    """Return intercept and steps of a logistic model whose steps are held near zero.

    ``groups``: one row a group, one column a step, 0 or 1. ``events`` of ``of`` newborns in each.
    ``spread``: prior SD of a step; the intercept is free, so that as many are expected as came.
    The maximum of the penalised likelihood, by Newton's method (ridge logistic regression: le
    Cessie and van Houwelingen, Applied Statistics 1992;41:191, from memory).
    """
    columns = np.column_stack([np.ones(len(groups)), groups])
    held = np.append(0.0, np.full(groups.shape[1], 1 / spread**2))

    def likelihood(at: Floats) -> float:
        line = columns @ at
        return float(events @ line - of @ np.logaddexp(0, line) - held @ at**2 / 2)

    at = np.zeros(columns.shape[1])
    at[0] = special.logit((events.sum() + 0.5) / (of.sum() + 1))
    for _ in range(_STEPS):
        p = special.expit(columns @ at)
        slope = columns.T @ (events - of * p) - held * at
        curve = (columns * (of * p * (1 - p))[:, None]).T @ columns + np.diag(held)
        step = np.linalg.solve(curve, slope)
        # A full step from rare events can overshoot to where no likelihood is left to climb.
        while np.abs(step).max() >= _CLOSE and likelihood(at + step) < likelihood(at):
            step = step / 2
        at = at + step
        if np.abs(step).max() < _CLOSE:
            break
    return at


def chances(groups: Floats, coefficients: Floats) -> Floats:
    """Return each group's chance of the event."""
    return np.asarray(special.expit(coefficients[0] + groups @ coefficients[1:]))


def scores(chance: Floats, happened: npt.NDArray[np.bool_], odds_ratio: float) -> Floats:
    """Return what each newborn adds: its log-likelihood ratio of ``odds_ratio`` against 1."""
    return np.asarray(
        np.where(happened, np.log(odds_ratio), 0.0) - np.log1p((odds_ratio - 1) * chance)
    )


def sums(added: Floats, limit: float) -> tuple[Floats, npt.NDArray[np.int64]]:
    """Return the sum after each newborn, and the places at which it reaches the limit.

    A sum that signals is shown as it stands; the next newborn begins at 0.
    """
    path, signals, at = np.empty(len(added)), [], 0.0
    for place, score in enumerate(added.tolist()):
        at = max(0.0, at + score)
        path[place] = at
        if at >= limit:
            signals.append(place)
            at = 0.0
    return path, np.array(signals, dtype=np.int64)


def over(added: Floats) -> int | None:
    """Return the place at which a harm that was found is over; None while it is not.

    ``added``: what each newborn after the signal adds (:func:`scores`). It is over once they have
    said the odds of ``[over]`` to one that it comes as often as expected again, and not
    ``odds_ratio`` times as often: the same sum downwards, from its highest since (Page, Biometrika
    1954;41:100, from memory). That the sum began anew is no end. Of harms that go on twice as
    often, at one expected a month, 7 in 100 are called over within three years, of those that end
    54 in one and 99 in three (1,000 draws; a test draws some again).
    """
    height = np.concatenate([[0.0], np.cumsum(added)])
    fallen = np.maximum.accumulate(height) - height
    at = np.flatnonzero(fallen[1:] >= np.log(numbers()["over"]["odds"]))
    return int(at[0]) if len(at) else None


@dataclass(frozen=True)
class Limit:
    """A limit and what it is worth, by drawing. ``height``: of the sum.

    ``false_alarms``: months after the baseline -> share of histories without a change that
    signal. ``found``: share of histories in which twice the odds are found within a year.
    """

    height: float
    false_alarms: Mapping[int, float]
    found: float


def limit_for(baseline_events: int, a_month: float) -> Limit:
    """Return the limit for a baseline of so many events and so many expected a month.

    The same for the same numbers: what is drawn is seeded.
    """
    return _limit_for(baseline_events, float(f"{a_month:.2g}"))


@lru_cache(maxsize=4096)
def _limit_for(baseline_events: int, a_month: float) -> Limit:
    told = numbers()
    allowed = {int(months): share for months, share in told["false_alarms"].items()}
    rng = np.random.default_rng(told["drawn"]["seed"])
    highest = _highest(rng, baseline_events, a_month, sorted(allowed), 1.0)
    height = max(float(np.quantile(highest[months], 1 - allowed[months])) for months in allowed)
    height = np.ceil(100 * height) / 100  # as a page prints it
    reached = {months: float((highest[months] >= height).mean()) for months in sorted(allowed)}
    moved = _highest(rng, baseline_events, a_month, [YEAR], told["odds_ratio"])
    return Limit(float(height), reached, float((moved[YEAR] >= height).mean()))


def _highest(
    rng: np.random.Generator, events: int, a_month: float, months: list[int], times: float
) -> dict[int, Floats]:
    """Draw histories and return the highest sum of each by the end of so many months.

    ``times``: how many times as often as before the event comes. The true level is drawn from
    what ``events`` of a baseline leave possible (Jeffreys' prior of a Poisson rate).
    """
    told, ratio = numbers()["drawn"], float(numbers()["odds_ratio"])
    histories = int(told["histories"])
    slots = max(1, int(np.ceil(a_month * told["steps_to_an_event"])))
    expected = a_month / slots
    level = times * rng.gamma(events + 0.5, 1 / events, histories)
    level = level * np.exp(rng.normal(0.0, told["drift"], histories))
    waves = rng.normal(0.0, told["season"], (2, histories))
    up, down = np.log(ratio), np.log1p((ratio - 1) * expected)
    at, top, found = np.zeros(histories), np.zeros(histories), {}
    for month in range(1, months[-1] + 1):
        angle = 2 * np.pi * month / YEAR
        rate = level * np.exp(waves[0] * np.cos(angle) + waves[1] * np.sin(angle)) * expected
        happened = rng.random((slots, histories)) < -np.expm1(-rate)
        for slot in happened:
            at = np.maximum(at + up * slot - down, 0.0)
            np.maximum(top, at, out=top)
        if month in months:
            found[month] = top.copy()
    return found


@dataclass(frozen=True)
class Watched:
    """Newborns in order of birth, each with its expected chance, and the sum after the baseline.

    ``baseline``: how many newborns from the first on the chances were learned from, in
    ``months``, with ``events``. ``path``: the sum after each newborn, NaN in the baseline;
    ``signals``: places (of all newborns) at which it reached the limit; ``ends``: of each the place
    at which it was over (:func:`over`), how many newborns there are where it is not.
    """

    chance: Floats
    path: Floats
    signals: npt.NDArray[np.int64]
    ends: npt.NDArray[np.int64]
    limit: Limit
    baseline: int
    months: int
    events: int

    def run_of(self, signal: int) -> slice:
        """Return the newborns from the last 0 of the sum to a signal."""
        earlier = self.signals[self.signals < signal]
        first = int(earlier[-1]) + 1 if len(earlier) else self.baseline
        zero = np.flatnonzero(self.path[first:signal] == 0)
        return slice(first + int(zero[-1]) + 1 if len(zero) else first, signal + 1)


def watch(
    groups: Floats, happened: npt.NDArray[np.bool_], month: npt.NDArray[np.int64]
) -> Watched | None:
    """Watch the newborns of one measure; None where the baseline holds too few events.

    One row a newborn, in order of birth. ``groups``: 0 or 1 for each step of what was known
    before care. ``month``: number of the month of birth, never falling.
    """
    told = numbers()
    baseline = _baseline(happened, month)
    if baseline is None:
        return None
    newborns, months = baseline
    cells, place = _cells(groups)
    of = np.bincount(place[:newborns], minlength=len(cells)).astype(float)
    came = np.bincount(place[:newborns], happened[:newborns], len(cells)).astype(float)
    known = of > 0
    fit = fitted(cells[known], came[known], of[known], float(told["chance"]["spread"]))
    chance = chances(cells, fit)[place]
    events = int(happened[:newborns].sum())
    limit = limit_for(events, events / months)
    added = scores(chance, happened, float(told["odds_ratio"]))
    path, signals = sums(added[newborns:], limit.height)
    whole = np.concatenate([np.full(newborns, np.nan), path])
    signals = signals + newborns
    ends = np.array([_end(added, int(at)) for at in signals], dtype=np.int64)
    return Watched(chance, whole, signals, ends, limit, newborns, months, events)


def _end(added: Floats, signal: int) -> int:
    at = over(added[signal + 1 :])
    return len(added) if at is None else signal + 1 + at


def _cells(groups: Floats) -> tuple[Floats, npt.NDArray[np.int64]]:
    """Return the different rows of 0 and 1, at most 52 columns, and which of them each row is."""
    code = groups @ 2.0 ** np.arange(groups.shape[1])
    _, first, place = np.unique(code, return_index=True, return_inverse=True)
    return groups[first], place


def _baseline(
    happened: npt.NDArray[np.bool_], month: npt.NDArray[np.int64]
) -> tuple[int, int] | None:
    """Return how many newborns and months the baseline has: the fewest that hold enough."""
    told = numbers()
    if not len(month):
        return None
    for months in range(int(told["baseline_months"]), int(told["longest_baseline"]) + 1):
        newborns = int((month < month[0] + months).sum())
        if newborns == len(month):
            return None
        if happened[:newborns].sum() >= told["fewest_events"]:
            return newborns, months
    return None

"""How often the sum of rare harm cries wolf, and how often it finds twice the odds.

``python -m tests.benchmark.rare_harm`` prints the table, with ``--write`` it renews
``pipelines/statistics/rare_harm_truth.toml``, which the page prints. Newborns are drawn one by one
with numpy alone: births Poisson, each with a gestation, a mode and a place of birth and its own
true chance; nothing of the project draws. Nothing here is a newborn.
"""

import argparse
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.statistics import rare_harm

PATH = rare_harm.TRUTH
SEED = 20261130
SERIES = 1000
BEFORE, AFTER = 12, 60  # months: of a baseline, and after it
YEARS = (24, 60)
# Share of births and log odds of each word of what is known before care.
GESTATION = ((0.003, 2.5), (0.008, 2.0), (0.009, 1.5), (0.08, 0.8), (0.9, 0.0))
MODE = ((0.62, 0.0), (0.06, 0.3), (0.16, 0.2), (0.16, 0.5))
PLACE = ((0.02, 1.5), (0.98, 0.0))
KNOWN = (GESTATION, MODE, PLACE)


@dataclass(frozen=True)
class Kind:
    """A kind of history. ``odds``: from the baseline's end on; ``preterm``: times as many."""

    name: str
    a_month: float
    births: float = 250
    season: float = 0.0
    preterm: float = 1.0
    odds: float = 1.0


KINDS = (
    Kind("nothing changes, 0.6 a month", 0.6),
    Kind("nothing changes, 1.5 a month", 1.5),
    Kind("nothing changes, 4 a month", 4.0),
    Kind("nothing changes, 1.5 a month of 60 births", 1.5, births=60),
    Kind("a season of 30 % to either side, 4 a month", 4.0, season=0.3),
    Kind("twice as many born before 37 weeks, 1.5 a month", 1.5, preterm=2.0),
    Kind("twice as many born before 37 weeks, 4 a month", 4.0, preterm=2.0),
    Kind("twice the odds, 0.6 a month", 0.6, odds=2.0),
    Kind("twice the odds, 1.5 a month", 1.5, odds=2.0),
    Kind("twice the odds, 4 a month", 4.0, odds=2.0),
    Kind("half as much again, 4 a month", 4.0, odds=1.5),
)


def _drawn(
    rng: np.random.Generator, births: int, preterm: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Draw who is born: the columns of what is known, and the log odds beside the intercept."""
    columns, odds = [], np.zeros(births)
    for known in KNOWN:
        share = np.array([each for each, _ in known])
        share = np.tile(share / share.sum(), (births, 1))
        if known is GESTATION:
            share[:, :-1] *= preterm[:, None]
            share[:, -1] = 1 - share[:, :-1].sum(axis=1)
        word = (rng.random(births)[:, None] > share.cumsum(axis=1)[:, :-1]).sum(axis=1)
        columns.append(np.eye(len(known))[word])
        odds += np.array([each for _, each in known])[word]
    return np.hstack(columns), odds


def _intercept(a_birth: float) -> float:
    """Return the log odds of the usual newborn at which so many of all have the event."""
    grid = [(1.0, 0.0)]
    for known in KNOWN:
        whole = sum(share for share, _ in known)
        grid = [(p * share / whole, at + odds) for p, at in grid for share, odds in known]
    share, odds = np.array(grid).T
    low, high = -20.0, 5.0
    for _ in range(60):
        middle = (low + high) / 2
        mean = float(share @ (1 / (1 + np.exp(-(middle + odds)))))
        low, high = (middle, high) if mean < a_birth else (low, middle)
    return low


def one(rng: np.random.Generator, kind: Kind) -> float | None:
    """Draw one history and return the month after the baseline of its first signal.

    Infinite: none; None: its baseline has too few events.
    """
    births = np.maximum(rng.poisson(kind.births, BEFORE + AFTER), 1)
    month = np.repeat(np.arange(BEFORE + AFTER), births)
    is_after = month >= BEFORE
    preterm = np.where(is_after, kind.preterm, 1.0)
    columns, odds = _drawn(rng, len(month), preterm)
    wave = kind.season * np.cos(2 * np.pi * (month / 12 + rng.random()))
    logit = _intercept(kind.a_month / kind.births) + odds + np.log1p(wave)
    logit += np.where(is_after, np.log(kind.odds), 0.0)
    happened = rng.random(len(month)) < 1 / (1 + np.exp(-logit))
    watched = rare_harm.watch(columns, happened, month)
    if watched is None:
        return None
    first = month[watched.signals[:1]] - watched.months + 1
    return float(first[0]) if len(first) else np.inf


def measure(kind: Kind, seed: Sequence[int], series: int) -> dict[str, object]:
    """Return of one kind how many signal within one, two and five years."""
    rng = np.random.default_rng(seed)
    drawn = [one(rng, kind) for _ in range(series)]
    known = np.array([each for each in drawn if each is not None])
    shares = {f"in_{end}_months": round(float((known <= end).mean()), 4) for end in (12, *YEARS)}
    return {
        "name": kind.name,
        "is_quiet": kind.odds == 1,
        "series": series,
        "watched": round(len(known) / series, 4),
        **shares,
    }


def levels() -> dict[str, object]:
    """Return every number that the measured shares depend on, flat."""
    told = rare_harm.numbers()
    return {
        key: value if not isinstance(value, dict) else str(dict(sorted(value.items())))
        for key, value in told.items()
        if key != "over"  # when an alarm ends changes no signal
    }


def write(rows: list[dict[str, object]]) -> None:
    lines = [
        "# Measured, not chosen: python -m tests.benchmark.rare_harm --write renews this file.",
        "# Shares of histories that signal within so many months after the baseline.",
        f"measured_on = {dt.date.today():%Y-%m-%d}",
        f"seed = {SEED}",
        "",
        "[levels]",
        *(f"{key} = {_toml(value)}" for key, value in levels().items()),
    ]
    for row in rows:
        lines += ["", "[[kind]]", *(f"{key} = {_toml(value)}" for key, value in row.items())]
    PATH.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else str(value)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--series", type=int, default=SERIES)
    parser.add_argument("--write", action="store_true", help="renew rare_harm_truth.toml")
    args = parser.parse_args()
    rows = []
    for place, kind in enumerate(KINDS):
        rows.append(measure(kind, (SEED, place), args.series))
        print(rows[-1], flush=True)
    print(pd.DataFrame(rows).to_string(index=False))
    if args.write:
        write(rows)


if __name__ == "__main__":
    main()

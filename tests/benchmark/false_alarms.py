"""How often the charts cry wolf, and how soon they find a fall.

``python tests/benchmark/false_alarms.py`` prints the tables, and with ``--write`` renews
``pipelines/statistics/false_alarms.toml``, which the pages print beside the setting. Series are
drawn month by month with numpy and scipy alone: births Poisson, newborns met binomial, with a
season, with months that are like their neighbours or vary more than chance. Nothing here is a
newborn.
"""

import argparse
import datetime as dt
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from pipelines.statistics import (
    charting,
    expected,
    many,
    periods,
    phases,
    rules,
    runs,
    season,
    sigma,
)
from pipelines.statistics.chance import Share
from pipelines.statistics.false_alarms import PATH
from pipelines.statistics.over_time import OverTime, over_time
from pipelines.statistics.phase_by_phase import OfItself, judge_phases
from tests.statistics import classical

SEED = 20261125
SERIES = 1000  # of each row
MONTHS = 24
LONG = 60
FALL_AFTER = 12
FALL = 0.10
FOUND_WITHIN = 6
BIRTHS = (20, 100, 350)  # a month, in a small, a middle and a large unit
SHARES = (0.6, 0.85, 0.97)
FALL_BIRTHS = (20, 40, 100, 250)
FALL_SHARES = (0.7, 0.9)
EVERY_RULE = rules.WITH_LIMITS


def months(number: int) -> pd.DatetimeIndex:
    return pd.date_range("2024-01-01", periods=number, freq="MS")


def draw(
    rng: np.random.Generator,
    births: float,
    share: float | Sequence[float],
    number: int = MONTHS,
    *,
    sigma_z: float = 1.0,
    season: float = 0.0,
    likeness: float = 0.0,
) -> pd.DataFrame:
    """Draw one series; ``sigma_z`` above 1 lets the true share vary from month to month.

    ``season``: points (of 1) that the true share swings to either side over a year, its peak in
    any month; ``likeness``: correlation of neighbouring months, which vary no more than chance.
    """
    counted = np.maximum(rng.poisson(births, number), 1)
    true = np.broadcast_to(np.asarray(share, float), (number,))
    if season:
        true = true + season * np.cos(2 * np.pi * (np.arange(number) / 12 + rng.random()))
    if sigma_z > 1:
        weight = (births - 1) / (sigma_z**2 - 1) - 1
        true = rng.beta(true * weight, (1 - true) * weight)
    true = np.clip(true, 0, 1)
    met = rng.binomial(counted, true)
    if likeness:
        met = stats.binom.ppf(stats.norm.cdf(alike(rng, number, likeness)), counted, true)
    return pd.DataFrame({"month": months(number), "numerator": met, "counted": counted})


def alike(rng: np.random.Generator, number: int, likeness: float) -> np.ndarray:
    """Draw normal values of which neighbours have that correlation."""
    values = rng.standard_normal(number)
    for place in range(1, number):
        values[place] = likeness * values[place - 1] + np.sqrt(1 - likeness**2) * values[place]
    return values


@dataclass(frozen=True)
class Spoken:
    """What a chart of months says: its signals, one value each, and what it says of itself."""

    period: np.ndarray
    last_period: np.ndarray
    rule: np.ndarray
    direction: np.ndarray
    says: OfItself

    def first(self, chosen: np.ndarray | None = None) -> float:
        """Return the period in which the first of its signals speaks; infinite without any."""
        own = self.period if chosen is None else self.period[chosen]
        return float(min(own, default=np.inf))


def charted(drawn: pd.DataFrame) -> charting.Charted:
    """Chart a share by month, as ``over_time`` chooses to where months have ten newborns."""
    points = periods.by_month(drawn)
    return charting.Charted(points, learn_share, "p", periods.MONTH, "up")


def learn_share(basis: pd.DataFrame) -> Share:
    return Share.of(basis["total"].to_numpy(float), basis["size"].to_numpy(float))


def whole(points: int) -> phases.Phase:
    """Lay one phase over all points: nothing was changed or accepted."""
    return phases.Phase(0, points, phases.POINTS_AT_LEAST, points, phases.START, None)


def judged(drawn: pd.DataFrame) -> Spoken:
    """Judge one series of months as ``over_time`` does, without the frames that a page reads."""
    found = judge_phases(charted(drawn), [whole(len(drawn))])
    signals = [one for _, one in found.found]
    at, last = (
        np.array([getattr(one, name) for one in signals], int) + 1 for name in ("at", "last")
    )
    rule, way = (
        np.array([getattr(one, name) for one in signals], str) for name in ("rule", "direction")
    )
    return Spoken(at, last, rule, way, found.says)


def sees(drawn: pd.DataFrame) -> float:
    """Return how surely the chart of these months says that it would see a fall."""
    points = charted(drawn).points
    chance = learn_share(points.head(phases.POINTS_AT_LEAST))
    beside = expected.learn(chance, points, [whole(len(points))], 0)
    said = many.sees(chance, points["size"].to_numpy(float), beside, is_fall=True)
    assert said is not None
    return said


def charts(
    seed: Sequence[int], births: float, share: Any, series: int, **how: Any
) -> Iterator[tuple[pd.DataFrame, Spoken]]:
    """Draw that many series, each with its chart, so that one run measures each set of rules."""
    rng = np.random.default_rng(seed)
    for _ in range(series):
        drawn = draw(rng, births, share, **how)
        yield drawn, judged(drawn)


@dataclass(frozen=True)
class Quiet:
    """Months in which nothing is going on, and what they are like all the same."""

    words: str
    births: int = 250
    share: float = 0.8
    how: Mapping[str, float] = field(default_factory=dict)


QUIETS = (
    Quiet("nothing at all"),
    Quiet("a season of 3 points", how={"season": 0.03}),
    Quiet("a season of 5 points", how={"season": 0.05}),
    Quiet("neighbouring months alike (0.3)", how={"likeness": 0.3}),
    Quiet("months that vary 1.3 times as much as chance", how={"sigma_z": 1.3}),
    Quiet("a season of 5 points", births=40, how={"season": 0.05}),
)


def quiet(one: Quiet, seed: Sequence[int], series: int) -> dict:
    """Return the share of charts that signal within two and five years, and in a usual month.

    Limits do not move with later months, so the first two years of five are two years. ``now``:
    of the months after the first twelve, how many are reached by a signal that has spoken;
    ``said``: what the charts themselves say of their last month.
    """
    spoken = []
    for _, chart in charts(seed, one.births, one.share, series, number=LONG, **one.how):
        first = chart.first()
        spoken.append((first <= MONTHS, first <= LONG, _reached(chart), chart.says.now_by_chance))
    two, five, now, said = (round(float(each), 4) for each in np.mean(spoken, axis=0))
    told = {"months_are": one.words, "births_a_month": one.births, "share": one.share}
    return {**told, "in_24_months": two, "in_60_months": five, "now": now, "said_now": said}


def _reached(chart: Spoken) -> float:
    """Return the share of the months after the baseline that a signal reaches once it spoke."""
    month = np.arange(FALL_AFTER + 1, LONG + 1)[:, None]
    return float(((chart.period <= month) & (chart.last_period >= month)).any(axis=1).mean())


def classical_speaks(drawn: pd.DataFrame) -> bool:
    """Return whether the textbook set speaks: three sigma, eight in a row, six rising.

    Limits from the same first twelve months, their rate taken for the truth.
    """
    events, counted = drawn["numerator"].to_numpy(float), drawn["counted"].to_numpy(float)
    centre = Share.of(events[:FALL_AFTER], counted[:FALL_AFTER]).centre
    rate, width = events / counted, classical.WIDTH * sigma.share_sigma(centre, counted)
    counts = runs.runs_about(rate, centre)
    is_outside = bool((np.abs(rate - centre) > width).any())
    return is_outside or counts.longest_run >= 8 or classical.longest_trend(rate) >= 6


def in_control(births: float, share: float, seed: Sequence[int], series: int, **how: Any) -> dict:
    """Return the share of charts without any change on which each set speaks."""
    spoken = []
    for drawn, chart in charts(seed, births, share, series, **how):
        spoken.append(
            {
                "default": len(chart.period) > 0,
                "textbook": classical_speaks(drawn),
                **{name: name in chart.rule for name in EVERY_RULE},
            }
        )
    shares = pd.DataFrame(spoken).mean().round(4).to_dict()
    return {"births_a_month": births, "share": share, **shares}


def falls(births: float, share: float, seed: Sequence[int], series: int) -> dict:
    """Return how many falls of ten points are found within six months, and the median month.

    ``said``: what a chart of the months before the fall says of itself.
    """
    before = 2 * FALL_AFTER
    true = np.where(np.arange(before + FOUND_WITHIN) < before, share, share - FALL)
    first, said = [], []
    for drawn, chart in charts(seed, births, true, series, number=len(true)):
        is_found = (chart.direction == "down") & (chart.period > before)
        first.append(chart.first(is_found) - before)
        said.append(sees(drawn.head(before)))
    return {
        "births_a_month": births,
        "from_share": share,
        "to_share": round(share - FALL, 2),
        "default": round(float(np.mean(np.isfinite(first))), 4),
        "said": round(float(np.mean(said)), 4),
        "default_median_month": _median_month(first),
    }


def _median_month(found: list[float]) -> int:
    """Return the month by which half of the falls are found; 0 where fewer are in six."""
    middle = float(np.sort(found)[(len(found) - 1) // 2])
    return int(middle) if np.isfinite(middle) else 0


@dataclass(frozen=True)
class Other:
    """A chart other than the share by month: what it is, and how one of it is drawn."""

    chart: str
    words: str

    def speaks(self, rng: np.random.Generator) -> tuple[bool, bool]:
        """Draw one: whether it signals, and whether a signal reaches its last period."""
        drawn = DRAWN[self.chart](rng)
        return bool(len(drawn.signals)), bool(len(drawn.current))


def _blocks(rng: np.random.Generator) -> OverTime:
    drawn = draw(rng, 7, 0.85)
    births = pd.DataFrame({"month": drawn["month"].repeat(drawn["counted"])})
    births["is_met"] = rng.random(len(births)) < 0.85
    drawn["numerator"] = births.groupby("month")["is_met"].sum().to_numpy()
    return over_time(drawn, kind="proportion", direction="higher", births=births)


def _gaps(rng: np.random.Generator) -> OverTime:
    births = pd.DataFrame({"month": months(48).repeat(100)})
    births["is_met"] = rng.random(len(births)) < 0.006
    monthly = births.groupby("month")["is_met"].agg(numerator="sum", counted="size").reset_index()
    return over_time(monthly, kind="rare", direction="lower", births=births)


def _days(rng: np.random.Generator) -> OverTime:
    days = np.cumsum(rng.exponential(40, 30)).round().repeat(3)
    births = pd.DataFrame({"born_on": pd.Timestamp("2022-01-01") + pd.to_timedelta(days, unit="D")})
    births["is_met"] = np.arange(len(births)) % 3 == 0  # each event among two births without
    births["month"] = births["born_on"].dt.to_period("M").dt.to_timestamp()
    monthly = births.groupby("month")["is_met"].agg(numerator="sum", counted="size").reset_index()
    return over_time(monthly, kind="rare", direction="lower", births=births, between="days")


def _minutes(rng: np.random.Generator) -> OverTime:
    medians = [np.median(rng.lognormal(3.4, 0.6, 100)) for _ in range(MONTHS)]
    drawn = pd.DataFrame({"month": months(MONTHS), "numerator": medians, "counted": 100})
    return over_time(drawn, kind="minutes", direction="lower")


def _counts(rng: np.random.Generator) -> OverTime:
    drawn = pd.DataFrame({"month": months(MONTHS), "numerator": rng.poisson(6, MONTHS)})
    return over_time(drawn.assign(counted=1), kind="count", direction="lower")


def _rates(rng: np.random.Generator) -> OverTime:
    exposure = np.maximum(rng.poisson(100, MONTHS), 1)
    drawn = pd.DataFrame({"month": months(MONTHS), "counted": exposure})
    drawn["numerator"] = rng.poisson(exposure * 0.3)
    return over_time(drawn, kind="rate", direction="lower")


def _run_chart(rng: np.random.Generator) -> OverTime:
    return over_time(draw(rng, 100, 0.8, 11), kind="proportion", direction="higher")


def _accepted(rng: np.random.Generator, number: int) -> OverTime:
    """Accept a level that is none: nothing moved."""
    level = pd.DataFrame({"start_on": [pd.Timestamp("2025-01-01")], "kind": ["accepted"]})
    drawn = draw(rng, 100, 0.8, number)
    return over_time(drawn, kind="proportion", direction="higher", breaks=level)


def _accepted_without_effect(rng: np.random.Generator) -> OverTime:
    return _accepted(rng, 36)


def _short_baseline(rng: np.random.Generator) -> OverTime:
    return _accepted(rng, 20)


DRAWN = {
    "blocks": _blocks,
    "g": _gaps,
    "t": _days,
    "xmr": _minutes,
    "c": _counts,
    "u": _rates,
    "run": _run_chart,
    "accepted": _accepted_without_effect,
    "short_baseline": _short_baseline,
}
OTHERS = (
    Other("blocks", "blocks of 10 births, 7 births a month, share 0.85, 24 months"),
    Other("g", "births between rare events, 100 births a month, 0.6 events a month, 48 months"),
    Other("t", "days between rare events, 30 events, exponential"),
    Other("xmr", "monthly medians of 100 skewed times, 24 months"),
    Other("c", "counts, 6 a month, 24 months"),
    Other("u", "events per birth, 0.3 at 100 births a month, 24 months"),
    Other("run", "run chart of 11 months, by the limits of Anhoj and Olesen"),
    Other("accepted", "a level accepted after 12 of 36 months, nothing moved, both phases judged"),
    Other("short_baseline", "a level accepted after 12 of 20 months: limits of 8, preliminary"),
)


def other(one: Other, seed: Sequence[int], series: int) -> dict:
    rng = np.random.default_rng(seed)
    spoken = np.mean([one.speaks(rng) for _ in range(series)], axis=0)
    share, now = (round(float(each), 4) for each in spoken)
    return {"chart": one.chart, "words": one.words, "default": share, "now": now}


def rows(series: int) -> Iterator[tuple[str, dict]]:
    """Measure everything; each row has its own seed, so that one row can be measured alone."""
    for row, one in enumerate(QUIETS):
        yield "quiet", quiet(one, (SEED, 5, row), series)
    for row, (births, share) in enumerate(product(BIRTHS, SHARES)):
        yield "in_control", in_control(births, share, (SEED, 1, row), series)
    for row, (births, share) in enumerate(product(FALL_BIRTHS, FALL_SHARES)):
        yield "fall", falls(births, share, (SEED, 3, row), series)
    for row, each in enumerate(OTHERS):
        yield "other", other(each, (SEED, 4, row), series)


def _toml(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value)


def levels_that_ship() -> dict[str, float]:
    """Return every number that the measured shares depend on."""
    return {
        "outside_tail": rules.OUTSIDE_TAIL,
        "together_periods": rules.TOGETHER_PERIODS,
        "together_tail": rules.TOGETHER_TAIL,
        "shift_chance": rules.SHIFT_CHANCE,
        "trend_points": rules.TREND_POINTS,
        "overdispersed_below": sigma.OVERDISPERSED_BELOW,
        "early": expected.EARLY,
        "early_run": expected.EARLY_RUN,
        "season": season.SEASON[0],
        "stepped": season.STEPPED,
        "baseline_periods": phases.POINTS_AT_LEAST,
    }


def write(tables: dict[str, list[dict]], series: int) -> None:
    head = {
        "seed": SEED,
        "series": series,
        "months": MONTHS,
        "fall_points": round(FALL * 100),
        "fall_after_months": 2 * FALL_AFTER,
        "found_within_months": FOUND_WITHIN,
    }
    levels = levels_that_ship()
    lines = [
        "# Measured, not chosen: python tests/benchmark/false_alarms.py --write renews this file.",
        "# Shares of charts on which a set of rules speaks; of falls, the share found in time.",
        f"measured_on = {dt.date.today():%Y-%m-%d}",
        *(f"{key} = {value}" for key, value in head.items()),
        "",
        "[levels]",
        *(f"{key} = {value}" for key, value in levels.items()),
    ]
    for name, rows in tables.items():
        for row in rows:
            lines += ["", f"[[{name}]]"]
            lines += [f"{_key(key)} = {_toml(value)}" for key, value in row.items()]
    PATH.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _key(name: str) -> str:
    return f'"{name}"' if " " in name else name


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--series", type=int, default=SERIES)
    parser.add_argument("--write", action="store_true", help="renew false_alarms.toml")
    args = parser.parse_args()
    tables: dict[str, list[dict]] = {}
    for name, row in rows(args.series):
        tables.setdefault(name, []).append(row)
        print(name, *(f"{key}={value}" for key, value in row.items()), sep="  ", flush=True)
    print(f"{args.series} series each, {time.process_time():.0f} s of one core")
    if args.write:
        write(tables, args.series)


if __name__ == "__main__":
    main()

"""How often the charts cry wolf, and how soon they find a fall.

``python tests/benchmark/false_alarms.py`` prints the tables, and with ``--write`` renews
``pipelines/statistics/false_alarms.toml``, which the pages print beside the setting. Series are
drawn month by month: births Poisson, newborns met binomial. Nothing here is a newborn.
"""

import argparse
import datetime as dt
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from pipelines.statistics import phases, rules, runs, sigma
from pipelines.statistics.chance import Share
from pipelines.statistics.false_alarms import PATH
from pipelines.statistics.over_time import OverTime, over_time
from tests.statistics import classical, sensitive

SEED = 20261125
SERIES = 1000  # of the main table; of each other table four in ten
MONTHS = 24
FALL_AFTER = 12
FALL = 0.10
FOUND_WITHIN = 6
BIRTHS = (20, 100, 350)  # a month, in a small, a middle and a large unit
SHARES = (0.6, 0.75, 0.9, 0.97)
EVERY_RULE = (*rules.WITH_LIMITS, sensitive.EWMA, sensitive.CUSUM)
SIGNAL_COLUMNS = ["rule", "direction", "period"]


def months(number: int) -> pd.DatetimeIndex:
    return pd.date_range("2024-01-01", periods=number, freq="MS")


def draw(
    rng: np.random.Generator,
    births: float,
    share: float | Sequence[float],
    number: int = MONTHS,
    sigma_z: float = 1.0,
) -> pd.DataFrame:
    """Draw one series; ``sigma_z`` above 1 lets the true share vary from month to month."""
    counted = np.maximum(rng.poisson(births, number), 1)
    true = np.broadcast_to(np.asarray(share, float), (number,))
    if sigma_z > 1:
        weight = (births - 1) / (sigma_z**2 - 1) - 1
        true = rng.beta(true * weight, (1 - true) * weight)
    met = rng.binomial(counted, true)
    return pd.DataFrame({"month": months(number), "numerator": met, "counted": counted})


def charts(
    seed: Sequence[int], births: float, share: Any, series: int, **how: Any
) -> Iterator[tuple[pd.DataFrame, pd.DataFrame]]:
    """Draw that many series; with each, what every rule says, so that one run measures each set."""
    rng = np.random.default_rng(seed)
    for _ in range(series):
        drawn = draw(rng, births, share, **how)
        chart = over_time(drawn, kind="proportion", direction="higher")
        yield drawn, pd.concat([chart.signals[SIGNAL_COLUMNS], of_sensitive_pair(drawn)])


def of_sensitive_pair(drawn: pd.DataFrame) -> pd.DataFrame:
    """Return the signals of EWMA and CUSUM, which no page uses, by the law that the page takes."""
    events, counted = (drawn[name].to_numpy(float) for name in ("numerator", "counted"))
    first = slice(phases.POINTS_AT_LEAST)
    periods = rules.Periods(events / counted, events, counted)
    z = sensitive.scores(Share.of(events[first], counted[first]), periods)
    found = sensitive.sensitive_signals(z, phases.POINTS_AT_LEAST)
    rows = [(one.rule, one.direction, one.at + 1) for one in found]
    return pd.DataFrame(rows, columns=SIGNAL_COLUMNS)


def speaks(signals: pd.DataFrame, names: Sequence[str]) -> bool:
    return bool(signals["rule"].isin(names).any())


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
    for drawn, signals in charts(seed, births, share, series, **how):
        spoken.append(
            {
                "default": speaks(signals, rules.WITH_LIMITS),
                "with_sensitive_pair": speaks(signals, EVERY_RULE),
                "textbook": classical_speaks(drawn),
                **{name: speaks(signals, [name]) for name in EVERY_RULE},
            }
        )
    shares = pd.DataFrame(spoken).mean().round(4).to_dict()
    return {"births_a_month": births, "share": share, **shares}


def falls(births: float, share: float, seed: Sequence[int], series: int) -> dict:
    """Return how many falls of ten points are found within six months, and the median month."""
    number = FALL_AFTER + FOUND_WITHIN
    true = np.where(np.arange(number) < FALL_AFTER, share, share - FALL)
    first = {"default": [], "with_sensitive_pair": []}
    for _, signals in charts(seed, births, true, series, number=number):
        down = signals[(signals["direction"] == "down") & (signals["period"] > FALL_AFTER)]
        for name, names in (("default", rules.WITH_LIMITS), ("with_sensitive_pair", EVERY_RULE)):
            first[name].append(down.loc[down["rule"].isin(names), "period"].min() - FALL_AFTER)
    return {
        "births_a_month": births,
        "from_share": share,
        "to_share": round(share - FALL, 2),
        "default": round(float(np.mean(np.isfinite(first["default"]))), 4),
        "with_sensitive_pair": round(float(np.mean(np.isfinite(first["with_sensitive_pair"]))), 4),
        "default_median_month": _median_month(first["default"]),
    }


def _median_month(found: list[float]) -> int:
    """Return the month by which half of the falls are found; 0 where fewer are in six."""
    middle = float(np.sort(np.nan_to_num(found, nan=np.inf))[(len(found) - 1) // 2])
    return int(middle) if np.isfinite(middle) else 0


@dataclass(frozen=True)
class Other:
    """A chart other than the share by month: what it is, and how one of it is drawn."""

    chart: str
    words: str

    def speaks(self, rng: np.random.Generator) -> bool:
        return bool(len(DRAWN[self.chart](rng).signals))


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
    share = float(np.mean([one.speaks(rng) for _ in range(series)]))
    return {"chart": one.chart, "words": one.words, "default": round(share, 4)}


def others_of(series: int) -> int:
    return series * 2 // 5


def measure(series: int) -> dict[str, list[dict]]:
    """Measure everything; each row has its own seed, so that one row can be measured alone."""
    fewer = others_of(series)
    pairs = [(births, share) for births in BIRTHS for share in SHARES]
    wider = [(births, sigma_z) for births in (100, 350) for sigma_z in (1.3, 1.5, 2.0)]
    return {
        "in_control": [
            in_control(births, share, (SEED, 1, row), series)
            for row, (births, share) in enumerate(pairs)
        ],
        "overdispersed": [
            {
                "true_sigma_z": sigma_z,
                **in_control(births, 0.8, (SEED, 2, row), fewer, sigma_z=sigma_z),
            }
            for row, (births, sigma_z) in enumerate(wider)
        ],
        "fall": [
            falls(births, share, (SEED, 3, row), fewer)
            for row, (births, share) in enumerate((b, s) for b in BIRTHS for s in (0.7, 0.8, 0.9))
        ],
        "other": [other(one, (SEED, 4, row), fewer) for row, one in enumerate(OTHERS)],
    }


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
        "ewma_weight": sensitive.EWMA_WEIGHT,
        "ewma_width": sensitive.EWMA_WIDTH,
        "cusum_slack": sensitive.CUSUM_SLACK,
        "cusum_limit": sensitive.CUSUM_LIMIT,
        "baseline_periods": phases.POINTS_AT_LEAST,
    }


def write(tables: dict[str, list[dict]], series: int) -> None:
    head = {
        "seed": SEED,
        "series": series,
        "series_of_other_tables": others_of(series),
        "months": MONTHS,
        "fall_points": round(FALL * 100),
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
    tables = measure(args.series)
    for name, rows in tables.items():
        number = args.series if name == "in_control" else others_of(args.series)
        print(f"\n{name}, {number} series each")
        print(pd.DataFrame(rows).to_string(index=False))
    if args.write:
        write(tables, args.series)


if __name__ == "__main__":
    main()

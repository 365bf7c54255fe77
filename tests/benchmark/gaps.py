"""How often g charts of groups near 0 and 100 % cry wolf, with nothing going on.

``python -m tests.benchmark.gaps`` prints the table, and with ``--write`` renews
``pipelines/statistics/gap_truth.toml``, which the page prints; tests/statistics/test_rare.py draws
a part of it again. Births are drawn one by one with numpy alone; the page promises at most 10 % of
charts in 24 months and 20 % in 60, counted from the first event.
"""

import argparse
import datetime as dt
from collections.abc import Sequence

import numpy as np
import pandas as pd

from pipelines.statistics.false_alarms import GAPS_PATH
from pipelines.statistics.over_time import over_time

SEED = 20261130
SERIES = 1000
# (share met, births a month, months): the event is the rarer side, near 0 % or near 100 %.
KINDS = (
    (0.002, 100, 60),
    (0.006, 100, 60),
    (0.009, 100, 60),
    (0.991, 100, 60),
    (0.998, 250, 60),
    (0.002, 250, 60),
)
ENDS = (24, 60)


def one(rng: np.random.Generator, share: float, births: int, months: int) -> dict[str, object]:
    """Draw one series and return its chart's kind and the month of its first signal."""
    counted = np.maximum(rng.poisson(births, months), 1)
    starts = pd.date_range("2020-01-01", periods=months, freq="MS")
    rows = pd.DataFrame({"month": starts.repeat(counted)})
    rows["is_met"] = rng.random(len(rows)) < share
    monthly = rows.groupby("month")["is_met"].agg(numerator="sum", counted="size").reset_index()
    direction = "lower" if share < 0.5 else "higher"
    found = over_time(monthly, kind="proportion", direction=direction, births=rows)
    first = found.signals["start_on"].min() if len(found.signals) else pd.NaT
    at = np.inf if pd.isna(first) else (first.year - 2020) * 12 + first.month
    limits = found.points[found.points["has_limits"]] if len(found.points) else found.points
    return {"kind": found.chart_kind, "at": at, "points": len(limits)}


def measure(
    kind: tuple[float, int, int], seed: Sequence[int], series: int = SERIES
) -> dict[str, object]:
    """Return the share of g charts of one kind that signal by the end of two years and of all."""
    rng = np.random.default_rng(seed)
    drawn = pd.DataFrame([one(rng, *kind) for _ in range(series)])
    charts = drawn[drawn["kind"] == "g"]
    share, births, _ = kind
    return {
        "share": share,
        "births_a_month": births,
        "g_charts": len(charts),
        "points": round(float(charts["points"].mean()), 1),
        **{f"in_{end}_months": round(float((charts["at"] <= end).mean()), 3) for end in ENDS},
    }


def write(rows: list[dict[str, object]], series: int) -> None:
    lines = [
        "# Measured, not chosen: python -m tests.benchmark.gaps --write renews this file.",
        "# Of charts of births between rare events: the share that signals with nothing going on.",
        f"measured_on = {dt.date.today():%Y-%m-%d}",
        f"seed = {SEED}",
        f"series = {series}",
    ]
    for row in rows:
        lines += ["", "[[gap]]", *(f"{key} = {value}" for key, value in row.items())]
    GAPS_PATH.write_text("\n".join(lines) + "\n", encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--series", type=int, default=SERIES)
    parser.add_argument("--write", action="store_true", help="renew gap_truth.toml")
    args = parser.parse_args()
    rows = []
    for place, kind in enumerate(KINDS):
        rows.append(measure(kind, (SEED, place), args.series))
        print(rows[-1], flush=True)
    if args.write:
        write(rows, args.series)


if __name__ == "__main__":
    main()

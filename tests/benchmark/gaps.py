"""How often g charts of groups near 0 and 100 % cry wolf, with nothing going on.

``python -m tests.benchmark.gaps`` prints the table. Births are drawn one by one with numpy alone;
the page promises at most 10 % of charts in 24 months and 20 % in 60, counted from the first event.
"""

import argparse
from collections.abc import Sequence

import numpy as np
import pandas as pd

from pipelines.statistics.over_time import over_time

SEED = 20261130
SERIES = 200
# (share met, births a month, months): the event is the rarer side, near 0 % or near 100 %.
KINDS = (
    (0.002, 100, 60),
    (0.006, 100, 60),
    (0.009, 100, 60),
    (0.991, 100, 60),
    (0.998, 250, 60),
    (0.002, 250, 120),
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
    share, births, months = kind
    return {
        "share": share,
        "births_a_month": births,
        "g_charts": len(charts),
        "points": round(float(charts["points"].mean()), 1),
        "in_24_months": round(float((charts["at"] <= ENDS[0]).mean()), 3),
        f"in_{months}_months": round(float((charts["at"] <= months).mean()), 3),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--series", type=int, default=SERIES)
    args = parser.parse_args()
    for place, kind in enumerate(KINDS):
        print(measure(kind, (SEED, place), args.series), flush=True)


if __name__ == "__main__":
    main()

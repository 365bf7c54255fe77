"""Invented tables of counts for the tests: months and strata at random, all sums by addition."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

PARTS = ["exclusion", "exception", "numerator", "late", "not_done", "not_met"]
PARTS += ["not_documented", "unusable"]
ALL = "all newborns"


def base_row(measure: str, month: int, stratum: str, parts: Sequence[int]) -> dict[str, object]:
    """One row of a month and stratum from its eight states, in the order of PARTS."""
    return {
        "measure_id": measure,
        "parent_id": measure,
        "kind": "proportion",
        "missing_left_out": False,
        "period_kind": "month",
        "first_month": month,
        "last_month": month,
        "stratifier": "language",
        "stratum": stratum,
        **dict(zip(PARTS, parts, strict=True)),
    }


def completed(base: pd.DataFrame) -> pd.DataFrame:
    """Add what follows from the eight states: denominator, population and the rest."""
    rows = base.copy()
    unknown = rows["not_documented"] + rows["unusable"]
    rest = rows[["late", "not_done", "not_met"]].sum(axis=1)
    rows["not_in_numerator"] = rest + unknown.where(~rows["missing_left_out"], 0)
    rows["denominator"] = rows[PARTS].sum(axis=1) - rows["exclusion"]
    rows["initial_population"] = rows["denominator"] + rows["exclusion"]
    rows["is_offered"] = True
    rows["level"] = 1 + (rows["stratifier"] == ALL).astype(int)
    return rows


HEAD = ["measure_id", "parent_id", "kind", "missing_left_out"]


def with_sums(base: pd.DataFrame, windows: Sequence[tuple[str, int, int]]) -> pd.DataFrame:
    """Add all newborns, and for each window (kind, months, step) its periods.

    base: rows of months and strata, states only.
    """
    whole = base.groupby([*HEAD, "period_kind", "first_month", "last_month"], as_index=False)[PARTS]
    months = pd.concat([base, whole.sum().assign(stratifier=ALL, stratum=ALL)])
    last = int(base["first_month"].max())
    frames = [months]
    for kind, length, step in windows:
        for start in range(0, last - length + 2, step):
            inside = months[months["first_month"].between(start, start + length - 1)]
            summed = inside.groupby([*HEAD, "stratifier", "stratum"], as_index=False)[PARTS].sum()
            span = {"first_month": start, "last_month": start + length - 1}
            frames.append(summed.assign(period_kind=kind, **span))
    return completed(pd.concat(frames, ignore_index=True))


def at_random(
    chance: np.random.Generator,
    measures: int,
    months: int,
    strata: int,
    births: float = 60,
) -> pd.DataFrame:
    """Months and strata of several measures with plausible shares of each state."""
    weight = np.array([0.02, 0.02, 0.78, 0.06, 0.01, 0.03, 0.06, 0.02])
    rows = []
    for measure in range(measures):
        share = chance.dirichlet(weight * 12)
        sizes = chance.dirichlet(np.ones(strata) * 1.5) * births
        for month in range(months):
            for stratum in range(strata):
                parts = chance.multinomial(chance.poisson(sizes[stratum]), share)
                rows.append(base_row(f"m{measure}", month, f"s{stratum}", parts.tolist()))
    return pd.DataFrame(rows)

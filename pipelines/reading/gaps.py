"""How far a part of the newborns stands from all of them: gap, ratio, and their doubt.

A part belongs to the whole, so the two are not independent and no interval for two samples
fits them. The part and the *rest* are independent. With f the part's share of the whole,

    gap   = part - whole = (1 - f) * (part - rest)
    ratio = part / whole = 1 / (f + (1 - f) * rest / part)

both of which rise with the difference or ratio to the rest. So the interval against the rest is
found first and carried over; it leaves out no difference (or 1) exactly where the other does.
"""

from typing import Annotated, Final, TypedDict

import numpy as np
import pandas as pd

from pipelines.statistics.intervals import difference, ratio, wilson
from pipelines.statistics.many import expected_by_chance

__all__ = ("FEW", "add_gaps", "by_chance", "difference", "ratio")

FEW: Final = 30  # below this, in the part or the rest, no gap is given
# A gap stands out where its 99 % interval leaves out 0: of n comparisons with nothing going
# on, about n/100 do so by chance. What is shown is the usual 95 % interval.
STANDS_OUT_BY_CHANCE: Final = 0.01

_Pair = tuple[np.ndarray, np.ndarray]


class GapRow(TypedDict):
    """A part of the newborns beside all of them; shares but for the counts and the ratios."""

    numerator: Annotated[float, "newborns or items, met"]
    counted: Annotated[float, "newborns or items the rate is made of"]
    all_numerator: Annotated[float, "the same of all newborns"]
    all_counted: Annotated[float, "the same of all newborns"]
    rate: Annotated[float | None, "share"]
    lower: Annotated[float | None, "end of its 95 % Wilson interval"]
    upper: Annotated[float | None, "end of its 95 % Wilson interval"]
    all_rate: Annotated[float | None, "share of all newborns"]
    is_few: Annotated[bool, "part or rest has too few for a gap"]
    gap: Annotated[float | None, "rate less all_rate; missing where few"]
    gap_lower: Annotated[float | None, "end of its 95 % interval"]
    gap_upper: Annotated[float | None, "end of its 95 % interval"]
    ratio: Annotated[float | None, "rate over all_rate"]
    ratio_lower: Annotated[float | None, "end of its 95 % interval"]
    ratio_upper: Annotated[float | None, "end of its 95 % interval"]
    rest_rate: Annotated[float | None, "share of everybody else"]
    stands_out: Annotated[str, "higher, lower or blank"]


def _counts(rows: pd.DataFrame) -> tuple[_Pair, _Pair]:
    """Return the part and the rest, each as (how many, of how many), worth of single newborns."""
    design = _design(rows).to_numpy(float)
    names = ("numerator", "counted", "all_numerator", "all_counted")
    met, counted, all_met, all_counted = (rows[name].to_numpy(float) / design for name in names)
    part, whole = (met, counted), (all_met, all_counted)
    return part, (whole[0] - part[0], whole[1] - part[1])


def _design(rows: pd.DataFrame) -> pd.Series:
    """Return by how much each row's counts are worth less than they say; 1 where it says nothing.

    Several observations of one newborn are not independent. Counts divided by the design effect
    give intervals with newborns as the unit (Rao and Scott, Biometrics 1992;48:577).
    """
    if "design" not in rows:
        return pd.Series(1.0, index=rows.index)
    return rows["design"].astype(float).fillna(1.0).clip(lower=1.0)


def add_gaps(rows: pd.DataFrame) -> pd.DataFrame:
    """Add what each part's gap to the whole is; all of it missing where either is too few.

    Needs numerator, counted, all_numerator, all_counted, and where rows are many to a newborn
    ``design``, the design effect. Adds the other columns of ``GapRow``.
    """
    rows = rows.copy()
    counted = rows["counted"].where(rows["counted"] > 0)
    rows["rate"] = rows["numerator"] / counted
    design = _design(rows)
    rows["lower"], rows["upper"] = wilson(rows["numerator"] / design, counted / design)
    rows["all_rate"] = rows["all_numerator"] / rows["all_counted"].where(rows["all_counted"] > 0)
    rest = rows["all_counted"] - rows["counted"]
    rows["is_few"] = (rows["counted"] / design < FEW) | (rest / design < FEW)
    added = ("gap", "gap_lower", "gap_upper", "ratio", "ratio_lower", "ratio_upper", "rest_rate")
    rows[list(added)] = np.nan
    rows["stands_out"] = ""
    enough = ~rows["is_few"]
    if enough.any():
        found = _gaps(rows[enough])
        rows.loc[enough, found.columns] = found
    return rows


def _gaps(rows: pd.DataFrame) -> pd.DataFrame:
    """Return gap and ratio to the whole, both with interval, of parts that are large enough."""
    part, rest = _counts(rows)
    share = part[1] / (part[1] + rest[1])
    gap = part[0] / part[1] - rows["all_rate"].to_numpy(float)
    low, high = ((1 - share) * end for end in difference(part, rest))
    sure_low, sure_high = difference(part, rest, 1 - STANDS_OUT_BY_CHANCE)
    ratio_low, ratio_high = (_to_whole(share, end) for end in ratio(part, rest))
    has_ratio = (part[0] > 0) & (rows["all_numerator"].to_numpy(float) > 0)
    whole_rate = np.where(has_ratio, rows["all_rate"].to_numpy(float), 1.0)
    found = pd.DataFrame(
        {
            "gap": gap,
            "gap_lower": low,
            "gap_upper": high,
            "ratio": np.where(has_ratio, part[0] / part[1] / whole_rate, np.nan),
            "ratio_lower": ratio_low,
            "ratio_upper": ratio_high,
            "rest_rate": rest[0] / rest[1],
        },
        index=rows.index,
    )
    out = np.where(sure_low > 0, "higher", np.where(sure_high < 0, "lower", ""))
    return found.assign(stands_out=out)


def _to_whole(share: np.ndarray, to_rest: np.ndarray) -> np.ndarray:
    """Turn a ratio to the rest into the ratio to the whole."""
    return np.asarray(1 / (share + (1 - share) / to_rest))


def by_chance(comparisons: int) -> float:
    """Return how many of so many comparisons stand out where nothing is going on.

    >>> by_chance(350)
    3.5
    """
    return expected_by_chance(STANDS_OUT_BY_CHANCE, comparisons)

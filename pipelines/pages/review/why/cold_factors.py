"""Cold arrivals: which cause was assigned, and which factors were more common.

Two pictures, never one. An assigned cause is one per newborn, and the bars sum to the newborns.
A factor may be present in many, in range as well as cold; only the ratio says anything, and it
says that two things go together, not that one made the other.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from pipelines.base.frames import checked
from pipelines.definitions.causes import causes
from pipelines.pages.review.why.frames import AssignedRow, FactorRow
from pipelines.reading.small_numbers import SMALL
from pipelines.statistics.intervals import ratio

# The numbers of the factors: local choices, said on the page beside each factor. Days and grams
# are the usual bounds of early (37 weeks) and low birth weight (2500 g; WHO).
LIMITS: Final = {
    "room_below_c": 23.0,
    "gestation_below_days": 259,
    "weight_below_g": 2500.0,
    "dried_by_minutes": 10.0,
    "contact_by_minutes": 15.0,
    "mother_below_c": 36.5,
}
# Factor -> its words, in reading order: room, birth, newborn, care, time.
FACTORS: Final = {
    "room_cold": f"Birth room below {LIMITS['room_below_c']:g} \N{DEGREE SIGN}C",
    "caesarean": "Caesarean birth",
    "mother_cold": f"Mother below {LIMITS['mother_below_c']:g} \N{DEGREE SIGN}C",
    "resuscitation": "Breaths or more at birth",
    "early": f"Before {LIMITS['gestation_below_days'] // 7:g} weeks",
    "small": f"Below {LIMITS['weight_below_g']:g} g",
    "not_dried": f"Not dried by {LIMITS['dried_by_minutes']:g} min",
    "head_bare": "Head not covered",
    "no_contact": f"No skin contact by {LIMITS['contact_by_minutes']:g} min",
    "moved": "Moved to another room",
    "night": "Born at night",
    "winter": "Born December to February",
}
BANDS: Final = {
    "mild": "Mildly cold, 36.0 to 36.4 \N{DEGREE SIGN}C",
    "colder": "Colder, below 36.0 \N{DEGREE SIGN}C",
}
IN_RANGE: Final = "in_range"
NOT_REVIEWED: Final = "not_reviewed"
NO_FACTOR: Final = "no_factor_found"
LAST: Final = {NO_FACTOR: "no factor found", NOT_REVIEWED: "not reviewed yet"}


@dataclass(frozen=True)
class ColdData:
    """Twelve months of arrivals; ``frames.py`` declares the columns of each frame."""

    newborns: dict[str, int]  # band -> newborns
    assigned: pd.DataFrame  # one row per band and cause: band, cause, title, newborns
    factors: pd.DataFrame  # one row per band and factor


def assigned_causes(cold: pd.DataFrame, reviews: pd.DataFrame) -> pd.DataFrame:
    """Count the assigned causes, the most common first in each band.

    ``cold``: record_id, band; ``reviews``: record_id, cause. One cause per newborn, so the bars
    of a band sum to its newborns. 'no factor found' and 'not reviewed yet' stand last, whatever
    their number, and are never dropped.
    """
    told = cold[cold["band"].isin(list(BANDS))].merge(reviews, on="record_id", how="left")
    told["cause"] = told["cause"].astype(object).where(told["cause"].notna(), NOT_REVIEWED)
    counts = told.groupby(["band", "cause"]).size().rename("newborns").reset_index()
    fixed = pd.MultiIndex.from_product(
        [[name for name in BANDS if (told["band"] == name).any()], LAST], names=["band", "cause"]
    )
    counts = counts.set_index(["band", "cause"])
    counts = counts.reindex(counts.index.union(fixed), fill_value=0).reset_index()
    titles = {**causes(), **LAST}
    counts["title"] = [titles.get(str(cause), str(cause)) for cause in counts["cause"]]
    counts["band_place"] = counts["band"].map({name: at for at, name in enumerate(BANDS)})
    last = {name: at for at, name in enumerate(LAST, start=1)}
    counts["last_place"] = counts["cause"].map(last).fillna(0)
    keys = ["band_place", "last_place", "newborns", "title"]
    return counts.sort_values(keys, ascending=[True, True, False, True], ignore_index=True)


def factor_shares(cold: pd.DataFrame) -> pd.DataFrame:
    """Compare each factor among cold newborns with newborns in range.

    ``cold``: band and one column for each factor (true, false, missing: not recorded). Returns
    one row per factor and band: present, recorded, not_recorded, share, and the same with
    ``in_range_``; ratio of the shares with its 95 % interval on the log scale (Katz et al. 1978),
    missing where fewer than 20 newborns are recorded on either side or a side has none.
    """
    long = cold.melt(["record_id", "band"], list(FACTORS), "factor", "has")
    counts = (
        long.assign(
            present=long["has"].eq(True).fillna(False).astype(int),
            recorded=long["has"].notna().astype(int),
        )
        .groupby(["factor", "band"])
        .agg(present=("present", "sum"), recorded=("recorded", "sum"), newborns=("band", "size"))
        .reset_index()
    )
    counts["not_recorded"] = counts["newborns"] - counts["recorded"]
    counts["share"] = counts["present"] / counts["recorded"].where(counts["recorded"] > 0)
    warm = counts[counts["band"] == IN_RANGE].drop(columns="band").set_index("factor")
    rows = counts[counts["band"] != IN_RANGE].join(warm.add_prefix("in_range_"), on="factor")
    if rows.empty:
        return rows.assign(ratio=[], ratio_lower=[], ratio_upper=[])
    return _in_order(_with_ratio(rows.reset_index(drop=True)))


def happens(rows: pd.DataFrame) -> pd.Series:
    """Say of each row whether its factor is recorded as present in any newborn at all."""
    present = rows["present"] + rows["in_range_present"].fillna(0)
    return present.groupby(rows["factor"]).transform("sum") > 0


def _with_ratio(rows: pd.DataFrame) -> pd.DataFrame:
    names = ["present", "recorded", "in_range_present", "in_range_recorded"]
    numbers = rows[names].fillna(0).to_numpy(float).T
    few = (numbers[1] < SMALL) | (numbers[3] < SMALL)
    safe = np.where(few, 1.0, numbers)
    lower, upper = ratio((safe[0], safe[1]), (safe[2], safe[3]))
    can = ~few & (numbers[0] > 0) & (numbers[2] > 0)
    rows["ratio"] = (rows["share"] / rows["in_range_share"]).where(can)
    rows["ratio_lower"] = pd.Series(lower, index=rows.index).where(can)
    rows["ratio_upper"] = pd.Series(upper, index=rows.index).where(can)
    return rows


def _in_order(rows: pd.DataFrame) -> pd.DataFrame:
    factor = {name: at for at, name in enumerate(FACTORS)}
    band = {name: at for at, name in enumerate(BANDS)}
    rows = rows.assign(factor_place=rows["factor"].map(factor), band_place=rows["band"].map(band))
    rows = rows.sort_values(["factor_place", "band_place"], ignore_index=True)
    return rows.drop(columns=["factor_place", "band_place"])


def picture(cold: pd.DataFrame, reviews: pd.DataFrame) -> ColdData:
    """Return both pictures of the cold arrivals in a frame of newborns."""
    counts = cold["band"].value_counts()
    return ColdData(
        newborns={name: int(counts.get(name, 0)) for name in (*BANDS, IN_RANGE)},
        assigned=checked(assigned_causes(cold, reviews), AssignedRow),
        factors=checked(factor_shares(cold), FactorRow),
    )

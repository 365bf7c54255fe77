"""Fair care: every measure split by who the family is and how the birth went.

Frames out; each query is one file of ``sql``, through the public views. A gap is a
question, not a verdict: nothing here says why it is there.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import pandas as pd

from pipelines.base.errors import StoreError
from pipelines.base.frames import checked
from pipelines.base.store_file import open_store
from pipelines.definitions.owners import ENDED
from pipelines.definitions.read_measures import ITEM_KINDS
from pipelines.definitions.strata import ALL_NEWBORNS, BIRTH, FAMILY, NOT_RECORDED, STRATUM_ORDER
from pipelines.pages.fair.frames import (
    ClusterRow,
    CountRow,
    FairMeasureRow,
    OutcomeRow,
    SetApartRow,
    SpanRow,
    StratumRow,
)
from pipelines.reading.frames import BuildRow, InfoRow, LoadRow, SilentRow
from pipelines.reading.gaps import add_gaps
from pipelines.reading.queries import query, unit_title

SHOWN: Final = {**FAMILY, **BIRTH}  # stratifier -> its words: first the family, then the birth
# Counts the very columns by which newborns are grouped here, so it is left out of this page.
CIRCULAR: Final = ("record_completeness",)
DECLINED: Final = "declined"
OTHER_REASON: Final = "other_reason"


@dataclass(frozen=True)
class FairData:
    """Everything the page says; ``frames.py`` declares the columns of each frame."""

    unit: str
    title: str
    first: pd.Timestamp
    last: pd.Timestamp
    newborns: int
    measures: pd.DataFrame  # one row per measure, with its counts over all newborns
    strata: pd.DataFrame  # one row per measure, stratifier and stratum, with its gap
    silent: list[str]  # titles of measures of which the export has no usable record
    reasons: pd.DataFrame  # one row per measure, outcome (declined, other_reason) and stratum
    loads: pd.DataFrame  # one row per export file
    build: Mapping[str, str]


def _in_order(rows: pd.DataFrame) -> pd.DataFrame:
    """Sort strata in their fixed order: never by rate, so that nothing is ranked."""
    place = {name: number for number, name in enumerate(SHOWN)}
    known = {name: number for number, name in enumerate(STRATUM_ORDER)}
    keyed = rows.assign(
        stratifier_place=rows["stratifier"].map(place),
        is_last=rows["stratum"] == NOT_RECORDED,
        stratum_place=rows["stratum"].map(known).fillna(len(known)),
    )
    keys = ["position", "stratifier_place", "is_last", "stratum_place", "stratum"]
    return keyed.sort_values(keys, ignore_index=True).drop(columns=["is_last", "stratum_place"])


def with_whole(counts: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    """Give every stratum the counts of all newborns beside its own, and its gap to them.

    ``counts``: ``keys``, stratifier, stratum, numerator, counted; the rows of stratifier
    'all newborns' are the whole. Strata without anyone are left out, and so is a stratifier
    with one stratum only: there is no rest to compare with.
    """
    whole = counts.loc[counts["stratifier"] == ALL_NEWBORNS, [*keys, "numerator", "counted"]]
    whole = whole.rename(columns={"numerator": "all_numerator", "counted": "all_counted"})
    parts = counts[counts["stratifier"].isin(list(SHOWN)) & (counts["counted"] > 0)]
    several = parts.groupby([*keys, "stratifier"])["stratum"].transform("size") > 1
    return add_gaps(parts[several].merge(whole, on=keys))


def _strata(counts: pd.DataFrame, info: pd.DataFrame, clusters: pd.DataFrame) -> pd.DataFrame:
    told = info[["measure_id", "title", "kind", "direction", "position"]]
    rows = counts.merge(told, on="measure_id").merge(clusters, on="measure_id", how="left")
    return checked(_in_order(with_whole(rows, ["measure_id"])), StratumRow)


def _reasons(counts: pd.DataFrame, info: pd.DataFrame) -> pd.DataFrame:
    """Return one row per measure, outcome and stratum, for outcomes that happened at all.

    Only of measures with one row per newborn: a family declines once.
    """
    info = info[~info["kind"].isin(ITEM_KINDS)]
    told = info[["measure_id", "title", "kind", "direction", "position"]]
    names = ["measure_id", "stratifier", "stratum", "counted"]
    long = counts.melt(names, [DECLINED, OTHER_REASON], "outcome", "numerator")
    keys = ["measure_id", "outcome"]
    rows = with_whole(long.merge(told, on="measure_id"), keys)
    return checked(_in_order(rows[rows["all_numerator"] > 0]), OutcomeRow)


def _read(store_path: Path, unit: str) -> tuple[str, dict[str, pd.DataFrame]]:
    with open_store(store_path) as store:
        title = unit_title(store, unit)
        frames = {
            name: query(store, f"pages/fair/{name}", row, unit=unit)
            for name, row in (("span", SpanRow), ("strata", CountRow))
        }
        span = frames["span"]
        if not frames["strata"]["stratifier"].isin(list(SHOWN)).any():
            raise StoreError("this store holds no results by group of this unit. Build it again.")
        dates = {"first": span["first_month"].iloc[0], "last": span["last_month"].iloc[0]}
        days = {name: pd.Timestamp(day).date() for name, day in dates.items()}
        frames["reasons"] = query(
            store, "pages/fair/reasons", SetApartRow, unit=unit, ended=list(ENDED), **days
        )
        kinds = list(ITEM_KINDS)
        frames["clusters"] = query(
            store, "pages/fair/clusters", ClusterRow, unit=unit, kinds=kinds, **days
        )
        frames["info"] = query(store, "reading/measures", InfoRow, unit=unit)
        frames["silent"] = query(store, "reading/silent", SilentRow, unit=unit)
        frames["build"] = query(store, "reading/build", BuildRow, unit=unit)
        frames["loads"] = query(store, "reading/loads", LoadRow, unit=unit)
    return title, frames


def read_fair(store_path: Path | str, unit: str) -> FairData:
    """Read one unit's measures by stratum, over up to eight quarters of birth.

    Left out are measures of kind ``minutes``, whose rate only says how many were timed, and
    ``CIRCULAR`` ones.
    Raises StoreError naming the unit that is not there, or where the store holds no strata.
    """
    title, frames = _read(Path(store_path), unit)
    info = frames["info"]
    info = info[(info["kind"] != "minutes") & ~info["measure_id"].isin(CIRCULAR)]
    counts, span = frames["strata"], frames["span"]
    whole = counts[counts["stratifier"] == ALL_NEWBORNS].drop(columns=["stratifier", "stratum"])
    measures = info.merge(whole, on="measure_id").sort_values("position", ignore_index=True)
    build = frames["build"]
    is_silent = info["measure_id"].isin(frames["silent"]["measure_id"])
    return FairData(
        unit=unit,
        title=title,
        first=pd.Timestamp(span["first_month"].iloc[0]),
        last=pd.Timestamp(span["last_month"].iloc[0]),
        newborns=int(span["newborns"].iloc[0]),
        measures=checked(measures, FairMeasureRow),
        strata=_strata(counts, info, frames["clusters"]),
        silent=[str(title) for title in info.loc[is_silent, "title"]],
        reasons=_reasons(frames["reasons"], info),
        loads=frames["loads"],
        build=dict(zip(build["key"], build["value"], strict=True)),
    )


def compared(rows: pd.DataFrame) -> int:
    """Return how many comparisons a frame of strata makes.

    Where nobody, or everybody, met a measure there is nothing that chance could mark.
    """
    can_differ = rows["all_numerator"].between(0, rows["all_counted"], inclusive="neither")
    return int((rows["gap"].notna() & can_differ).sum())


def standing_out(rows: pd.DataFrame, stratifiers: Mapping[str, str]) -> pd.DataFrame:
    """Return the gaps that stand out for these stratifiers, a stratum's widest first."""
    out = rows[(rows["stands_out"] != "") & rows["stratifier"].isin(list(stratifiers))]
    widest = out.assign(width=out["gap"].abs())
    widest["widest"] = widest.groupby(["stratifier", "stratum"])["width"].transform("max")
    keys = ["stratifier_place", "widest", "stratum", "width"]
    return widest.sort_values(keys, ascending=[True, False, True, False], ignore_index=True)

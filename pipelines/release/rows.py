"""From a unit's monthly counts to the rows of a release: periods, grain, and what links them.

Frame in, frame out. A row that is not offered is there because published numbers sum over it.
"""

from collections.abc import Mapping
from typing import Final

import pandas as pd

from pipelines.base.frames import checked, columns_of
from pipelines.definitions.read_measures import ITEM_KINDS
from pipelines.definitions.states import COUNTS
from pipelines.definitions.strata import ALL_NEWBORNS as ALL
from pipelines.release.frames import GrainRow
from pipelines.release.masking import Rule, primary, with_rest
from pipelines.release.sums import COLUMN, LEVELS, NEWBORNS

KINDS: Final = ("month", "quarter", "all")  # from fine to coarse
_KIND_WORDS: Final = {"month": "by month", "quarter": "by quarter", "all": "for the whole period"}
# The finest period at which no more than this share of the rates is masked is chosen; a table
# that hides more tells less than a coarser one. Local decision, no published value.
MOST_HIDDEN: Final = 0.25

_STATES: Final = tuple(name for name in COUNTS if name != "not_in_numerator")
_HEAD: Final = ["measure_id", "parent_id", "kind", "missing_left_out", "stratifier", "stratum"]
SPAN: Final = ["measure_id", "stratifier", "stratum", "first_month", "last_month"]


# For each kind of period: how many rates would be masked, and of how many.
_Told = Mapping[str, tuple[int, int]]


def month_number(dates: pd.Series) -> pd.Series:
    """Return whole numbers that follow each other from month to month."""
    dates = pd.to_datetime(dates)
    return dates.dt.year * 12 + dates.dt.month - 1


def month_start(number: int) -> pd.Timestamp:
    return pd.Timestamp(number // 12, number % 12 + 1, 1)


def month_text(number: int) -> str:
    """Return a month's number as text.

    >>> month_text(2026 * 12 + 2)
    '2026-03'
    """
    return f"{month_start(number):%Y-%m}"


def every_period(counts: pd.DataFrame) -> pd.DataFrame:
    """Return the counts by each period, each the exact sum of the shortest ones there are.

    counts: the rows of a result with period_kind and period_start; strata may have no months.
    Newborns without a readable birth month are in no month or quarter, and so in no row.
    """
    counts = counts.dropna(subset=["period_start"]).copy()
    counts["first_month"] = month_number(counts["period_start"])
    months = counts.loc[counts["period_kind"] == "month", "first_month"]
    edge = int(months.min()), int(months.max())
    frames = []
    for _, some in counts.groupby("stratifier", sort=False):
        kinds = [kind for kind in KINDS if (some["period_kind"] == kind).any()]
        shortest = some[some["period_kind"] == kinds[0]]
        frames += [_summed(shortest, kind, edge) for kind in KINDS[KINDS.index(kinds[0]) :]]
    rows = with_rest(pd.concat(frames, ignore_index=True))
    return rows[[*_HEAD, "period_kind", "first_month", "last_month", *COUNTS, "target"]]


def _summed(rows: pd.DataFrame, kind: str, edge: tuple[int, int]) -> pd.DataFrame:
    """Sum shorter periods to longer ones, which at the edge reach as far as there are months."""
    first, last = edge
    length = {"month": 1, "quarter": 3, "all": last - first + 1}[kind]
    ordered = rows.sort_values("period_start")
    month = ordered["first_month"]
    ordered["first_month"] = month * 0 + first if kind == "all" else month // length * length
    how: dict[str, str] = {**dict.fromkeys([*_STATES, "counted"], "sum"), "target": "last"}
    summed = ordered.groupby([*_HEAD, "first_month"], sort=False).agg(how).reset_index()
    summed["last_month"] = (summed["first_month"] + length - 1).clip(upper=last)
    summed["first_month"] = summed["first_month"].clip(lower=first)
    return summed.assign(period_kind=kind)


def choose_grain(rows: pd.DataFrame, rule: Rule, period: str | None = None) -> pd.DataFrame:
    """Say for each measure file and stratifier by which period it is released, and why.

    Returns parent_id, stratifier, grain, words. period: one of KINDS for all of them.
    """
    masked = primary(rows, rule)[:, COLUMN["numerator"]]
    somebody = (rows["initial_population"] > 0).to_numpy()
    keys = ["parent_id", "stratifier", "period_kind"]
    tally = rows[keys].assign(rates=somebody, hidden=masked & somebody)
    tally = tally.groupby(keys, sort=False)[["rates", "hidden"]].sum().reset_index()
    chosen = []
    for (parent, stratifier), some in tally.groupby(["parent_id", "stratifier"], sort=False):
        counted = zip(some["period_kind"], some["hidden"], some["rates"], strict=True)
        by_kind = {str(kind): (int(hidden), int(rates)) for kind, hidden, rates in counted}
        told: _Told = {kind: by_kind[kind] for kind in KINDS if kind in by_kind}
        grain = period if period is not None and period in told else _finest(told)
        chosen.append([parent, stratifier, grain, _grain_words(told, grain, grain == period)])
    return checked(pd.DataFrame(chosen, columns=list(columns_of(GrainRow))), GrainRow)


def _finest(told: _Told) -> str:
    for kind, (hidden, rates) in told.items():
        if hidden <= MOST_HIDDEN * rates:
            return kind
    return list(told)[-1]


def _grain_words(told: _Told, grain: str, is_asked: bool) -> str:
    if is_asked:
        return f"released {_KIND_WORDS[grain]}, as asked"
    finer = list(told)[: list(told).index(grain)]
    because = [f"{_KIND_WORDS[kind]} {told[kind][0]} of {told[kind][1]} rates" for kind in finer]
    if not because:
        return f"released {_KIND_WORDS[grain]}"
    return f"released {_KIND_WORDS[grain]}: {' and '.join(because)} would be hidden"


def rows_to_release(rows: pd.DataFrame, grain: pd.DataFrame, rule: Rule) -> pd.DataFrame:
    """Keep the rows at each measure's grain and its whole, and the rows that link them.

    Adds is_offered and level (``sums.LEVELS``).
    """
    rows = rows.merge(grain[["parent_id", "stratifier", "grain"]], on=["parent_id", "stratifier"])
    rows["is_offered"] = (rows["period_kind"] == rows["grain"]) | (rows["period_kind"] == "all")
    rows["level"] = _levels(rows, rule)
    # Strata of a period sum to all newborns of it, released or not.
    keys = ["parent_id", "period_kind"]
    strata = rows[rows["is_offered"] & (rows["stratifier"] != ALL)]
    levels = strata.groupby(keys)["level"].max().rename("linked").reset_index()
    linked = rows.merge(levels, on=keys, how="left")["linked"]
    is_link = (linked.notna() & ~rows["is_offered"] & (rows["stratifier"] == ALL)).to_numpy()
    rows["level"] = rows["level"].where(~is_link, linked).astype("int64")
    return rows[rows["is_offered"] | is_link].reset_index(drop=True)


def _levels(rows: pd.DataFrame, rule: Rule) -> pd.Series:
    """Say which counts a row tells: everything for the whole of all newborns, else the rate.

    The parts of a shorter period are nearly always small, and masking them would take rates
    along. The population of the strata of a stratifier is told over the whole where few of its
    counts are masked; by all measures or by none, for one gives away another's.
    """
    population = [COLUMN[name] for name in LEVELS[1]]
    share = pd.Series(primary(rows, rule)[:, population].mean(axis=1), index=rows.index)
    is_whole = rows["is_offered"] & (rows["period_kind"] == "all")
    mean = share.where(is_whole).groupby(rows["stratifier"]).transform("mean")
    level = (is_whole & (mean <= MOST_HIDDEN)).astype("int64")
    return level.mask(is_whole & (rows["stratifier"] == ALL), 2)


def newborn_rows(rows: pd.DataFrame) -> pd.DataFrame:
    """Return rows that say how many newborns the measure with the widest population has.

    A reader who knows them subtracts the other measures' populations; not for episodes and
    other events, of which a newborn may have several.
    """
    each = rows[~rows["kind"].isin(ITEM_KINDS) & (rows["level"] >= 1)]
    if each.empty:
        return each
    widest = each.groupby("measure_id", sort=False)["initial_population"].sum().idxmax()
    base = each[each["measure_id"] == widest].copy()
    base[["measure_id", "parent_id", "kind"]] = [NEWBORNS, NEWBORNS, "proportion"]
    base[[name for name in COUNTS if name != "initial_population"]] = 0
    base[["missing_left_out", "is_offered"]] = False
    return base.assign(level=1)

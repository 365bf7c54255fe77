"""Units of a store and groups within one, side by side: funnels and standardised rates.

Frame in, frame out; queries are ``sql``. Nothing is ranked: points stand in a fixed
order, and fewer than three units are shown with their limits and not judged. The centre is all
newborns of the store over the page's months. Measures with several rows to a newborn are left
out: their limits would be too narrow.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from pipelines.base.frames import checked, rows_of
from pipelines.base.store_file import open_store
from pipelines.definitions.strata import BIRTH, NOT_RECORDED, STRATUM_ORDER
from pipelines.pages.fair.compare.frames import CellRow, PointRow, TitledRow
from pipelines.pages.fair.read import FairData
from pipelines.reading.frames import UnitTitleRow
from pipelines.reading.queries import query
from pipelines.statistics import funnel, pooled, standardise
from pipelines.statistics.funnel import Spread
from pipelines.statistics.intervals import wilson
from pipelines.statistics.many import expected_by_chance

UNIT: Final = "unit"
KINDS: Final[Mapping[str, str]] = {UNIT: "Units", **BIRTH}
MIX: Final = ("gestation_band", "mode_of_birth")  # what rates are standardised for
COVERED: Final = 0.95  # of the standard, that parts of the mix with newborns must hold
FEWEST_UNITS: Final = 3
OUTSIDE_BY_CHANCE: Final = 1 - (funnel.OUTER[1] - funnel.OUTER[0])
POOLED: Final = ("shrunk", "shrunk_lower", "shrunk_upper", "borrowed")
NUMBERS: Final = [
    "numerator", "counted", "direct", "direct_lower", "direct_upper", "observed", "expected",
    "against", "against_lower", "against_upper",
]  # fmt: skip

Apart = tuple[float, float, float]  # SD of true shares beyond chance: middle, ends of 95 %


@dataclass(frozen=True)
class Funnel:
    """One measure: ``points`` has one row per unit and per group of this unit."""

    measure_id: str
    title: str
    group_name: str
    numerator: int
    counted: int
    counts_missed: bool  # whether standardised ratios count who missed it: the rarer side
    points: pd.DataFrame
    units: int
    spread: Spread | None  # between units, where there are enough
    apart: Mapping[str, Apart]  # by kind, where it has three groups

    @property
    def centre(self) -> float:
        """The share of all newborns of the store."""
        return self.numerator / self.counted

    @property
    def is_flat(self) -> bool:
        """Whether none, or all, met it: then nothing can differ."""
        return self.numerator in {0, self.counted}


@dataclass(frozen=True)
class CompareData:
    """Everything the section says."""

    unit: str
    first: pd.Timestamp
    last: pd.Timestamp
    units: Mapping[str, str]  # unit -> its title, in a fixed order
    funnels: tuple[Funnel, ...]  # in the page's order of measures


def _groups(cells: pd.DataFrame, unit: str, units: list[str]) -> list[tuple[str, str, pd.Series]]:
    """Return (kind, name, which cells) of every unit and every group of this unit, in order."""
    order = {name: place for place, name in enumerate(STRATUM_ORDER)}
    own = cells["unit"] == unit
    found = [(UNIT, name, cells["unit"] == name) for name in units]
    for kind in BIRTH:
        names = sorted(cells.loc[own, kind].unique(), key=lambda one: (order.get(one, 99), one))
        found += [(kind, str(name), own & (cells[kind] == name)) for name in names]
    return [(kind, name, which) for kind, name, which in found if which.any()]


@dataclass(frozen=True)
class _Mix:
    """The cells of one measure by the parts of a mix: each cell's part, and its numbers."""

    part: np.ndarray
    parts: int
    counted: np.ndarray
    rare: np.ndarray

    def sums(self, which: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the newborns, and those of the rarer side, of each part, for some cells."""
        counted, rare = (
            np.bincount(self.part[which], weights=column[which], minlength=self.parts)
            for column in (self.counted, self.rare)
        )
        return counted, rare


def _mix_for(cells: pd.DataFrame, kind: str) -> _Mix:
    """Return the mix to standardise a kind of point for: all that does not define it."""
    by = [name for name in MIX if name != kind]
    part = cells.groupby(by).ngroup().to_numpy(int)
    counted, rare = (cells[name].to_numpy(float) for name in ("counted", "rare"))
    return _Mix(part, int(part.max(initial=-1)) + 1, counted, rare)


def _shared(cells: pd.DataFrame, mix: _Mix, which: np.ndarray, kind: str) -> np.ndarray:
    """Return the parts of the mix in which the group, or where units are compared each, is."""
    unit = cells["unit"].to_numpy()
    groups = [unit == name for name in np.unique(unit)] if kind == UNIT else [which]
    found = [mix.sums(group)[0] > 0 for group in groups]
    return np.asarray(np.all(found, axis=0))


def _standardised(cells: pd.DataFrame, mix: _Mix, which: np.ndarray, kind: str) -> dict[str, Any]:
    """Return the direct and indirect rate of one point.

    ``cells``: unit, counted and rare (whichever of met and missed is rarer) of the newborns whose
    mix is recorded. The standard is all of them; for the direct rate only the parts of the mix
    in which the group, and where units are compared each unit, has anyone.
    """
    standard, standard_rare = mix.sums(np.ones(len(cells), bool))
    counted, rare = mix.sums(which)
    shared = _shared(cells, mix, which, kind)
    covered = standard[shared].sum() >= COVERED * standard.sum()
    own = standardise.direct(rare, counted, np.where(shared, standard, 0) if covered else standard)
    against = standardise.indirect(float(rare.sum()), counted, standard_rare / standard)
    return {
        "direct": own.rate,
        "direct_lower": own.lower,
        "direct_upper": None if own.upper is None else min(own.upper, 1.0),
        "direct_reason": own.reason,
        "observed": against.observed,
        "expected": against.expected,
        "against": against.ratio,
        "against_lower": against.lower,
        "against_upper": against.upper,
        "against_reason": against.reason,
    }


def _on_the_met_side(points: pd.DataFrame, counts_missed: bool) -> pd.DataFrame:
    """Turn directly standardised shares of missed into shares of met."""
    if not counts_missed:
        return points
    low, high = 1 - points["direct_upper"], 1 - points["direct_lower"]
    return points.assign(direct=1 - points["direct"], direct_lower=low, direct_upper=high)


def points_of(
    cells: pd.DataFrame, unit: str, units: list[str], counts_missed: bool
) -> pd.DataFrame:
    """Return one row per unit and group: counts, rate, Wilson interval, standardised rates.

    ``cells``: unit, gestation_band, mode_of_birth, shift, counted, numerator of one measure.
    """
    recorded = (cells[MIX[0]] != NOT_RECORDED) & (cells[MIX[1]] != NOT_RECORDED)
    rare = cells["counted"] - cells["numerator"] if counts_missed else cells["numerator"]
    known = cells.assign(rare=rare)[recorded]
    mixes = {kind: _mix_for(known, kind) for kind in KINDS}
    rows: list[dict[str, Any]] = []
    for kind, name, which in _groups(cells, unit, units):
        some, of = (float(cells.loc[which, column].sum()) for column in ("numerator", "counted"))
        row = {"kind": kind, "name": name, "numerator": some, "counted": of}
        mixed = _standardised(known, mixes[kind], which[recorded].to_numpy(bool), kind)
        rows.append({**row, **mixed})
    points = pd.DataFrame(rows)
    points[NUMBERS] = points[NUMBERS].astype(float)
    points["rate"] = points["numerator"] / points["counted"]
    points["lower"], points["upper"] = wilson(points["numerator"], points["counted"])
    return _on_the_met_side(points, counts_missed)


def with_limits(points: pd.DataFrame, centre: float, spread: Spread | None) -> pd.DataFrame:
    """Add each point's outer limits and where it lies: above, below, within or not_judged.

    A point lies outside where its count has less than the outer limit's probability, exactly.
    Units are not judged where there are fewer than three; where ``spread`` says that units
    differ beyond chance, their limits are widened and decide.
    """
    low, high = funnel.binomial_limits(centre, points["counted"], funnel.OUTER)
    few, many = funnel.tails(points["numerator"], points["counted"], centre)
    rows = points.assign(limit_low=low, limit_high=high, lies="within")
    is_below = pd.Series(few < funnel.OUTER[0], index=rows.index)
    is_above = pd.Series(many < funnel.OUTER[0], index=rows.index)
    is_unit = rows["kind"] == UNIT
    if spread is not None and spread.tau2_winsor > 0:
        of = rows["counted"].to_numpy(float)
        wide_low, wide_high = funnel.widened(np.array([low, high]), centre, of, spread.tau2_winsor)
        rows["limit_low"] = rows["limit_low"].mask(is_unit, wide_low)
        rows["limit_high"] = rows["limit_high"].mask(is_unit, wide_high)
        is_below = is_below.mask(is_unit, rows["rate"] < rows["limit_low"])
        is_above = is_above.mask(is_unit, rows["rate"] > rows["limit_high"])
    rows["lies"] = rows["lies"].mask(is_above, "above").mask(is_below, "below")
    if is_unit.sum() < FEWEST_UNITS:
        rows["lies"] = rows["lies"].mask(is_unit, "not_judged")
    return rows


def with_pooled(points: pd.DataFrame) -> tuple[pd.DataFrame, dict[str, Apart]]:
    """Add each point's share drawn towards the others of its kind, and how much it borrowed.

    Those without a name on record are no group and stay as they are. Returns as well, by kind, how
    far the true shares lie apart beyond chance.
    """
    rows = points.assign(**dict.fromkeys(POOLED, np.nan))
    spreads: dict[str, Apart] = {}
    for kind, own in points[points["name"] != NOT_RECORDED].groupby("kind", sort=False):
        found = pooled.pooled(own["numerator"], own["counted"])
        if found is not None:
            columns = (found.share, found.lower, found.upper, found.borrowed)
            rows.loc[own.index, list(POOLED)] = np.column_stack(columns)
            spreads[str(kind)] = found.spread
    return rows, spreads


def funnel_of(
    cells: pd.DataFrame, measure: TitledRow, unit: str, units: list[str]
) -> Funnel | None:
    """Return one measure's funnel; None where this unit counted nobody."""
    counted, numerator = int(cells["counted"].sum()), int(cells["numerator"].sum())
    if not (cells["unit"] == unit).any() or not counted:
        return None
    counts_missed = 2 * numerator > counted
    points = points_of(cells, unit, units, counts_missed)
    of_units = points[points["kind"] == UNIT]
    enough = len(of_units) >= funnel.FEWEST
    spread = funnel.spread(of_units["numerator"], of_units["counted"]) if enough else None
    limited, apart = with_pooled(with_limits(points, numerator / counted, spread))
    return Funnel(
        measure_id=measure["measure_id"],
        title=measure["title"],
        group_name=measure["group_name"],
        numerator=numerator,
        counted=counted,
        counts_missed=counts_missed,
        points=checked(limited, PointRow),
        units=len(of_units),
        spread=spread,
        apart=apart,
    )


def looked_at(data: CompareData) -> tuple[int, float, int]:
    """Return (points judged, how many lie outside by chance where nothing differs, how many do).

    Where none, or all, met a measure nothing can differ, and its points are not counted.
    """
    judged = [
        one.points[one.points["lies"] != "not_judged"] for one in data.funnels if not one.is_flat
    ]
    number = sum(len(points) for points in judged)
    outside = sum(int(points["lies"].isin(["above", "below"]).sum()) for points in judged)
    return number, expected_by_chance(OUTSIDE_BY_CHANCE, number), outside


def alone(one: Funnel) -> list[PointRow]:
    """Return the group that lies outside the limits where no other does; else nothing."""
    groups = one.points[one.points["kind"] != UNIT]
    outside = groups[groups["lies"].isin(["above", "below"])]
    return rows_of(outside, PointRow) if len(outside) == 1 else []


def read_compare(store_path: Path | str, data: FairData) -> CompareData:
    """Read the units of the store, and the groups of this one, over the page's months."""
    span = {"first": data.first.date(), "last": data.last.date()}
    with open_store(Path(store_path)) as store:
        cells = query(store, "pages/fair/compare/cells", CellRow, **span)
        units = query(store, "reading/units", UnitTitleRow).sort_values(["title", "unit"])
    by_measure = dict(list(cells.groupby("measure_id")))
    names = [str(name) for name in units["unit"]]
    found = [
        funnel_of(by_measure[row["measure_id"]].reset_index(drop=True), row, data.unit, names)
        for row in rows_of(data.measures, TitledRow)
        if row["measure_id"] in by_measure
    ]
    return CompareData(
        unit=data.unit,
        first=data.first,
        last=data.last,
        units=dict(zip(names, units["title"].astype(str), strict=True)),
        funnels=tuple(one for one in found if one is not None),
    )

"""Did the change work: one change of a unit's log, the measures it was meant to move, the rest.

Reads a built store read-only; each query is one file of ``sql``, through the public views,
or one that the monthly review asks as well. Balancing measures are always read with the measure.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import duckdb
import pandas as pd

from pipelines.base.errors import StoreError, nearest
from pipelines.base.frames import checked, columns_of, rows_of
from pipelines.base.store_file import open_store
from pipelines.pages.change.frames import (
    BornRow,
    BreakRow,
    MixRow,
    TouchingRow,
)
from pipelines.pages.change.study import LeftOut, Line, leave_one_out, sensitivity
from pipelines.reading.around import Around
from pipelines.reading.before_after import AFTER, BEFORE, Study
from pipelines.reading.frames import (
    BuildRow,
    InfoRow,
    LoadRow,
    LogRow,
    MonthRow,
    SeriesRow,
    UnitTitleRow,
    ValueRow,
)
from pipelines.reading.judged import read_judged
from pipelines.reading.months import last_full_month
from pipelines.reading.queries import query, unit_title
from pipelines.reading.verdict import (
    ChangeVerdict,
    MeasureVerdict,
    balanced,
    concerned,
    expand,
    names,
    of_measure,
    verdict,
)
from pipelines.statistics import beside
from pipelines.statistics.effects import Span
from pipelines.statistics.interrupted import Priors
from pipelines.statistics.intervals import difference

NO_UNIT: Final = "none"  # as a comparison unit: compare with none
# Who was born: name -> (how many, of how many) in sql/newborns.sql.
MIX: Final[Mapping[str, tuple[str, str]]] = {
    "Born before 37 weeks": ("preterm", "gestation_known"),
    "Born by caesarean": ("caesarean", "mode_known"),
    "Born at night": ("night", "shift_known"),
}


@dataclass(frozen=True)
class Comparison:
    """The same measure in a unit without the change. ``difference``: here less there."""

    unit: str
    title: str
    study: Study
    difference: Span | None  # None as well where that unit changed the same measure itself
    own_changes: pd.DataFrame  # that unit's own changes of this measure within the months


@dataclass(frozen=True)
class ChangeData:
    """Everything the page says; ``frames.py`` declares the columns of each frame."""

    unit: str
    title: str
    change_id: str
    change_title: str
    start_on: pd.Timestamp
    until: pd.Timestamp  # the last full month
    verdict: ChangeVerdict  # the one verdict that every page gives
    told: Mapping[str, MeasureVerdict]  # on each measure of this page, by measure_id
    main: Study
    is_meant: bool  # the change was meant to move this measure
    meant: list[Study]  # the other measures it was meant to move
    balancing: list[Study]
    silent: list[str]  # titles of measures named, of which the export has no usable record
    left_aside: list[str]  # named by the change, but not shares: not analysed here
    learned_from: int  # measures of the unit from which its priors were learned
    lines: list[Line]
    left_out: LeftOut | None
    comparison: Comparison | None
    other_units: list[str]  # of the store, where no comparison is made
    changes: pd.DataFrame  # the unit's log: one row per change, with touches
    breaks: pd.DataFrame  # dates on which this measure's numbers changed
    mix: pd.DataFrame  # one row per fact of who was born: before, after, difference
    loads: pd.DataFrame  # one row per export file of the unit
    build: Mapping[str, str]


@dataclass(frozen=True)
class _Unit:
    """One unit's frames."""

    changes: pd.DataFrame
    breaks: pd.DataFrame
    series: pd.DataFrame
    newborns: pd.DataFrame
    until: pd.Timestamp
    silent: frozenset[str]
    loads: pd.DataFrame


def _read_unit(store: duckdb.DuckDBPyConnection, unit: str) -> _Unit:
    months = query(store, "reading/months", MonthRow, unit=unit).dropna(subset="month")
    if months.empty:
        raise StoreError(f"unit '{unit}': the store holds no newborn with a month of birth.")
    loads = query(store, "reading/loads", LoadRow, unit=unit)
    until = last_full_month(months, loads["loaded_at"].max() if len(loads) else None)
    changes = query(store, "reading/change_log", LogRow, unit=unit)
    breaks = query(store, "pages/change/breaks", BreakRow, unit=unit)
    newborns = query(store, "pages/change/newborns", BornRow, unit=unit, until=until.date())
    monthly = query(store, "reading/series", SeriesRow, unit=unit, month=until.date())
    silent = frozenset(monthly.loc[monthly["is_silent"], "measure_id"])
    return _Unit(changes, breaks, monthly, newborns, until, silent, loads)


def _choose(changes: pd.DataFrame, unit: str, change: str | None) -> LogRow:
    if changes.empty:
        raise StoreError(
            f"unit '{unit}': its log holds no change. Write it under [[changes]] in the unit file "
            "(id, from, title, measures, balancing) and build again."
        )
    if change is None:
        return rows_of(changes.head(1), LogRow)[0]
    found = changes[changes["change_id"] == change]
    if found.empty:
        known = changes["change_id"].astype(str)
        raise StoreError(
            f"change '{change}' is not in the log of '{unit}'.{nearest(change, known)}"
        )
    return rows_of(found.head(1), LogRow)[0]


def _main_row(meant: pd.DataFrame, info: pd.DataFrame, measure: str | None) -> InfoRow:
    """Return the measure of the page: the one asked for, or the first that was meant to move."""
    if measure is None:
        if meant.empty:
            raise StoreError("the change names no measure of shares; give --measure ID.")
        return rows_of(meant.head(1), InfoRow)[0]
    found = info[info["measure_id"] == measure]
    if len(found):
        return rows_of(found.head(1), InfoRow)[0]
    bands = info.loc[info["parent_id"] == measure, "measure_id"]
    if len(bands):
        raise StoreError(f"measure '{measure}' has several bands: {', '.join(bands)}. Name one.")
    known = nearest(measure, info["measure_id"])
    raise StoreError(f"measure '{measure}' is not a measure of shares in this store.{known}")


def _told_first(meant: pd.DataFrame, silent: frozenset[str]) -> pd.DataFrame:
    """Put the measures that can be judged first, in the order of the log."""
    is_silent = meant["measure_id"].isin(silent)
    return pd.concat([meant[~is_silent], meant[is_silent]])


def _refuse_silent(row: InfoRow, unit: _Unit) -> None:
    if row["measure_id"] in unit.silent:
        raise StoreError(
            f"measure '{row['measure_id']}' cannot be judged from this unit's export: no month "
            "has a usable record of it. Name another with --measure ID."
        )


def _studies(around: Around, rows: pd.DataFrame, silent: frozenset[str]) -> list[Study]:
    told = rows[~rows["measure_id"].isin(silent)]
    found = [around.study(row) for row in rows_of(told, InfoRow)]
    # A measure without an eligible newborn in all these months has nothing to show.
    return [one for one in found if one.months["counted"].sum() > 0]


def _touching(changes: pd.DataFrame, row: InfoRow, change_id: str | None = None) -> pd.DataFrame:
    """Return the log without ``change_id``, with ``touches``: it names this measure too."""
    ids = {str(row["measure_id"]), str(row["parent_id"])}
    rest = changes[changes["change_id"] != change_id].copy()
    named = zip(rest["measures"], rest["balancing"], strict=True)
    touches = [bool(ids & {*names(one), *names(two)}) for one, two in named]
    rest["touches"] = pd.Series(touches, index=rest.index, dtype=bool)  # a bool where empty, too
    return rest


def _within(changes: pd.DataFrame, study: Study) -> pd.DataFrame:
    if study.months.empty:
        return changes.head(0)
    first, last = study.months["month"].min(), study.months["month"].max()
    end = last + pd.DateOffset(months=1)
    inside: pd.DataFrame = changes[(changes["start_on"] >= first) & (changes["start_on"] < end)]
    return inside


def _mix(newborns: pd.DataFrame, study: Study) -> pd.DataFrame:
    """Return who was born before and after: name, before, after (n, N), difference with interval.

    A fact the store does not know is left out.
    """
    phases = study.months[["month", "phase"]]
    sums = newborns.merge(phases, on="month").groupby("phase").sum(numeric_only=True)
    rows = []
    for name, (part, whole) in MIX.items():
        if not {BEFORE, AFTER} <= set(sums.index) or not (sums[whole] > 0).all():
            continue
        n_2, of_2 = sums.loc[BEFORE, [part, whole]].to_numpy(float)
        n_1, of_1 = sums.loc[AFTER, [part, whole]].to_numpy(float)
        lower, upper = difference((n_1, of_1), (n_2, of_2))
        span = Span(n_1 / of_1 - n_2 / of_2, float(lower), float(upper))
        rows.append({"name": name, "before": (n_2, of_2), "after": (n_1, of_1), "points": span})
    return checked(pd.DataFrame(rows, columns=list(columns_of(MixRow))), MixRow)


def _compare(
    store: duckdb.DuckDBPyConnection,
    other: str,
    main: Study,
    start_on: pd.Timestamp,
    is_asked: bool,
) -> Comparison | None:
    title = unit_title(store, other)
    unit = _read_unit(store, other)
    if main.row["measure_id"] in unit.silent:
        if is_asked:
            raise StoreError(
                f"unit '{other}' cannot be compared with: no month of its export has a usable "
                f"record of '{main.row['measure_id']}'. Name another with --compare-unit."
            )
        return None
    info = query(store, "reading/measures", InfoRow, unit=other)
    none = pd.DataFrame(columns=list(columns_of(ValueRow)))
    there = Around(start_on, unit.series, info, unit.breaks, none).study(main.row)
    touching = _touching(unit.changes, main.row)
    own = _within(touching[touching["touches"]], there)
    difference = None
    if main.fit and there.fit and own.empty:
        difference = beside.difference(main.fit, there.fit)
    return Comparison(other, title, there, difference, own)


def _other_unit(
    store: duckdb.DuckDBPyConnection, unit: str, wanted: str | None
) -> tuple[str | None, list[str]]:
    """Return the unit to compare with: the one asked for, or the only other one."""
    known = [str(name) for name in query(store, "reading/units", UnitTitleRow)["unit"]]
    others = [name for name in known if name != unit]
    if wanted == NO_UNIT:
        return None, others
    if wanted is None:
        return (others[0] if len(others) == 1 else None), others
    if wanted not in others:
        raise StoreError(f"unit '{wanted}' cannot be compared with.{nearest(wanted, others)}")
    return wanted, others


def read_change(
    store_path: Path | str,
    unit: str,
    change: str | None = None,
    *,
    measure: str | None = None,
    compare_unit: str | None = None,
) -> ChangeData:
    """Read one change of one unit.

    ``change``: its id (None: the first of the log). ``measure``: an id (None: the first that the
    change was meant to move). ``compare_unit``: a unit without the change (None: the only other
    unit of the store, where there is one; "none": no comparison).
    Raises StoreError naming what is not there, and what is.
    """
    with open_store(Path(store_path)) as store:
        title = unit_title(store, unit)
        here = _read_unit(store, unit)
        info = query(store, "reading/measures", InfoRow, unit=unit)
        entry = _choose(here.changes, unit, change)
        start_on = pd.Timestamp(entry["start_on"])
        named = names(entry["measures"])
        meant = expand(named, info)
        row = _main_row(_told_first(meant, here.silent), info, measure)
        _refuse_silent(row, here)
        judged = read_judged(store, unit, here.until, concerned(entry, row, info))
        around = Around(start_on, here.series, info, here.breaks, judged.values)
        main = around.study(row)
        other, others = _other_unit(store, unit, compare_unit)
        is_asked = compare_unit is not None
        comparison = _compare(store, other, main, start_on, is_asked=is_asked) if other else None
        build = query(store, "reading/build", BuildRow, unit=unit)
    balancing = [*names(entry["balancing"]), *names(row["balancing"])]
    weighed = balanced(entry, row, info)
    apart = [row["measure_id"], *meant["measure_id"]]
    known = {*info["measure_id"], *info["parent_id"]}
    looked = pd.concat([meant, weighed]).drop_duplicates("measure_id")
    silent = looked.loc[looked["measure_id"].isin(here.silent), "title"]
    aimed = _studies(around, meant[meant["measure_id"] != row["measure_id"]], here.silent)
    balances = _studies(around, weighed[~weighed["measure_id"].isin(apart)], here.silent)
    own_breaks = here.breaks[here.breaks["measure_id"] == row["measure_id"]]
    return ChangeData(
        unit=unit,
        title=title,
        change_id=entry["change_id"],
        change_title=entry["title"],
        start_on=start_on,
        until=here.until,
        verdict=verdict(judged, entry, around.study),
        told={
            str(one.row["measure_id"]): of_measure(judged, one.row, one, start_on)
            for one in (main, *aimed, *balances)
        },
        main=main,
        is_meant=row["measure_id"] in set(meant["measure_id"]),
        meant=aimed,
        balancing=balances,
        silent=[str(title) for title in silent],
        left_aside=[name for name in dict.fromkeys([*named, *balancing]) if name not in known],
        learned_from=around.priors[1],
        lines=sensitivity(main),
        left_out=leave_one_out(main),
        comparison=comparison,
        other_units=others,
        changes=checked(
            _within(_touching(here.changes, row, entry["change_id"]), main), TouchingRow
        ),
        breaks=own_breaks.dropna(subset="start_on"),
        mix=_mix(here.newborns, main),
        loads=here.loads,
        build=dict(zip(build["key"], build["value"], strict=True)),
    )


def read_log(store_path: Path | str, unit: str) -> pd.DataFrame:
    """Return the unit's log of changes: change_id, start_on, title, measures, balancing."""
    with open_store(Path(store_path)) as store:
        unit_title(store, unit)
        return query(store, "reading/change_log", LogRow, unit=unit)


@dataclass(frozen=True)
class Planned:
    """A measure before a change: its full months, dates of its policy, the unit's priors."""

    unit_title: str
    row: InfoRow
    months: pd.DataFrame  # SeriesRow
    breaks: pd.Series
    priors: Priors


def read_measure(store_path: Path, unit: str, measure: str) -> Planned:
    """Return a measure of a unit as a change would start from it after the last full month."""
    with open_store(store_path) as store:
        title = unit_title(store, unit)
        here = _read_unit(store, unit)
        info = query(store, "reading/measures", InfoRow, unit=unit)
    row = _main_row(info, info, measure)
    _refuse_silent(row, here)
    own = here.breaks[here.breaks["measure_id"] == row["measure_id"]]
    months = here.series[here.series["measure_id"] == row["measure_id"]]
    none = pd.DataFrame(columns=list(columns_of(ValueRow)))
    start_on = here.until + pd.DateOffset(months=1)
    priors, _ = Around(start_on, here.series, info, here.breaks, none).priors
    return Planned(title, row, months, own["start_on"].dropna(), priors)

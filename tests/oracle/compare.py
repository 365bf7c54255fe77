"""Lay the oracle's answers beside a built store's, cell by cell and row by row.

Only the store's tables are read here: no query computes anything a measure defines.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

import duckdb

from .engine import Member, Result, read_header, result_of
from .measures import MEASURES
from .reader import FlaggedCell, Row, UnitExport, read_contract

TABLES = ("admission", "observation", "dose", "care", "finding")
# Not stored, or worked out from the time of birth rather than read.
DERIVED = {"birth_time", "birth_month", "birth_weekday", "birth_hour", "birth_order"}
# The store keeps minutes as doubles: a billionth of a minute is far below any time charted.
MINUTES_WITHIN = 1e-9


def _paired(
    connection: duckdb.DuckDBPyConnection, table: str, unit: str, rows: Iterable[Row]
) -> list[tuple[Row, dict[str, Any]]]:
    """Pair the oracle's rows of one table with the store's.

    One line of a wide file gives several rows of one table. The store numbers them in the
    order of the takes; that both sides have the same rows is checked.
    """
    own: dict[tuple[str, int], list[Row]] = defaultdict(list)
    for row in rows:
        if row.table == table:
            own[row.source_file, row.source_line].append(row)
    found = connection.execute(
        f"select * from judged.{table} where unit = ? order by row_id", [unit]
    )
    names = [column[0] for column in found.description or ()]
    stored: dict[tuple[str, int], list[dict[str, Any]]] = defaultdict(list)
    for cells in found.fetchall():
        line = dict(zip(names, cells, strict=True))
        stored[line["source_file"], line["source_line"]].append(line)
    assert own.keys() == stored.keys(), f"{table}: {sorted(own.keys() ^ stored.keys())[:5]}"
    pairs: list[tuple[Row, dict[str, Any]]] = []
    for spot, lines in stored.items():
        assert len(own[spot]) == len(lines), f"{table} {spot}: {len(own[spot])}, {len(lines)}"
        pairs += zip(own[spot], lines, strict=True)
    return pairs


def _is_same_value(own: Any, stored: Any) -> bool:
    if own is None or stored is None:
        return own is stored
    if isinstance(own, Fraction):
        return abs(float(own) - float(stored)) < MINUTES_WITHIN
    return bool(own == stored)


def cell_differences(store: Path, export: UnitExport, most: int = 20) -> list[str]:
    """Return the first cells the two sides read or mask apart, in words."""
    columns = {name: list(about["columns"]) for name, about in read_contract().items()}
    said = []
    with duckdb.connect(str(store), read_only=True) as connection:
        for table in TABLES:
            pairs = _paired(connection, table, export.unit, export.rows)
            for row, line in pairs:
                spot = f"{row.source_file} line {row.source_line} {table}"
                own, masked = row.unusable - DERIVED, set(line["unusable"] or ()) - DERIVED
                if own != masked:
                    said.append(f"{spot}: masked by oracle {own}, by store {masked}")
                for column in columns[table]:
                    if column in DERIVED or _is_same_value(row.get(column), line[column]):
                        continue
                    said.append(f"{spot} {column}: oracle {row.get(column)}, store {line[column]}")
    return said[:most]


def error_flags(store: Path, export: UnitExport) -> set[FlaggedCell]:
    """Return the cells of one unit that the store's judgement made unusable."""
    place = {}
    with duckdb.connect(str(store), read_only=True) as connection:
        for table in TABLES:
            for row, line in _paired(connection, table, export.unit, export.rows):
                place[table, line["row_id"]] = row.place
        flags = connection.execute(
            "select table_name, row_id, source_file, source_line, column_name from judged.flag "
            "where unit = ? and severity = 'error' and row_id is not null",
            [export.unit],
        ).fetchall()
    return {
        FlaggedCell(table, file, line, column, place[table, row_id])
        for table, row_id, file, line, column in flags
    }


def rejected_lines(store: Path, unit: str) -> set[tuple[str, int]]:
    """Return (file, line) of every line the store set aside."""
    with duckdb.connect(str(store), read_only=True) as connection:
        return set(
            connection.execute(
                "select source_file, source_line from rejected where unit = ?", [unit]
            ).fetchall()
        )


# The store has more measures than the oracle recomputes; these are the oracle's, and their bands.
_OWN = (
    "select measure_id from measure_info where parent_id in "
    f"({', '.join(repr(name) for name in MEASURES)})"
)


def stored_members(store: Path, unit: str) -> list[Member]:
    """Return the store's membership of one unit."""
    with duckdb.connect(str(store), read_only=True) as connection:
        rows = connection.execute(
            "select record_id, measure_id, item, state, minutes, strftime(period, '%Y-%m') "
            f"from membership where unit = ? and measure_id in ({_OWN})",
            [unit],
        ).fetchall()
    return [
        Member(record, measure, item, state, None if at is None else Fraction(at), period)
        for record, measure, item, state, at, period in rows
    ]


def differences(own: Iterable[Member], stored: Iterable[Member], most: int = 5) -> list[str]:
    """Return the first differing records of each measure, in words; empty where they agree."""
    sides: list[dict[tuple[str, str, int], Member]] = []
    for members in (own, stored):
        side: dict[tuple[str, str, int], Member] = {}
        for member in members:
            key = (member.measure_id, member.record_id, member.item)
            assert key not in side, f"{key} stands twice"
            side[key] = member
        sides.append(side)
    said: dict[str, list[str]] = defaultdict(list)
    for key in sorted(sides[0].keys() | sides[1].keys()):
        oracle, store = sides[0].get(key), sides[1].get(key)
        if oracle is None or store is None or not _is_same(oracle, store):
            said[key[0]].append(f"{key}: oracle {_words(oracle)}, store {_words(store)}")
    return [
        line
        for lines in said.values()
        for line in [*lines[:most], *([f"and {len(lines) - most} more"] * (len(lines) > most))]
    ]


def _is_same(oracle: Member, store: Member) -> bool:
    if (oracle.state, oracle.period) != (store.state, store.period):
        return False
    if oracle.state == "exclusion":  # no page shows when something was done for one left out
        return True
    if oracle.minutes is None or store.minutes is None:
        return oracle.minutes is store.minutes
    return abs(oracle.minutes - store.minutes) < MINUTES_WITHIN


def _words(member: Member | None) -> str:
    if member is None:
        return "no row"
    at = None if member.minutes is None else float(member.minutes)
    return f"{member.state} at {at} in {member.period}"


ResultKey = tuple[str, str, str | None]


def _quarter(month: str) -> str:
    """The first month of a month's calendar quarter."""
    year, number = month.split("-")
    return f"{year}-{(int(number) - 1) // 3 * 3 + 1:02d}"


def own_results(members: Iterable[Member]) -> dict[ResultKey, Result]:
    """Count one unit's membership: (measure, kind of period, YYYY-MM or None) -> result.

    A month or quarter in which the unit had newborns but the measure had no case counts none.
    """
    members = list(members)
    spans: set[tuple[str, str | None]] = {("all", None)}
    for member in members:
        spans |= set(_spans(member.period))
    missing = {name: _missing(name) for name in {member.measure_id for member in members}}
    states: dict[ResultKey, list[str]] = {(name, *span): [] for name in missing for span in spans}
    for member in members:
        for span in _spans(member.period):
            states[member.measure_id, *span].append(member.state)
    return {key: result_of(group, missing[key[0]]) for key, group in states.items()}


def _spans(month: str | None) -> list[tuple[str, str | None]]:
    spans: list[tuple[str, str | None]] = [("all", None)]
    return [*spans, ("month", month), ("quarter", _quarter(month))] if month else spans


def _missing(measure_id: str) -> str:
    is_band = measure_id.startswith("arrival_cold_")
    return read_header("arrival_cold" if is_band else measure_id).missing


def result_differences(
    own: Mapping[ResultKey, Result], stored: Mapping[ResultKey, Mapping[str, Any]]
) -> list[str]:
    """Return where counts, rate, interval or bounds differ by more than rounding, in words."""
    said = [f"only one side has {key}" for key in own.keys() ^ stored.keys()]
    for key in own.keys() & stored.keys():
        for name, number in stored[key].items():
            mine = getattr(own[key], name)
            is_same = mine is number if None in (mine, number) else abs(mine - number) < 1e-9
            if not is_same:
                said.append(f"{key} {name}: oracle {mine}, store {number}")
    return sorted(said)


def stored_results(store: Path, unit: str) -> dict[ResultKey, dict[str, Any]]:
    """Return the store's results of one unit without strata, keyed like ``own_results``."""
    columns = list(Result.__dataclass_fields__)
    with duckdb.connect(str(store), read_only=True) as connection:
        rows = connection.execute(
            "select measure_id, period_kind, strftime(period_start, '%Y-%m'), "
            f"{', '.join(columns)} from result "
            f"where unit = ? and stratifier = 'all newborns' and measure_id in ({_OWN})",
            [unit],
        ).fetchall()
    return {
        (measure, kind, None if kind == "all" else start): dict(zip(columns, numbers, strict=True))
        for measure, kind, start, *numbers in rows
    }

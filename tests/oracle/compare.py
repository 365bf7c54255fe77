"""Lay the oracle's answers beside a built store's, cell by cell and row by row.

Only the store's tables are read here: no query computes anything a measure defines.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from numbers import Rational
from pathlib import Path
from typing import Any

import duckdb

from .engine import Member
from .reader import FlaggedCell, Row, UnitExport, read_contract
from .results import Result, ResultKey, Spread

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
    if isinstance(own, Rational) and not isinstance(own, bool):
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
    """Return the cells of one unit that the store's judgement made unusable.

    A wide line gives several rows of a table: the store's are counted in the order of the takes.
    """
    places: dict[tuple[str, str, int], list[int]] = defaultdict(list)
    for row in export.rows:
        places[row.table, row.source_file, row.source_line].append(row.place)
    found = set()
    with duckdb.connect(str(store), read_only=True) as connection:
        for table in TABLES:
            flags = connection.execute(
                f"""
                with numbered as (
                    select row_id, row_number() over (
                        partition by source_file, source_line order by row_id) as nth
                    from typed.{table} where unit = $unit
                )
                select source_file, source_line, column_name, nth
                from judged.flag as flag inner join numbered using (row_id)
                where flag.unit = $unit and flag.table_name = $table and flag.severity = 'error'
                """,
                {"unit": export.unit, "table": table},
            ).fetchall()
            for file, line, column, nth in flags:
                place = places[table, file, line][nth - 1]
                found.add(FlaggedCell(table, file, line, column, place))
    return found


def rejected_lines(store: Path, unit: str) -> set[tuple[str, int]]:
    """Return (file, line) of every line the store set aside."""
    with duckdb.connect(str(store), read_only=True) as connection:
        return set(
            connection.execute(
                "select source_file, source_line from rejected where unit = ?", [unit]
            ).fetchall()
        )


def stored_members(store: Path, unit: str) -> list[Member]:
    """Return the store's membership of one unit; its one reason stands for the oracle's several."""
    with duckdb.connect(str(store), read_only=True) as connection:
        rows = connection.execute(
            "select record_id, measure_id, item, state::varchar, minutes, due_minutes, reason, "
            "strftime(period, '%Y-%m') from membership where unit = ?",
            [unit],
        ).fetchall()
    return [
        Member(record, measure, item, state, at, due, (reason,) if reason else (), period)
        for record, measure, item, state, at, due, reason, period in rows
    ]


Key = tuple[str, str, int]


def _by_key(members: Iterable[Member]) -> dict[Key, Member]:
    found: dict[Key, Member] = {}
    for member in members:
        key = (member.measure_id, member.record_id, member.item)
        assert key not in found, f"{key} stands twice"
        found[key] = member
    return found


def _untied(own: dict[Key, Member], stored: dict[Key, Member]) -> dict[Key, Member]:
    """Lay the store's items of one minute in the order in which they fit the oracle's best."""
    ties: dict[Key, list[Key]] = defaultdict(list)
    for key, member in own.items():
        if member.tied is not None:
            ties[key[0], key[1], member.tied].append(key)
    laid = dict(stored)
    for keys in ties.values():
        waiting = [stored[key] for key in keys if key in stored]
        if len(keys) == 1 or len(waiting) < len(keys):
            continue
        for key in keys:
            fit = next((one for one in waiting if _is_same(own[key], one)), waiting[0])
            waiting.remove(fit)
            laid[key] = fit
    return laid


def differences(own: Iterable[Member], stored: Iterable[Member], most: int = 5) -> list[str]:
    """Return the first differing records of each measure, in words; empty where they agree."""
    oracle, store = _by_key(own), _by_key(stored)
    store = _untied(oracle, store)
    said: dict[str, list[str]] = defaultdict(list)
    for key in sorted(oracle.keys() | store.keys()):
        mine, theirs = oracle.get(key), store.get(key)
        if mine is None or theirs is None or not _is_same(mine, theirs):
            said[key[0]].append(f"{key}: oracle {_words(mine)}, store {_words(theirs)}")
    return [
        line
        for lines in said.values()
        for line in [*lines[:most], *([f"and {len(lines) - most} more"] * (len(lines) > most))]
    ]


def _is_near(own: Any, stored: Any) -> bool:
    if own is None or stored is None:
        return own is stored
    return bool(abs(float(own) - float(stored)) < MINUTES_WITHIN)


def _is_same(oracle: Member, store: Member) -> bool:
    if (oracle.state, oracle.period) != (store.state, store.period):
        return False
    if not _is_near(oracle.minutes, store.minutes):
        return False
    if not _is_near(oracle.due_minutes, store.due_minutes):
        return False
    if not store.reasons:
        return not oracle.reasons
    return store.reasons[0] in oracle.reasons


def _words(member: Member | None) -> str:
    if member is None:
        return "no row"
    at, due = (None if at is None else float(at) for at in (member.minutes, member.due_minutes))
    why = " or ".join(dict.fromkeys(member.reasons))
    return f"{member.state} ({why}) at {at}, due {due}, in {member.period}"


def result_differences(
    own: Mapping[ResultKey, Result | Spread], stored: Mapping[ResultKey, Mapping[str, Any]]
) -> list[str]:
    """Return where counts, rate, interval, bounds or centiles differ by more than rounding."""
    said = [f"only one side has {key}" for key in own.keys() ^ stored.keys()]
    for key in own.keys() & stored.keys():
        for name, number in stored[key].items():
            mine = getattr(own[key], name)
            is_same = mine is number if None in (mine, number) else abs(mine - number) < 1e-9
            if not is_same:
                said.append(f"{key} {name}: oracle {mine}, store {number}")
    return sorted(said)


def _stored(
    store: Path, unit: str, view: str, columns: Iterable[str]
) -> dict[ResultKey, dict[str, Any]]:
    columns = list(columns)
    with duckdb.connect(str(store), read_only=True) as connection:
        rows = connection.execute(
            "select measure_id, period_kind, strftime(period_start, '%Y-%m'), stratifier, "
            f"stratum, {', '.join(columns)} from {view} where unit = ?",
            [unit],
        ).fetchall()
    return {
        ResultKey(measure, kind, None if kind == "all" else start, by, part): dict(
            zip(columns, numbers, strict=True)
        )
        for measure, kind, start, by, part, *numbers in rows
    }


def stored_results(store: Path, unit: str) -> dict[ResultKey, dict[str, Any]]:
    """Return the store's results of one unit, keyed like ``own_results``."""
    return _stored(store, unit, "result", Result.__dataclass_fields__)


def stored_spread(store: Path, unit: str) -> dict[ResultKey, dict[str, Any]]:
    """Return the store's medians and centiles of one unit, keyed like ``own_spread``."""
    return _stored(store, unit, "spread", Spread.__dataclass_fields__)

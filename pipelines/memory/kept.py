"""The rows of deliveries, kept as text beside the store: the columns that the unit's file names.

A folder ``<store>.deliveries`` (``my.duckdb.deliveries``) with one folder a delivery
(``rows_0.parquet``, ... one for each export file; ``newborns.parquet``; ``delivery.json``) and the
copies of the units' files. It is as sensitive as the exports: it holds clock times, which the
store itself never does. Nothing in it is ever changed; the store's log says which folders count,
so whatever a step that was cut off left here counts for nothing and goes at the next.
"""

import contextlib
import json
import os
import shutil
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field, replace
from fnmatch import fnmatch
from pathlib import Path
from typing import Any, Final

import duckdb

from pipelines.base.errors import StoreError
from pipelines.base.sql import quote
from pipelines.base.store_file import is_running
from pipelines.definitions.read_units import Unit
from pipelines.definitions.unit_takes import ExportFile
from pipelines.memory.unit_copies import UNITS, remove_copies
from pipelines.stages.raw.kept_rows import is_admission_file, record_id, row_content
from pipelines.stages.raw.raw_file import PART_BITS, RawFile
from pipelines.stages.typed.cells import typed_expression

NEWBORNS: Final = "newborns.parquet"
_ABOUT: Final = "delivery.json"
_LOCK: Final = "lock"
_TAKING: Final = ".taking-"


@dataclass(frozen=True)
class KeptFile:
    """One export file of a delivery: what of it is no row. ``header``: the names that are kept."""

    name: str
    pattern: str
    sheet: str | None
    header: list[str]
    header_line: int
    content_hash: str
    ragged: list[tuple[int, str]]
    notes: list[str]
    own_forms: list[str]
    rows: int
    shape: dict[str, Any] = field(default_factory=dict)
    has_ids: bool = False
    has_own_names: bool = False


def memory_of(store: Path) -> Path:
    """Return the folder in which the deliveries of a store are kept."""
    return store.with_name(f"{store.name}.deliveries")


def write_delivery(
    connection: duckdb.DuckDBPyConnection,
    raws: Sequence[RawFile],
    shapes: Sequence[dict[str, Any]],
    place: Path,
) -> None:
    """Write what was read of one delivery's files into the folder ``place``.

    ``raw.record`` must hold its newborns; the guard must have passed.
    """
    place.mkdir(parents=True)
    files: list[KeptFile] = []
    for raw, shape in zip(raws, shapes, strict=True):
        header = [name for name in raw.header if name in raw.spec.local_columns]
        cells = [f"{raw.column(name)} as c{at}" for at, name in enumerate(header)]
        rows = quote(str(place / f"rows_{len(files)}.parquet"))
        connection.execute(
            f"copy (select {', '.join(['source_line', *cells])} from {raw.table} "
            f"order by source_line) to {rows} (format parquet, compression zstd)"
        )
        files.append(
            KeptFile(
                raw.name,
                raw.spec.pattern,
                raw.spec.sheet,
                header,
                raw.header_line,
                raw.content_hash,
                list(raw.ragged),
                list(raw.notes),
                list(raw.own_forms),
                raw.rows_in - len(raw.ragged),
                shape,
                raw.has_ids,
                raw.has_own_names,
            )
        )
    _write_newborns(connection, raws, place / NEWBORNS)
    _write_about(place, files)


def _write_about(place: Path, files: Sequence[KeptFile]) -> None:
    text = json.dumps([asdict(one) for one in files], ensure_ascii=False, indent=1)
    (place / _ABOUT).write_text(text, encoding="utf-8")


def _write_newborns(
    connection: duckdb.DuckDBPyConnection, raws: Sequence[RawFile], path: Path
) -> None:
    """Write one row per newborn: record_id, birth_month, is_whole, row_count, content.

    ``is_whole``: the delivery holds its admission row. ``content``: a digest of what all its
    rows say, blind to their order, to the names of files and to line numbers.
    """
    rows = [
        f"select {record_id(raw, raw.spec.takes[0])} as record_id, {is_admission_file(raw)} as "
        f"is_admission, {quote(raw.spec.pattern)} as pattern, {row_content(raw)} as content "
        f"from {raw.table}"
        for raw in raws
    ]
    births = [
        f"select {raw.index} as file_index, source_line, {_month(raw)} as birth_month "
        f"from {raw.table}"
        for raw in raws
        if is_admission_file(raw)
    ]
    connection.execute(
        f"""
        copy (
            with every_row as ({" union all ".join(rows)}),
            births as ({" union all ".join(births)}),
            months as (
                select record.record_id, births.birth_month
                from raw.record as record inner join births using (file_index, source_line)
            ),
            newborns as (
                select
                    record_id, bool_or(is_admission) as is_whole, count(*) as row_count,
                    md5(string_agg(
                        concat_ws(chr(30), pattern, content), chr(29) order by pattern, content
                    )) as content,
                from every_row where record_id is not null group by record_id
            )
            select record_id, birth_month, is_whole, row_count, content
            from newborns left join months using (record_id) order by record_id
        ) to {quote(str(path))} (format parquet, compression zstd)
        """
    )


def _month(raw: RawFile) -> str:
    """Return the month of birth as a date, from the birth time or as the export gives it."""
    take = next(take for take in raw.spec.takes if take.table == "admission")
    unit, table = raw.unit, raw.unit.contract["admission"]
    if unit.time_form == "clock":
        born = typed_expression(unit, raw, take, table, table.columns["birth_time"])
        return f"cast(date_trunc('month', timezone({quote(unit.zone or 'UTC')}, {born})) as date)"
    return typed_expression(unit, raw, take, table, table.columns["birth_month"])


def newborns_file(place: Path) -> Path:
    """Return the list of a delivery's newborns. Raises StoreError where it is missing."""
    if not (place / NEWBORNS).is_file():
        raise _missing(place)
    return place / NEWBORNS


def _missing(place: Path) -> StoreError:
    return StoreError(
        f"{place.parent.name}: the rows of delivery {place.name} are missing or damaged; bring "
        "the folder of deliveries back beside its store, or begin a new store."
    )


def kept_files(place: Path) -> list[KeptFile]:
    """Return what is kept of a delivery's files. Raises StoreError where the folder is missing."""
    try:
        found = json.loads((place / _ABOUT).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        raise _missing(place) from None
    return [
        KeptFile(**{**one, "ragged": [(line, words) for line, words in one["ragged"]]})
        for one in found
    ]


def spec_of(kept: KeptFile, unit: Unit, delivery: str) -> ExportFile:
    """Return how a unit's file reads a kept file: by its pattern, else by the file's name.

    Raises StoreError where the unit's file names no such file, or needs a column that was not
    kept of it.
    """
    alike = [one for one in unit.files if (one.pattern, one.sheet) == (kept.pattern, kept.sheet)]
    alike += [one for one in unit.files if fnmatch(kept.name, one.pattern)]
    if not alike:
        raise StoreError(
            f"{unit.file_name}: no [[files]] fits {kept.name} of delivery {delivery}; give it a "
            "pattern, or withdraw the delivery."
        )
    spec = alike[0]
    for take in spec.takes:
        lost = set(take.sources["record_id"].columns) - set(kept.header)
        if lost:
            raise StoreError(
                f"{unit.file_name}: {take.table}.record_id comes from column '{min(lost)}', which "
                f"was not kept of {kept.name} of delivery {delivery}; add its exports again."
            )
    return spec


@dataclass(frozen=True)
class Place:
    """Where one kept file lies, and of which step; ``is_loose``: its rows of no newborn stand."""

    rows: Path
    step: int
    is_loose: bool
    kept: KeptFile


def place_of(folder: Path, at: int, kept: KeptFile, step: int, is_loose: bool) -> Place:
    """Return where the file at ``at`` of a delivery's folder lies."""
    return Place(folder / f"rows_{at}.parquet", step, is_loose, kept)


def fill_from_kept(
    connection: duckdb.DuckDBPyConnection, raw: RawFile, places: Sequence[Place]
) -> None:
    """Fill the raw table of ``raw.parts`` with the rows that stand. Needs the table ``standing``.

    ``places``: of each part, in order.
    """
    cells = ", ".join(f"row.c{at}" for at in range(len(raw.header)))
    record = record_id(raw, raw.spec.takes[0])
    parts = ", ".join(
        f"({at}, {quote(str(place.rows))}, {place.step}, {place.is_loose})"
        for at, place in enumerate(places)
    )
    connection.execute(
        f"""
        create or replace table {raw.table} as
        select (part.place << {PART_BITS}) + row.source_line as source_line, {cells}
        from (
            select *, {record} as record_of_row
            from read_parquet(
                [{", ".join(quote(str(place.rows)) for place in places)}],
                filename = 'kept_in', union_by_name = true
            )
        ) as row
        inner join (values {parts}) as part (place, kept_in, step, is_loose) using (kept_in)
        left join standing
            on standing.step = part.step and standing.record_id = row.record_of_row
        where standing.step is not null or (part.is_loose and row.record_of_row is null)
        order by 1
        """
    )
    found = connection.execute(
        f"select {raw.part_of('source_line')} as part, count(*) from {raw.table} group by part"
    ).fetchall()
    stand = {int(part): int(rows) for part, rows in found}
    raw.ragged = []
    for at, (part, place) in enumerate(zip(raw.parts, places, strict=True)):
        loose = place.kept.ragged if place.is_loose else []
        raw.ragged += [((at << PART_BITS) + line, words) for line, words in loose]
        part.rows_in = stand.get(at, 0) + len(loose)
        left = place.kept.rows - stand.get(at, 0)
        if left:
            part.notes.append(
                f"{left:,} of {place.kept.rows:,} rows do not stand; see 'lanugo deliveries'"
            )
    raw.rows_in = sum(part.rows_in for part in raw.parts)


def forget_rows(
    connection: duckdb.DuckDBPyConnection, place: Path, unit: Unit, step: int, new: Path
) -> None:
    """Write a delivery anew into ``new``, without the newborns in the table ``forgotten``."""
    new.mkdir(parents=True)
    files = kept_files(place)
    gone = f"select record_id from forgotten where step = {step}"
    for at, kept in enumerate(files):
        raw = RawFile(unit, spec_of(kept, unit, place.name), Path(kept.name), at, kept.header)
        name, key = f"rows_{at}.parquet", record_id(raw, raw.spec.takes[0])
        _copy_without(connection, place / name, new / name, key, gone)
        left = connection.execute(
            f"select count(*) from read_parquet({quote(str(new / name))})"
        ).fetchone()
        files[at] = replace(kept, rows=int(left[0]) if left else 0)
    _copy_without(connection, place / NEWBORNS, new / NEWBORNS, "record_id", gone)
    _write_about(new, files)


def _copy_without(
    connection: duckdb.DuckDBPyConnection, old: Path, new: Path, key: str, gone: str
) -> None:
    connection.execute(
        f"copy (select * from read_parquet({quote(str(old))}) where {key} is null "
        f"or {key} not in ({gone})) to {quote(str(new))} (format parquet, compression zstd)"
    )


@contextlib.contextmanager
def one_at_a_time(memory: Path) -> Iterator[None]:
    """Hold the folder of deliveries for one step. Raises StoreError where another holds it."""
    lock = memory / _LOCK
    try:
        memory.mkdir(parents=True, exist_ok=True, mode=0o700)
        if lock.exists() and _is_left_behind(lock):
            lock.unlink(missing_ok=True)
        with lock.open("x", encoding="utf-8") as stream:
            stream.write(str(os.getpid()))
    except FileExistsError:
        raise StoreError(
            f"{memory.name}: another step is being taken. If none is, delete the file "
            f"{memory.name}/{_LOCK}."
        ) from None
    except OSError as error:
        raise StoreError(f"{memory}: cannot be written: {error.strerror}.") from None
    try:
        yield
    finally:
        lock.unlink(missing_ok=True)
        with contextlib.suppress(OSError):
            memory.rmdir()  # only where nothing was kept


def _is_left_behind(lock: Path) -> bool:
    """Whether the process that holds the lock is gone; where that cannot be asked, it is not."""
    holder = lock.read_text(encoding="utf-8")
    return os.name == "posix" and holder.isdigit() and not is_running(int(holder))


@contextlib.contextmanager
def taking(memory: Path) -> Iterator[Path]:
    """Give a folder beside the deliveries for what a step brings; it is gone afterwards."""
    place = memory / f"{_TAKING}{os.getpid()}"
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir(parents=True, mode=0o700)
    try:
        yield place
    finally:
        shutil.rmtree(place, ignore_errors=True)


def settle(place: Path, memory: Path) -> None:
    """Move what a step brought to where the log will look for it."""
    for inner in (*place.glob("*"), *(place / UNITS).glob("*")):
        where = memory / inner.relative_to(place)
        if inner.name == UNITS or where.exists():  # the same copy of a unit's file
            continue
        where.parent.mkdir(parents=True, exist_ok=True)
        inner.rename(where)


def clear_unnamed(memory: Path, folders: set[str], copies: set[str]) -> None:
    """Remove what no step of the store's log names: left by a cut, or forgotten.

    Raises StoreError where there is no log and rows lie here: they may be those of a store that
    was moved or deleted.
    """
    if not copies and any(memory.glob(f"*/{_ABOUT}")):
        raise StoreError(
            f"{memory.name}: holds deliveries, and the store beside it names none of them. Bring "
            "their store back, or move the folder away and begin anew."
        )
    for place in memory.glob("*"):
        if place.is_dir() and place.name != UNITS and place.name not in folders:
            shutil.rmtree(place, ignore_errors=True)
    remove_copies(memory, copies)

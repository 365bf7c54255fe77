"""Times that the declared form reads, but not as they were meant: refused, never stored.

A whole column tells it: entries that can only be read with day and month the other way round,
or written offsets that the declared zone never has. The others would be hours or months wrong
and look like any time.
"""

from collections.abc import Iterator
from typing import Final

import duckdb

from pipelines.base.errors import ExportError
from pipelines.base.sql import quote
from pipelines.definitions.read_units import Unit
from pipelines.definitions.unit_takes import Source, Take
from pipelines.definitions.unit_times import has_offset, turned, two_readings
from pipelines.stages.raw.export_text import recorded_text
from pipelines.stages.raw.raw_file import RawFile
from pipelines.stages.typed.texts import in_one_form, instant

# A slip turns a day and a month now and then; an export that is turned has a day after the
# 12th in three of five entries. Local decision.
_SHARE: Final = 0.1
_LEAST: Final = 2
_OFFSET: Final = r"([+-]\d\d):?(\d\d)?$"


def refuse_misread_times(
    connection: duckdb.DuckDBPyConnection, unit: Unit, raw: RawFile, *, is_typed: bool = True
) -> None:
    """Check the times of one file; where it ``is_typed``, only columns with unreadable entries.

    Raises ExportError naming file, column, both readings and what to write.
    """
    for name, take, source in _times(raw):
        local = " + ".join(source.columns)
        if not is_typed or _unreadable(connection, raw, take, name) >= _LEAST:
            _refuse_turned(connection, unit, raw, source, local)
        if any(has_offset(form) for form in source.formats):
            _refuse_other_zone(connection, unit, raw, source, local)


def _times(raw: RawFile) -> Iterator[tuple[str, Take, Source]]:
    """Yield (canonical column, take, source) of every column of clock times, each text once."""
    seen = set()
    for take in raw.spec.takes:
        for name, source in take.sources.items():
            key = (source.columns, source.formats)
            if source.formats and source.columns and key not in seen:
                seen.add(key)
                yield name, take, source


def _unreadable(connection: duckdb.DuckDBPyConnection, raw: RawFile, take: Take, name: str) -> int:
    found = connection.execute(
        f"select count(*) from typed.{take.table} "
        "where source_file in (select unnest(?)) and unit = ? and list_contains(unreadable, ?)",
        [[part.name for part in raw.every_part], raw.unit.id, name],
    ).fetchone()
    return int(found[0]) if found else 0


def _refuse_turned(
    connection: duckdb.DuckDBPyConnection, unit: Unit, raw: RawFile, source: Source, local: str
) -> None:
    text = recorded_text(raw, source)
    for form in source.formats:
        other = turned(form)
        if other is None or other in source.formats:
            continue
        found = connection.execute(
            f"select count({text}), count(*) filter (where {instant(raw, source, text)} is null "
            f"and {in_one_form(unit, other, text)} is not null) from {raw.table}"
        ).fetchone()
        filled, only_turned = found or (0, 0)
        if only_turned >= max(_LEAST, _SHARE * filled):
            raise ExportError(
                f"{raw.name}: column '{local}': {only_turned:,} of {filled:,} entries can only be "
                f"read with day and month the other way round. {two_readings(form)}. If the "
                f'second is meant, write formats = ["{other}"] under [time] of {unit.file_name}, '
                "or beside this column alone; if the export mixes the two, it cannot be read "
                "rightly: export it again. Nothing was loaded."
            )


def _refuse_other_zone(
    connection: duckdb.DuckDBPyConnection,
    unit: Unit,
    raw: RawFile,
    source: Source,
    local: str,
) -> None:
    """Offsets of local clocks must be those of the zone; times in UTC (Z, +00:00) say nothing."""
    text = recorded_text(raw, source)
    read = instant(raw, source, text)
    zone = quote(unit.zone or "UTC")
    written = (
        f"try_cast(regexp_extract({text}, '{_OFFSET}', 1) as integer) * 60 + if(starts_with("
        f"regexp_extract({text}, '{_OFFSET}', 1), '-'), -1, 1) * "
        f"coalesce(try_cast(regexp_extract({text}, '{_OFFSET}', 2) as integer), 0)"
    )
    found = connection.execute(
        f"""
        select count(*), count(*) filter (where written <> of_zone)
        from (
            select {written} as written,
                (epoch(timezone({zone}, {read})) - epoch({read})) / 60 as of_zone
            from {raw.table} where {read} is not null
        ) where written <> 0
        """
    ).fetchone()
    local_ones, others = found or (0, 0)
    if others >= max(_LEAST, _SHARE * local_ones):
        raise ExportError(
            f"{raw.name}: column '{local}': {others:,} of {local_ones:,} times are written with an "
            f"offset that {unit.zone} does not have at that moment, so hours and months of birth "
            f"would be those of another place. Set zone under [time] of {unit.file_name} to where "
            "the clocks hang. Nothing was loaded."
        )

"""The identifier guard: between reading an export and keeping any of it.

A column that is mapped and looks like an identifier is refused with its name and rule, never a
value; one that nobody maps is not kept, and the load log asks to leave it out of the export. A
record key may be replaced by a keyed hash first (HMAC with SHA-256, RFC 2104).
"""

import hashlib
from typing import Final

import duckdb

from pipelines.base.errors import ExportError
from pipelines.definitions.identifier_lines import read_key
from pipelines.definitions.identifiers import RULES, looks_like_record_numbers, rule_of
from pipelines.definitions.safe_to_say import safe_names
from pipelines.definitions.unit_takes import Source
from pipelines.stages.raw.raw_file import RawFile

_SAMPLE: Final = 20_000  # rows that are looked at, from the whole file
_DISTINCT: Final = 1_000  # texts of a column
_KEY_LETTERS: Final = 20  # hexadecimal: 80 bits; a clash among a million keys is 1 in 2 * 10^12
_BLOCK: Final = 64  # bytes that SHA-256 works on at a time


def guard(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Hash the record keys where the unit's file says so, then refuse what looks identifying.

    Raises ExportError naming file, column and rule.
    """
    _hash_keys(connection, raw)
    known = _declared_words(raw)
    for place, texts in enumerate(_sample(connection, raw)):
        name = raw.header[place]
        if not texts:
            continue
        if name in raw.spec.local_columns:
            _hold_mapped(raw, name, texts, known)
        elif (rule := rule_of(name, set(texts), known)) and rule != "date":
            said = f"'{name}'" if name in safe_names(raw.header, raw.spec.local_columns) else ""
            raw.notes.append(
                f"column {place + 1} {said}".rstrip()
                + f" is not used and looks like {RULES[rule]}: leave it out of the export"
            )


def _declared_words(raw: RawFile) -> set[str]:
    return {local.casefold() for table in raw.unit.recodes.values() for local in table}


def _sample(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> list[list[str]]:
    """Return per column up to ``_DISTINCT`` distinct texts, of rows from the whole file."""
    step = max(1, raw.rows_in // _SAMPLE)
    found = []
    for place in range(len(raw.header)):
        rows = connection.execute(
            f"select distinct trim(c{place}) from {raw.table} "
            f"where c{place} is not null and trim(c{place}) <> '' and source_line % {step} = 0 "
            f"order by hash(trim(c{place})) limit {_DISTINCT}"
        ).fetchall()
        found.append([str(row[0]) for row in rows])
    return found


def _sources(raw: RawFile, name: str) -> list[tuple[str, str, Source]]:
    return [
        (take.table, column, source)
        for take in raw.spec.takes
        for column, source in take.sources.items()
        if name in source.columns or name == source.unit_from
    ]


def _hold_mapped(raw: RawFile, name: str, texts: list[str], known: set[str]) -> None:
    used = _sources(raw, name)
    if any(column == "record_id" for _, column, _ in used):
        rule = looks_like_record_numbers(name, set(texts))
    elif any(raw.unit.contract[table].columns[column].is_time for table, column, _ in used):
        return  # what is no time there becomes null, and its shape a flag
    else:
        rule = rule_of(name, set(texts), known)
    if rule is None or (name, rule) in raw.unit.identifiers.allowed:
        return
    keyed = (
        "Export a study key instead, or have it replaced at load by a keyed hash: [identifiers] "
        f'key_file = "..." in {raw.unit.file_name}. '
        if any(column == "record_id" for _, column, _ in used)
        else "Leave it out of the export. "
    )
    raise ExportError(
        f"{raw.name}: column '{name}' looks like {RULES[rule]} (rule {rule}). Nothing was stored. "
        f"{keyed}Where it may be kept, write why in {raw.unit.file_name}: [[identifiers.allow]] "
        f'column = "{name}", rule = "{rule}", reason = "...".'
    )


def _hash_keys(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Replace, in the scratch, every record key by its keyed hash; blanks stay blank."""
    if raw.unit.identifiers.key_file is None:
        return
    key = read_key(raw.unit.identifiers.key_file, raw.path.parent)
    block = (hashlib.sha256(key).digest() if len(key) > _BLOCK else key).ljust(_BLOCK, b"\0")
    inner, outer = (bytes(one ^ pad for one in block) for pad in (0x36, 0x5C))
    keys = [take.sources["record_id"] for take in raw.spec.takes if "record_id" in take.sources]
    for local in dict.fromkeys(local for source in keys for local in source.columns):
        column = raw.column(local)
        if column is not None:
            connection.execute(
                f"update {raw.table} set {column} = left(sha256($outer::blob || "
                f"unhex(sha256($inner::blob || encode(trim({column}))))), {_KEY_LETTERS}) "
                f"where trim({column}) <> ''",
                {"outer": outer, "inner": inner},
            )

"""Small stores built from a handful of lines, for tests that need dates or several stages."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import duckdb

from pipelines.base.store_file import open_store
from pipelines.build.every_stage import build_store
from pipelines.definitions.read_units import Unit

# What a file of each unit needs to be read at all.
_EMPTY = {
    "quillmere": {
        "flowsheet.csv": "Study key,Item,Taken at,Result",
        "medication.csv": "Study key,Medicine,Time,Action",
        "care.csv": "Study key,Care item,Start,End,Done",
        "examination.csv": "Study key,Looked at,Time",
    },
    "tansy_ridge": {},
}


def small_store(
    folder: Path, unit: Unit, files: Mapping[str, Sequence[str]]
) -> duckdb.DuckDBPyConnection:
    """Build a store of one unit from the lines of its files; files not given are empty."""
    exports = folder / "exports"
    exports.mkdir()
    empty = {name: [head] for name, head in _EMPTY[unit.id].items()}
    for name, lines in {**empty, **files}.items():
        (exports / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    return open_store(build_store([(unit, exports)], folder / "store.duckdb").store)

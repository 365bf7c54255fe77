"""What changed in the form of a unit's exports from one delivery to the next."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import duckdb

from pipelines.definitions.read_units import Unit
from pipelines.stages.raw.raw_file import RawFile


def shape_of(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> dict[str, Any]:
    return {}


def compare_shapes(
    unit: Unit, raws: Sequence[RawFile], shapes: Sequence[dict[str, Any]], last: Path | None
) -> None:
    return None

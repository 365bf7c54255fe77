"""Which reader takes which file: one row a format. A new format is one file and one row here."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import duckdb

from pipelines.base.errors import ExportError, nearest
from pipelines.stages.raw.fhir import fhir_head, fill_from_fhir
from pipelines.stages.raw.json_lines import fill_from_json, json_head
from pipelines.stages.raw.opened import inner_name
from pipelines.stages.raw.parquet_files import fill_from_parquet, parquet_head
from pipelines.stages.raw.raw_file import RawFile
from pipelines.stages.raw.sheets import fill_from_sheet, sheet_head
from pipelines.stages.raw.text_files import fill_from_text, text_head


@dataclass(frozen=True)
class Format:
    """How files of one kind become rows of text.

    ``head`` gives the first rows (line, cells) that are not blank, so that the names are found;
    where a format knows its names it gives them alone, as line 0. ``fill`` makes the raw table.
    """

    name: str
    endings: tuple[str, ...]
    head: Callable[[RawFile, int], list[tuple[int, list[str]]]]
    fill: Callable[[duckdb.DuckDBPyConnection, RawFile], None]
    # Whether the names stand in a row of the file, so that there can be others above it.
    has_name_row: bool = True


FORMATS: Final = (
    Format("text", (".csv", ".tsv", ".tab", ".txt"), text_head, fill_from_text),
    Format("sheet", (".xlsx", ".xlsm", ".xls", ".ods"), sheet_head, fill_from_sheet),
    Format("parquet", (".parquet",), parquet_head, fill_from_parquet, has_name_row=False),
    Format("json_lines", (".jsonl", ".ndjson"), json_head, fill_from_json, has_name_row=False),
    # Known by no ending: [fhir] of a unit's file names its files.
    Format("fhir", (), fhir_head, fill_from_fhir, has_name_row=False),
)


def format_of(raw: RawFile) -> Format:
    """Return the format of a file: the declared one, else by the ending of its name, else text."""
    by_name = {one.name: one for one in FORMATS}
    if raw.spec.format is not None:
        if raw.spec.format not in by_name:
            raise ExportError(
                f"{raw.unit.file_name}: format '{raw.spec.format}' of files '{raw.spec.pattern}' "
                f"is not known.{nearest(raw.spec.format, by_name)}"
            )
        return by_name[raw.spec.format]
    name = inner_name(raw.path).lower()
    found = [one for one in FORMATS if one.endings and name.endswith(one.endings)]
    return found[0] if found else by_name["text"]

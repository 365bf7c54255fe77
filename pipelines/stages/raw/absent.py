"""Texts that the unit's file says stand for no value: read as blank, counted by column."""

import duckdb

from pipelines.stages.raw.export_text import said
from pipelines.stages.raw.raw_file import RawFile


def note_absent(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Note of each column how many entries are a code for missing or for not applicable."""
    for kind, words in (("missing", "missing"), ("not_applicable", "not applicable")):
        codes = {
            local: getattr(source, kind)
            for take in raw.spec.takes
            for source in take.sources.values()
            for local in source.columns
            if getattr(source, kind) and raw.column(local)
        }
        if not codes:
            continue
        counts = ", ".join(
            f"count(nullif(trim({raw.column(local)}), '')) - "
            f"count({said(str(raw.column(local)), of_column)})"
            for local, of_column in codes.items()
        )
        found = connection.execute(f"select {counts} from {raw.table}").fetchone() or ()
        told = [f"{local} ({count:,})" for local, count in zip(codes, found, strict=True) if count]
        if told:
            raw.notes.append(f"read as {words} by their code: {', '.join(told)}")

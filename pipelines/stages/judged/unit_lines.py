"""The lines of a small CSV of a unit, laid on the store by one fixed statement."""

from collections.abc import Sequence
from dataclasses import astuple
from typing import Any, Final

import duckdb
import pandas as pd

from pipelines.base.sql import fixed_sql

_NUMBERS: Final = {"source_line", "file_line"}  # the rest is text as it was written


def lay(
    connection: duckdb.DuckDBPyConnection,
    statement: str,
    kind: type[Any],
    lines: Sequence[Any],
    *,
    as_given: str,
) -> None:
    """Run ``sql/<statement>.sql`` of this room with the lines as a table named ``as_given``.

    ``kind``: the dataclass of a line; its fields are the columns, there though no line is.
    """
    names = list(kind.__dataclass_fields__)
    frame = pd.DataFrame([astuple(line) for line in lines], columns=names)
    types = {name: "Int64" if name in _NUMBERS else "str" for name in names}
    connection.register(as_given, frame.astype(types))
    connection.execute(fixed_sql(f"stages/judged/{statement}"))
    connection.unregister(as_given)

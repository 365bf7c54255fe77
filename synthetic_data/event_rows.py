"""Event rows gathered item by item as whole arrays, then joined into one contract table."""

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd

from pipelines.definitions.read_contract import Column, Table
from synthetic_data.scenario import Bools, Floats


class Rows:
    """Collects blocks of rows of one contract table."""

    def __init__(self, table: Table) -> None:
        self.table = table
        self.blocks: list[pd.DataFrame] = []

    def add(self, where: Bools, **values: Any) -> None:
        """Add one row for each newborn where ``where``; arrays run over all newborns."""
        newborn = np.flatnonzero(where)
        block: dict[str, Any] = {"newborn": newborn.astype(np.int32)}
        for name, column in self.table.columns.items():
            if name != "record_id":
                value = values.get(name)
                picked = value[newborn] if isinstance(value, np.ndarray) else value
                block[name] = typed(column, picked, len(newborn))
        self.blocks.append(pd.DataFrame(block))

    def frame(self, stay: Floats) -> pd.DataFrame:
        """Return all rows in order of newborn and time, without those after the stay ended."""
        table = joined(self.blocks)
        minutes = table["minutes"].to_numpy()
        newborn = table["newborn"].to_numpy()
        kept = ~(minutes > stay[newborn])
        order = np.lexsort((minutes[kept], newborn[kept]))
        chosen: pd.DataFrame = table[kept].iloc[order].reset_index(drop=True)
        return chosen


def merged(table: pd.DataFrame, added: Rows) -> pd.DataFrame:
    """Return the rows of a table with others beside them, in order of newborn and time.

    What was there keeps its order. ``is_spared`` is true of what was added: the planter of
    faults passes it over, so that what it chose before stays where it was.
    """
    blocks = [table.assign(is_spared=False)]
    blocks += [block.assign(is_spared=True) for block in added.blocks]
    every = joined(blocks)
    order = np.lexsort((every["minutes"].to_numpy(), every["newborn"].to_numpy()))
    return every.iloc[order].reset_index(drop=True)


def typed(column: Column, value: Any, n: int) -> Any:
    """Codes as categories (one byte a row), numbers as floats, yes/no as nullable booleans."""
    if column.type == "code":
        names = pd.Index(column.allowed)
        if value is None or isinstance(value, str):
            code = -1 if value is None else list(column.allowed).index(value)
            return pd.Categorical.from_codes(np.full(n, code, dtype=np.int8), categories=names)
        return pd.Categorical(value, categories=names)
    if column.type == "category":
        many = isinstance(value, np.ndarray)
        texts = value if many else np.full(n, value, dtype=object)
        # One type of text even where all are missing, so that blocks can be joined.
        return pd.Categorical(pd.array(texts, dtype="str"))
    if column.type == "boolean":
        many = isinstance(value, np.ndarray)
        return pd.array(value if many else np.full(n, None, dtype=object), dtype="boolean")
    return np.full(n, np.nan) if value is None else np.broadcast_to(value, n).astype(float)


def joined(blocks: Iterable[pd.DataFrame]) -> pd.DataFrame:
    """Join blocks of rows of one table; categories are united."""
    blocks = list(blocks)
    names = blocks[0].columns
    columns = {}
    for name in names:
        parts = [block[name] for block in blocks]
        if isinstance(parts[0].dtype, pd.CategoricalDtype):
            columns[name] = pd.api.types.union_categoricals(parts)
        else:
            columns[name] = pd.concat(parts, ignore_index=True).array
    return pd.DataFrame(columns)

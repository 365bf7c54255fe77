"""Frames as plain Python: the rows that a page, a chart and a file are made of."""

from typing import Any

import pandas as pd


def _values(column: "pd.Series[Any]") -> list[Any]:
    if not column.hasnans:
        return column.tolist()
    return column.astype(object).where(column.notna(), None).tolist()


def rows_of(frame: pd.DataFrame) -> list[dict[Any, Any]]:
    """Return the rows as dictionaries of plain Python values, missing ones as None.

    >>> rows_of(pd.DataFrame({"unit": ["north", None], "births": [2, 3]}))
    [{'unit': 'north', 'births': 2}, {'unit': None, 'births': 3}]
    """
    names = list(frame)
    columns = (_values(frame[name]) for name in names)
    return [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]

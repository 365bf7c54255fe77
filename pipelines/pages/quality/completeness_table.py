"""The completeness picture: columns and kinds down, months across, a percent in every cell.

A cell says its percent in figures; shading and hatching only show where a month falls behind what
is usual for its own line, so that an entry that is rare by nature does not look like a gap.
"""

import math
from collections.abc import Mapping
from typing import Any, Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.definitions.read_contract import read_contract
from pipelines.pages.quality import words as quality_words
from pipelines.pages.quality.frames import CellRow, LowestRow
from pipelines.pages.quality.read import QualityData
from pipelines.pages.shell.markup import Part, part
from pipelines.words import of_numbers

# Below these shares of the usual a cell is marked; hatched is the bound of a column gone silent.
_MARKS: Final = ((0.2, "silent"), (0.5, "low"), (0.8, "less"))
EXPECTED: Final = 10  # fewer expected entries than this say nothing of a month
SPREADS: Final = 3.0  # a month nearer to the usual than this many binomial spreads is chance


def _lines(data: QualityData) -> pd.DataFrame:
    """Return what the picture counts in newborns: admission columns and kinds of event."""
    frame = data.completeness[data.completeness["month"].isin(data.trend)]
    is_line = (frame["table_name"] == "admission") | (frame["column_name"] == "kind")
    return frame[is_line].assign(share=frame["usable"] / frame["total"].where(frame["total"] > 0))


def _mark(share: float, usual: float, total: float) -> str:
    if usual * total < EXPECTED:
        return ""
    spread = math.sqrt(usual * max(1 - usual, 0.01) / total)
    if usual - share < SPREADS * spread:
        return ""
    return next((name for below, name in _MARKS if share < below * usual), "")


def _cell(row: CellRow, usual: float) -> dict[str, str]:
    share, total = row["share"], row["total"]
    if share is None or total is None:
        return {"text": of_numbers.NONE, "mark": ""}
    return {"text": whole_percent(share), "mark": _mark(share, usual, total)}


def whole_percent(share: float) -> str:
    """Write a share as a whole percent without its sign; all and none only where it is so.

    >>> whole_percent(0.998), whole_percent(0.001), whole_percent(0)
    ('99', '<1', '0')
    """
    if share <= 0 or share >= 1:
        return f"{100 * share:.0f}"
    return "<1" if share < 0.01 else f"{min(round(100 * share), 99)}"


def _line(name: str, found: pd.DataFrame, months: pd.DatetimeIndex) -> dict[str, Any]:
    usual = float(found["share"].median())
    cells = found.set_index("month").reindex(months)
    total, recorded, usable = (int(found[key].sum()) for key in ("total", "recorded", "usable"))
    known = found[found["share"].notna()].sort_values("share", kind="stable")
    return {
        "name": name,
        "cells": [_cell(row, usual) for row in rows_of(cells, CellRow)],
        "total": total,
        "recorded": recorded,
        "usable": usable,
        "share": usable / total if total else None,
        "percent": of_numbers.percent(usable / total if total else None),
        "lowest": "; ".join(
            f"{of_numbers.percent(row['share'])} in {row['month']:%b %y}"
            for row in rows_of(known.head(1), LowestRow)
        ),
    }


def _order(table: str) -> dict[str, int]:
    """Return the place of each kind and column of a table in the contract."""
    columns = read_contract()[table].columns
    kinds = columns["kind"].allowed if "kind" in columns else {}
    return {name: place for place, name in enumerate([*kinds, *columns])}


def _place(key: tuple[Any, ...], order: Mapping[str, int]) -> tuple[int, str, int]:
    kind, column = key
    return (order.get(str(kind), len(order)), str(kind), order.get(str(column), len(order)))


def _groups(frame: pd.DataFrame, months: pd.DatetimeIndex) -> list[dict[str, Any]]:
    groups = []
    for table, title in quality_words.TABLE_WORDS.items():
        here = frame[frame["table_name"] == table]
        order = _order(table)
        found: list[tuple[Any, pd.DataFrame]] = list(
            here.groupby(["kind", "column_name"], dropna=False)
        )
        found.sort(key=lambda pair: _place(pair[0], order))
        lines = [_line(quality_words.subject(*key), rows, months) for key, rows in found]
        if lines:
            groups.append({"name": title, "lines": lines})
    return groups


def completeness(data: QualityData) -> Part:
    """Return the picture of the last 24 months, then all of it in figures."""
    months = data.trend
    frame = _lines(data)
    details = data.completeness[
        (data.completeness["table_name"] != "admission")
        & (data.completeness["column_name"] != "kind")
        & data.completeness["month"].isin(months)
    ]
    details = details.assign(share=details["usable"] / details["total"].where(details["total"] > 0))
    return part(
        "pages/quality/completeness",
        groups=_groups(frame, months),
        details=_groups(details, months),
        months=_heads(months),
        last=f"{months[-1]:%B %Y}",
        first=f"{months[0]:%B %Y}",
        marked=_marked(frame, months),
    )


def _heads(months: pd.DatetimeIndex) -> list[dict[str, str]]:
    """Return the month's letter with its full name for readers of text, and its year."""
    return [
        {
            "short": f"{month:%b}"[0],
            "full": f"{month:%b %y}",
            "year": f"{month:%Y}" if month.month == 1 or place == 0 else "",
        }
        for place, month in enumerate(months)
    ]


def _marked(frame: pd.DataFrame, months: pd.DatetimeIndex) -> int:
    """Return how many lines have a month below a fifth of what is usual for them."""
    return sum(
        any(cell["mark"] == "silent" for cell in line["cells"])
        for group in _groups(frame, months)
        for line in group["lines"]
    )

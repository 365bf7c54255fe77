"""The tables behind a review as CSV files that are safe to open in a spreadsheet.

Frames in, files out; which columns and what they mean stands in ``exported.toml``.
"""

import csv
import datetime as dt
import math
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from pipelines.base.spreadsheets import safe_cell
from pipelines.definitions.published import column_meaning
from pipelines.files.about import About, visible
from pipelines.pages.review.read import ReviewData
from pipelines.pages.review.why.read import WhyData
from pipelines.pages.review.worklist import worklist

Cell = str | int | float | bool | dt.date | dt.datetime | None


@dataclass(frozen=True)
class TableFile:
    """One table: ``columns`` name -> meaning, and its rows as plain cells."""

    name: str
    title: str
    grain: str
    columns: Mapping[str, str]
    rows: Sequence[Sequence[Cell]]
    names_records: bool = False


@cache
def spec() -> Mapping[str, Any]:
    """Return ``exported.toml``."""
    return tomllib.loads(Path(__file__).with_name("exported.toml").read_text(encoding="utf-8"))


def table_names(with_records: bool) -> list[str]:
    """Return the tables that are written, without those that name single records unless asked."""
    tables = spec()["tables"].items()
    return [name for name, told in tables if with_records or not told.get("names_records")]


def meanings(said: Mapping[str, str], views: Sequence[str]) -> dict[str, str]:
    """Return column -> meaning: what is said, else what the first of the public views says."""
    found = {}
    for name, words in said.items():
        told = (column_meaning(view, name) for view in views)
        found[name] = words or next((one for one in told if one), "")
    return found


def cell(value: Any) -> Cell:
    """Return one value of a frame as a plain cell: numbers stay numbers, lists become text.

    Missing and infinite values are None; a moment at midnight is a date.
    """
    if isinstance(value, list | tuple | np.ndarray):
        return "; ".join(visible(one) for one in value)
    if value is None or value is pd.NaT or pd.isna(value):
        return None
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | float | np.integer | np.floating):
        return _number(float(value))
    return _moment(value) if isinstance(value, dt.date) else visible(value)


def _number(value: float) -> float | int | None:
    """Return a count as a whole number, though a frame with gaps holds it with a point."""
    if not math.isfinite(value):
        return None
    return int(value) if value.is_integer() else value


def _moment(value: dt.date) -> dt.date:
    """Return a date, or a moment to the second where it is not midnight."""
    if not isinstance(value, dt.datetime):
        return value
    moment = pd.Timestamp(value).to_pydatetime(warn=False).replace(microsecond=0)
    return moment.date() if moment.time() == dt.time() else moment


def _table(name: str, frame: pd.DataFrame) -> TableFile:
    told = spec()["tables"][name]
    columns = meanings(told["columns"], told["meaning_from"])
    chosen = frame[list(columns)].astype(object)
    return TableFile(
        name=name,
        title=told["title"],
        grain=told["grain"],
        columns=columns,
        rows=[[cell(value) for value in row] for row in chosen.itertuples(index=False)],
        names_records=told.get("names_records", False),
    )


def _titled(frame: pd.DataFrame, data: ReviewData) -> pd.DataFrame:
    """Add the measure's title, and put the measures into the order of the page."""
    titles = data.measures.set_index("measure_id")["title"]
    place = {name: at for at, name in enumerate(titles.index)}
    frame = frame.drop(columns="title", errors="ignore")
    frame = frame.assign(title=frame["measure_id"].map(titles))
    order = frame["measure_id"].map(place).fillna(len(place)).argsort(kind="stable")
    return frame.iloc[order]


def tables_of(data: ReviewData, missed: WhyData, with_records: bool) -> list[TableFile]:
    """Return every table of the review; the worklist, which names records, only on request."""
    frames = {
        "measures": data.measures,
        "months": _titled(data.series, data),
        "definitions": data.measures,
        "changes": _titled(data.changes, data),
        "restated": data.restated,
        "why_missed": _titled(missed.levels, data),
        "cold_causes": missed.cold.assigned,
        "cold_factors": missed.cold.factors,
        "flags": data.flag_rules,
        "exports": data.loads,
        "rejected_rows": data.rejected,
        "checks_not_judged": data.unjudged,
    }
    if with_records:
        listed = worklist(data)
        listed["minutes_late"] = pd.to_numeric(listed["minutes_late"])
        frames["worklist"] = listed
    return [_table(name, frame) for name, frame in frames.items()]


def csv_cell(value: Cell) -> str:
    """Write one cell as text: a number as it is, a text so that no spreadsheet runs it.

    >>> csv_cell(-1), csv_cell("-1"), csv_cell(True), csv_cell(None)
    ('-1', "'-1", 'true', '')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dt.date):
        return value.isoformat()
    return safe_cell(value) if isinstance(value, str) else str(value)


def write_csv_files(tables: Sequence[TableFile], folder: Path, about: About) -> Iterator[Path]:
    """Write each table as UTF-8 CSV (with the mark that spreadsheets look for) into ``folder``.

    The last columns of every row say the unit, the month of the review and the version.
    """
    folder.mkdir(exist_ok=True)
    ends = [csv_cell(words) for words in (about.unit, about.when, about.software)]
    for table in tables:
        path = folder / f"{table.name}.csv"
        with path.open("w", newline="", encoding="utf-8-sig") as stream:
            writer = csv.writer(stream)
            writer.writerow([*table.columns, "of_unit", "month_of_review", "written_by"])
            writer.writerows([[*map(csv_cell, row), *ends] for row in table.rows])
        yield path

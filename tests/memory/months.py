"""Small monthly deliveries of a synthetic unit, and a second telling of what stands of them.

The second telling knows nothing of steps or tables: it is a heap of rows by newborn, to which a
delivery is laid or from which one is taken, and which is written back as one folder of exports
in which every row keeps its file and its line.
"""

import csv
import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import duckdb
import pandas as pd

from pipelines.base.sql import quote
from pipelines.base.store_file import STORE_VERSION
from pipelines.build.every_stage import BuildSummary
from pipelines.definitions.of_units import Definitions
from pipelines.definitions.read_units import Unit
from synthetic_data import write_demo
from synthetic_data.generate import START

UNIT = "quillmere"
KEY, BORN, WEIGHT = "Study key", "Born at", "Weight g"
Rows = dict[str, list[list[str]]]  # file -> its lines, the names first


@dataclass
class Month:
    """One delivery: its files, and the birth months of the newborns it holds whole."""

    name: str
    files: Rows
    births: dict[str, str] = field(default_factory=dict)

    def write(self, folder: Path) -> Path:
        place = folder / self.name
        place.mkdir(parents=True)
        for file, lines in self.files.items():
            with (place / file).open("w", encoding="utf-8", newline="") as stream:
                csv.writer(stream).writerows(lines)
        return place


def months_of(folder: Path, n_months: int, births_per_month: int = 3) -> list[Month]:
    """Draw months of a unit; the care of every fourth newborn stands in the next month's files."""
    write_demo(folder, n_months=n_months, start=START, births_per_month=births_per_month)
    exports = folder / "exports" / UNIT
    heads: dict[str, list[str]] = {}
    rows: dict[str, list[list[str]]] = defaultdict(list)
    for path in sorted(exports.glob("*.csv")):
        with path.open(encoding="utf-8-sig", newline="") as stream:
            lines = [line for line in csv.reader(stream) if line]
        kind = path.stem.partition("_")[0]
        heads[kind] = lines[0]
        rows[kind] += [line for line in lines[1:] if line[0]]
    births = {line[0]: _month(line[heads["newborns"].index(BORN)]) for line in rows["newborns"]}
    order = sorted({month for month in births.values() if month})
    late = set(sorted(births)[::4])
    found = {month: Month(month, {}) for month in order}
    for kind, lines in rows.items():
        for month in order:
            found[month].files[f"{kind}_{month}.csv"] = [heads[kind]]
        for line in lines:
            month = births.get(line[0]) or order[0]
            if kind == "care" and line[0] in late:
                month = order[min(order.index(month) + 1, len(order) - 1)]
            found[month].files[f"{kind}_{month}.csv"].append(line)
            if kind == "newborns" and births[line[0]]:
                found[month].births[line[0]] = month
    return list(found.values())


def _month(text: str) -> str:
    try:
        return dt.datetime.strptime(text.strip()[:10], "%m/%d/%Y").strftime("%Y-%m")
    except ValueError:
        return ""


def corrected(month: Month, without: int = 0) -> Month:
    """Return a month again under other names of files: weights put right, newborns left out."""
    gone = set(sorted(month.births)[:without])
    files: Rows = {}
    for file, lines in month.files.items():
        kept = [list(line) for line in lines if line[0] not in gone]
        if file.startswith("newborns"):
            at = kept[0].index(WEIGHT)
            for line in kept[1:]:
                line[at] = str(int(line[at]) + 10) if line[at].isdigit() else line[at]
        files[file.replace(".csv", "_again.csv")] = kept
    births = {key: of for key, of in month.births.items() if key not in gone}
    return Month(f"{month.name}_again", files, births)


class Heap:
    """What stands, told by hand: rows of deliveries by newborn, whole records and late entries."""

    def __init__(self) -> None:
        self.deliveries: list[Month] = []
        self.gone: set[tuple[str, str]] = set()  # (delivery, newborn)

    def lay(self, month: Month) -> None:
        self.deliveries.append(month)

    def take(self, birth_month: str | None = None, delivery: str | None = None) -> None:
        """Take away a month of births from all that is laid, or one delivery."""
        for one in self.deliveries:
            for key in {line[0] for lines in one.files.values() for line in lines[1:]}:
                born = one.births.get(key) or self._born(key)
                if one.name == delivery or (birth_month is not None and born == birth_month):
                    self.gone.add((one.name, key))

    def _born(self, key: str) -> str | None:
        known = [one.births[key] for one in self.deliveries if key in one.births]
        return known[-1] if known else None

    def _stands(self, one: Month, key: str) -> bool:
        if (one.name, key) in self.gone:
            return False
        holders = [
            other.name
            for other in self.deliveries
            if key in {line[0] for line in _newborns(other)[1:]}
            and (other.name, key) not in self.gone
        ]
        is_whole = key in {line[0] for line in _newborns(one)[1:]}
        return not is_whole or holders[-1] == one.name

    def write(self, folder: Path) -> Path:
        """Write one folder of exports; a row that does not stand leaves its line blank."""
        folder.mkdir(parents=True)
        for one in self.deliveries:
            for file, lines in one.files.items():
                stand = {key for key in {line[0] for line in lines[1:]} if self._stands(one, key)}
                if not stand and not any(
                    self._stands(one, line[0])
                    for all_of in one.files.values()
                    for line in all_of[1:]
                ):
                    continue
                left = [lines[0], *(line if line[0] in stand else [] for line in lines[1:])]
                with (folder / file).open("w", encoding="utf-8", newline="") as stream:
                    csv.writer(stream).writerows(left)
        return folder


def _newborns(month: Month) -> list[list[str]]:
    return next(lines for file, lines in month.files.items() if file.startswith("newborns"))


def differing(store: Path, other: Path) -> dict[str, int]:
    """Return of every table that a reader relies on how many rows only one of two stores has."""
    left_out = {"event": ("event_id",), "load_log": ("content_hash", "loaded_at", "note")}
    tables = (
        "membership", "result", "flag", "rejected", "newborn", "way", "event", "completeness",
        "spread", "as_recorded", "column_source", "load_log", "silent_measure",
    )  # fmt: skip
    found = {}
    with duckdb.connect() as connection:
        for name, path in (("a", store), ("b", other)):
            connection.execute(f"attach {quote(str(path))} as {name} (read_only)")
        for table in tables:
            names = [
                str(row[0])
                for row in connection.execute(f"describe a.main.{table}").fetchall()
                if row[0] not in left_out.get(table, ())
            ]
            columns = ", ".join(names)
            row = connection.execute(
                f"select count(*) from (from (select {columns} from a.main.{table} except all "
                f"select {columns} from b.main.{table}) union all from (select {columns} from "
                f"b.main.{table} except all select {columns} from a.main.{table}))"
            ).fetchone()
            found[table] = int(row[0]) if row else -1
    return found


def unjudged(
    connection: duckdb.DuckDBPyConnection,
    store: Path,
    units: Sequence[Unit],
    definitions: Definitions,
    progress: object = None,
    *,
    is_compared: bool = True,
) -> BuildSummary:
    """Stand in for judging and measuring where no later step reads what they would write."""
    connection.execute(
        "create table build_info as select 'store_version' as key, ? as value", [STORE_VERSION]
    )
    connection.execute("create view newborn as from typed.admission")
    empty = pd.DataFrame()
    return BuildSummary(store, empty, empty, empty, 0, 0)

"""An earlier and a later load of one unit: what differs is known, line by line."""

import csv
from dataclasses import dataclass
from pathlib import Path

import pytest

from pipelines.base.store_file import open_store
from pipelines.build.every_stage import build_store
from pipelines.definitions.read_units import find_unit
from tests.conftest import Built
from tests.once import Once

UNIT = "quillmere"
KEY = "Study key"


@dataclass(frozen=True)
class Loads:
    """before lacks the newborns ``added`` and the doses of ``dosed``."""

    before: Path
    now: Path
    month: str
    added: list[str]
    dosed: list[str]


def _without(source: Path, target: Path, keys: set[str]) -> None:
    with source.open(newline="", encoding="utf-8-sig") as stream:
        head, *rows = list(csv.reader(stream))
    place = head.index(KEY)
    with target.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream)
        writer.writerow(head)
        writer.writerows(row for row in rows if row[place] not in keys)


@pytest.fixture(scope="session")
def loads(once: Once, clean: Built) -> Loads:
    return once("loads", lambda folder: _loads(clean, folder))


def _loads(clean: Built, folder: Path) -> Loads:
    with open_store(clean.store) as store:
        met = store.execute(
            "select record_id, strftime(period, '%Y-%m') from membership "
            "where unit = ? and measure_id = 'vitamin_k' and state = 'met' "
            "and period = (select max(birth_month) from newborn where unit = ?) "
            "order by record_id limit 5",
            [UNIT, UNIT],
        ).fetchall()
    keys = [row[0] for row in met]
    added, dosed = keys[:3], keys[3:]
    exports = folder / "exports"
    exports.mkdir()
    for path in clean.exports[UNIT].glob("*.csv"):
        gone = set(added) | (set(dosed) if path.name.startswith("medication") else set())
        _without(path, exports / path.name, gone)
    before = build_store([(find_unit(UNIT), exports)], folder / "store.duckdb").store
    return Loads(before, clean.store, met[0][1], added, dosed)

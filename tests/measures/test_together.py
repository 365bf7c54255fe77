"""Several measures stated in one statement give the rows that each gives alone.

The plain way, one measure a statement, is the oracle here; ``tests/oracle`` holds that one against
a second coding.
"""

from collections.abc import Callable
from pathlib import Path

import duckdb
import pytest

from pipelines.build import every_stage
from pipelines.definitions.policy import InForce
from pipelines.definitions.read_measures import Measure
from pipelines.definitions.read_units import find_unit
from pipelines.stages.measure import engine
from tests.oracle.mess import Mess
from tests.oracle.unit_files import STEPS, write_unit

Rows = list[tuple[object, ...]]


@pytest.fixture
def stated(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, Rows]:
    """Every state of 750 newborns whose fields are drawn apart, by how it was come by.

    Three units, whose policies differ and change on a birth date; newborns with a masked value are
    there a second time. Then once more as if every unit had switched every measure off.
    """
    rows: dict[str, Rows] = {}
    files = {unit: write_unit(unit, tmp_path) for unit in STEPS}
    for unit, file in files.items():
        Mess(file, 4).write(tmp_path / unit, newborns=250)
    monkeypatch.setattr(every_stage, "run_measures", _in_every_way(rows))
    sources = [(find_unit(str(file)), tmp_path / unit) for unit, file in files.items()]
    every_stage.build_store(sources, tmp_path / "store.duckdb")
    return rows


def _in_every_way(rows: dict[str, Rows]) -> Callable[..., None]:
    def run(
        connection: duckdb.DuckDBPyConnection,
        policies: InForce,
        measures: dict[str, Measure],
        progress: Callable[[str], None],
    ) -> None:
        every = list(measures.values())
        for at_once in (1, 2, 24, len(every)):
            rows[f"together by {at_once}"] = _together(connection, policies, every, at_once)
        rows["plain"] = _plain(connection, policies, every)
        off = _switched_off(policies)
        rows["off together"] = _together(connection, off, every, 24)
        rows["off plain"] = _plain(connection, off, every)
        engine.run_measures(connection, policies, measures, progress)

    return run


def _together(
    connection: duckdb.DuckDBPyConnection, policies: InForce, every: list[Measure], at_once: int
) -> Rows:
    engine._state_nothing(connection)
    for start in range(0, len(every), at_once):
        engine._state_together(connection, policies, every[start : start + at_once])
    return _stated(connection)


def _plain(connection: duckdb.DuckDBPyConnection, policies: InForce, every: list[Measure]) -> Rows:
    engine._state_nothing(connection)
    for measure in every:
        engine._state(connection, policies, measure)
    return _stated(connection)


def _switched_off(policies: InForce) -> InForce:
    return {
        name: {
            unit: [(start, end, {**numbers, "applies": False}) for start, end, numbers in periods]
            for unit, periods in of_measure.items()
        }
        for name, of_measure in policies.items()
    }


def _stated(connection: duckdb.DuckDBPyConnection) -> Rows:
    return connection.execute("select * from stated order by all").fetchall()


@pytest.mark.build
@pytest.mark.slow
def test_measures_together_give_the_rows_of_each_alone(stated: dict[str, Rows]) -> None:
    off = stated.pop("off plain")
    assert stated.pop("off together") == off
    assert {(row[3], row[6]) for row in off} == {("exclusion", "not applicable by policy")}
    plain = stated.pop("plain")
    assert {row[3] for row in plain} >= {"met", "not_met", "exception", "exclusion", "late"}
    assert any(newborn < 0 for _, newborn, *_ in plain), "nobody is there as recorded"
    for way, rows in stated.items():
        assert rows == plain, way

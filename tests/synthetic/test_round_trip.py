"""The loader reads the truth back out of exports that hold no fault."""

import tomllib
from collections import Counter
from pathlib import Path
from types import SimpleNamespace

import duckdb
import pandas as pd
import pytest

from pipelines.build.every_stage import build_store
from pipelines.definitions.read_contract import Column, read_contract
from pipelines.definitions.read_units import Unit, find_unit
from synthetic_data import Truth, generate, plant, write_exports
from tests.oracle.rare_words import hide
from tests.oracle.reader import read_contract as oracle_contract

pytestmark = pytest.mark.build

UNITS = ("quillmere", "tansy_ridge")


def _plain(value: object, column: Column) -> object:
    """One cell as a comparable value: numbers to three decimals, missing as None."""
    if value is None or value is pd.NaT or pd.isna(value):
        return None
    if column.type == "month":
        return f"{value:%Y-%m}"
    if column.type in {"integer", "decimal", "minutes"}:
        return round(float(value), 3)
    return bool(value) if column.type == "boolean" else str(value)


def _rows(frame: pd.DataFrame, columns: list[Column]) -> Counter[tuple[object, ...]]:
    cells = [[_plain(value, column) for value in frame[column.name]] for column in columns]
    return Counter(zip(*cells, strict=True))


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Truth], Path]:
    folder = tmp_path_factory.mktemp("round_trip")
    truths = {
        name: generate(find_unit(name), n_months=6, births_per_month=80, seed=9) for name in UNITS
    }
    for name, truth in truths.items():
        write_exports(truth.tables, truth.unit, folder / name, seed=9)
    sources = [(truth.unit, folder / name) for name, truth in truths.items()]
    build_store(sources, folder / "store.duckdb")
    return truths, folder / "store.duckdb"


def _rare_hidden(true: pd.DataFrame, table: str, unit: Unit) -> pd.DataFrame:
    """Return the truth with words hidden that say who a newborn is, by the oracle's own rule."""
    assert unit.path is not None
    spec = tomllib.loads(unit.path.read_text(encoding="utf-8"))
    cells = true.astype(object).where(true.notna(), None).to_dict("records")
    rows = [
        SimpleNamespace(table=table, record_id=one["record_id"], cells=one, get=one.get)
        for one in cells
    ]
    hide(rows, spec, {table: oracle_contract()[table]})
    return pd.DataFrame([one.cells for one in rows], columns=true.columns).astype(true.dtypes)


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("table", list(read_contract()))
def test_typed_rows_are_the_true_rows(
    built: tuple[dict[str, Truth], Path], unit: str, table: str
) -> None:
    truths, store = built
    true = truths[unit].tables[table]
    with duckdb.connect(str(store), read_only=True) as connection:
        typed = connection.execute(f"select * from typed.{table} where unit = ?", [unit]).df()
    columns = [c for c in read_contract()[table].columns.values() if c.name in typed]
    true = _rare_hidden(true, table, truths[unit].unit)
    wrong = _rows(true, columns) - _rows(typed, columns)
    # A time in the hour that the clock shows twice may be read as the other of the two.
    _, ledger = plant(truths[unit], shares=dict.fromkeys(_faults(), 0))
    unclear = set(ledger["record_id"])
    place = [column.name for column in columns].index("record_id")
    assert {row[place] for row in wrong} <= unclear
    assert len(typed) == len(true)
    assert len(unclear) < 0.1 * len(truths[unit].tables["admission"])


def _faults() -> list[str]:
    from synthetic_data import read_scenario

    return list(read_scenario()["faults"])


def test_without_faults_nothing_is_called_an_error(
    built: tuple[dict[str, Truth], Path],
) -> None:
    with duckdb.connect(str(built[1]), read_only=True) as connection:
        errors = connection.execute("select * from flag where severity = 'error'").df()
        rejected = connection.execute("select * from rejected").df()
    assert len(errors) == 0
    assert len(rejected) == 0

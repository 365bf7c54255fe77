"""A build that replaces a store keeps what it changed of the numbers shown before."""

import shutil
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from pipelines.base.errors import StoreError
from pipelines.base.store_file import open_store
from pipelines.build.every_stage import build_store
from pipelines.build.two_stores import restated
from pipelines.definitions.read_units import find_unit
from pipelines.pages.review import sections as tables
from pipelines.pages.review.first_screen import trust
from pipelines.pages.review.read import read_review
from tests.conftest import Built
from tests.disclosure.conftest import UNIT, Loads


def rebuilt(exports: Path, store: Path, may_drop: bool = False) -> pd.DataFrame:
    build_store([(find_unit(UNIT), exports)], store, may_drop=may_drop)
    with open_store(store) as connection:
        return connection.execute("select * from restated order by noticed_at").df()


@pytest.fixture(scope="module")
def replaced(clean: Built, loads: Loads, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store of the earlier load, as if loaded in good time, then built again over itself."""
    path = tmp_path_factory.mktemp("since") / "store.duckdb"
    shutil.copy(loads.before, path)
    rebuilt(clean.exports[UNIT], path)
    return path


def test_a_first_build_has_nothing_to_compare(loads: Loads) -> None:
    with open_store(loads.before) as connection:
        assert connection.execute("select count(*) from restated").fetchone() == (0,)


def test_the_new_store_says_what_the_comparison_of_two_stores_says(
    replaced: Path, loads: Loads
) -> None:
    with open_store(replaced) as connection:
        kept = connection.execute("select * from restated").df()
    told = restated(loads.now, loads.before, UNIT)
    assert len(kept) == len(told) > 3
    same = ["measure_id", "old_numerator", "new_numerator", "old_counted", "new_counted", "why"]
    assert kept[same].equals(told[same])


def test_the_review_lists_them_and_says_so_on_the_first_screen(replaced: Path) -> None:
    data = read_review(replaced, UNIT)
    listed = tables.restated(data).html
    assert "late entries: newborns added (3)" in listed
    assert "changed since last time" in trust(data)


def test_what_an_earlier_build_noticed_stays_listed_but_is_not_news(
    replaced: Path, clean: Built, tmp_path: Path
) -> None:
    again = tmp_path / "store.duckdb"
    shutil.copy(replaced, again)
    with duckdb.connect(str(again)) as connection:
        connection.execute("update measure.restated set noticed_at = noticed_at - interval 1 day")
    kept = rebuilt(clean.exports[UNIT], again)
    with open_store(replaced) as connection:
        assert len(kept) == connection.execute("select count(*) from restated").df().iloc[0, 0]
    data = read_review(again, UNIT)
    assert len(data.restated) and "changed since last time" not in trust(data)


def test_a_month_that_had_not_ended_was_never_a_whole_number(
    loads: Loads, clean: Built, tmp_path: Path
) -> None:
    path = tmp_path / "store.duckdb"
    shutil.copy(loads.before, path)
    with duckdb.connect(str(path)) as connection:
        connection.execute(f"update typed.load_log set loaded_at = date '{loads.month}-20'")
    assert rebuilt(clean.exports[UNIT], path).empty


def test_what_lies_there_and_is_no_store_of_this_version_is_not_compared(
    clean: Built, tmp_path: Path
) -> None:
    path = tmp_path / "store.duckdb"
    with duckdb.connect(str(path)) as connection:
        connection.execute("create table build_info as select 'store_version' as key, '0' as value")
    with pytest.raises(StoreError, match=r"built by another version.*--drop"):
        rebuilt(clean.exports[UNIT], path)
    assert rebuilt(clean.exports[UNIT], path, may_drop=True).empty

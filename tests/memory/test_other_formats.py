"""A delivery that is no CSV stands in a store with a memory as it does in a build of its folder.

What a reader knows of its file beside the rows (entries with ids, forms of its own times) must be
kept with them: of FHIR, two readings alike are two readings, and were once left out as repeats.
"""

from collections.abc import Callable
from pathlib import Path

import pytest

from pipelines.base.store_file import open_store
from synthetic_data import write_demo
from synthetic_data.generate import START
from tests.commands.test_commands import run
from tests.loading import same_newborns

pytestmark = [pytest.mark.build, pytest.mark.slow]
TABLES = ("membership", "flag", "rejected")


@pytest.fixture(scope="module")
def exports(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("formats")
    write_demo(folder, n_months=2, start=START, births_per_month=20)
    return folder / "exports" / "quillmere"


@pytest.mark.parametrize("written", [same_newborns.as_fhir, same_newborns.as_workbooks])
def test_a_delivery_gives_what_a_build_gives(
    written: Callable[[Path, Path], str],
    exports: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    again, unit = tmp_path / "again", tmp_path / "quillmere.toml"
    again.mkdir()
    unit.write_text(written(exports, again), encoding="utf-8")
    built, added = tmp_path / "built.duckdb", tmp_path / "added.duckdb"
    code, _, err = run(capsys, "build", "--unit", unit, "--exports", again, "--store", built)
    assert code == 0, err
    code, _, err = run(capsys, "add", unit, again, "--store", added)
    assert code == 0, err
    for table in TABLES:
        with open_store(built) as one, open_store(added) as other:
            rows = f"select * from {table} order by all"
            expected = one.execute(rows).fetchall()
            assert other.execute(rows).fetchall() == expected, table
            assert expected or table == "rejected"

"""The same 2,000 newborns through every format and both shapes: the same states, row by row."""

from collections.abc import Callable
from pathlib import Path

import pytest

from pipelines.base.store_file import open_store
from pipelines.build.every_stage import build_store
from pipelines.definitions.read_units import read_unit
from synthetic_data import write_demo
from tests.loading import same_newborns

BIRTHS_PER_MONTH = 170
MONTHS = 12
EVERY_STATE = (
    "select unit, record_id, measure_id, item, state, minutes, due_minutes, reason, grade, "
    "round(value, 6) as value, value_minutes, edge, detail from membership order by all"
)


@pytest.fixture(scope="module")
def long_csv(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[tuple[object, ...]]]:
    """The long CSV files, and every state of every newborn that they give."""
    folder = tmp_path_factory.mktemp("same")
    write_demo(
        folder,
        seed=16,
        n_months=MONTHS,
        births_per_month=BIRTHS_PER_MONTH,
        start="2025-01",
        units=("quillmere",),
    )
    exports = folder / "exports" / "quillmere"
    return exports, states(folder, exports, same_newborns.UNIT_TEXT)


def states(folder: Path, exports: Path, unit_text: str) -> list[tuple[object, ...]]:
    unit_file = folder / "unit.toml"
    unit_file.write_text(unit_text, encoding="utf-8")
    store = build_store([(read_unit(unit_file), exports)], folder / "store.duckdb").store
    with open_store(store) as connection:
        return connection.execute(EVERY_STATE).fetchall()


@pytest.mark.build
@pytest.mark.slow
@pytest.mark.long
@pytest.mark.parametrize(
    "written",
    [
        same_newborns.as_workbooks,
        same_newborns.as_parquet,
        same_newborns.as_json_lines,
        same_newborns.as_wide,
        same_newborns.as_fhir,
    ],
    ids=lambda written: written.__name__,
)
def test_another_format_gives_the_same_states(
    long_csv: tuple[Path, list[tuple[object, ...]]],
    written: Callable[[Path, Path], str],
    tmp_path: Path,
) -> None:
    exports, expected = long_csv
    again = tmp_path / "exports"
    again.mkdir()
    unit_text = written(exports, again)
    found = states(tmp_path, again, unit_text)
    assert len({row[1] for row in expected}) >= 2000
    assert len(found) == len(expected)
    assert [pair for pair in zip(found, expected, strict=True) if pair[0] != pair[1]][:3] == []

"""A change study where the export of the unit to compare with says nothing of the measure."""

from pathlib import Path

import duckdb
import pytest

from pipelines.base.errors import StoreError
from pipelines.pages.change.read import read_change

from .make_change import MEASURE, OTHER_UNIT, make_change_store
from .make_store import UNIT


@pytest.mark.slow
def test_a_unit_whose_export_says_nothing_is_not_compared_with(tmp_path: Path) -> None:
    """Left aside where it is only the other unit there is; refused where it was asked for."""
    silent = make_change_store(tmp_path / "store.duckdb")
    assert read_change(silent, UNIT).comparison is not None
    with duckdb.connect(str(silent)) as connection:
        row = [OTHER_UNIT, MEASURE, 60, 60, 0, None]
        connection.execute("insert into silent_measure values (?, ?, ?, ?, ?, ?)", row)
    assert read_change(silent, UNIT).comparison is None
    with pytest.raises(StoreError, match="no month of its export has a usable record"):
        read_change(silent, UNIT, compare_unit=OTHER_UNIT)

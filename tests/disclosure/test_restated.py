"""Numbers that are no longer what they were, each with its cause counted."""

import shutil
from pathlib import Path

import duckdb
import pytest

from pipelines.base.errors import StoreError
from pipelines.build.two_stores import restated, restated_words
from pipelines.release.prepare import prepare_release
from pipelines.release.restated import restated_since_release
from pipelines.release.write import write_release
from pipelines.words.of_restated import CAUSES
from tests.disclosure.conftest import UNIT, Loads


def test_nothing_changed_nothing_restated(loads: Loads) -> None:
    found = restated(loads.now, loads.now, UNIT)
    assert found.empty
    assert restated_words(found) == ["No number of an earlier month has changed."]


def test_late_newborns_and_late_doses_are_told_apart(loads: Loads) -> None:
    found = restated(loads.now, loads.before, UNIT)
    assert set(found["period_start"].dt.strftime("%Y-%m")) == {loads.month}
    vitamin_k = found.set_index("measure_id").loc["vitamin_k"]
    assert vitamin_k["newborns_added"] == len(loads.added)
    assert vitamin_k["events_added"] == len(loads.dosed)
    assert vitamin_k[list(CAUSES)].sum() == len(loads.added) + len(loads.dosed)
    assert vitamin_k["new_numerator"] - vitamin_k["old_numerator"] == 5
    assert vitamin_k["new_counted"] - vitamin_k["old_counted"] == 3
    assert "late entries: newborns added (3)" in vitamin_k["why"]
    temperature = found.set_index("measure_id").loc["first_temperature"]
    assert temperature["events_added"] == 0


@pytest.fixture
def edited(loads: Loads, tmp_path: Path) -> tuple[Path, duckdb.DuckDBPyConnection]:
    """A copy of the store in which two newborns' vitamin K is late, and its months say so."""
    path = tmp_path / "edited.duckdb"
    shutil.copy(loads.now, path)
    connection = duckdb.connect(str(path))
    connection.execute(
        """
        update measure.membership set state = 'late'
        where measure_id = 'vitamin_k' and newborn_id in (
            select newborn_id from newborn where record_id in (?, ?) and unit = ?
        )
        """,
        [*loads.dosed, UNIT],
    )
    connection.execute(
        """
        update measure.result set numerator = numerator - 2, late = late + 2
        where measure_id = 'vitamin_k' and unit = ? and period_kind = 'month'
            and stratifier = 'all newborns' and strftime(period_start, '%Y-%m') = ?
        """,
        [UNIT, loads.month],
    )
    return path, connection


FLAG = """
insert into judged.flag by name
select unit, record_id, 'dose' as table_name, 'minutes' as column_name, 'new_one' as rule_id,
    'error' as severity, {answer} as answer
from newborn where record_id in (?, ?) and unit = 'quillmere'
"""
EDITS = {
    "new_version": ["update measure.measure_info set version = '9' where measure_id = 'vitamin_k'"],
    "corrected": [
        "update typed.dose set minutes = minutes + 900 where unit = 'quillmere' "
        "and record_id in (?, ?)"
    ],
    "events_gone": ["delete from typed.dose where unit = 'quillmere' and record_id in (?, ?)"],
    "new_rule": [
        "update measure.build_info set value = 'x' where key = 'rules_hash'",
        FLAG.format(answer="null"),
    ],
    "answered": [FLAG.format(answer="'wrong'")],
    "same_version": ["update measure.build_info set value = 'x' where key = 'measures_hash'"],
    "not_told": [
        "update measure.measure_info set version = '9' where measure_id = 'vitamin_k'",
        "update typed.dose set minutes = minutes + 900 where unit = 'quillmere' "
        "and record_id in (?, ?)",
    ],
    "new_unit_file": ["update measure.unit_info set unit_file_hash = 'x'"],
}


@pytest.mark.parametrize("cause", EDITS)
def test_each_cause_is_named(
    cause: str, edited: tuple[Path, duckdb.DuckDBPyConnection], loads: Loads
) -> None:
    path, connection = edited
    for edit in EDITS[cause]:
        connection.execute(edit, loads.dosed if "?" in edit else [])
    connection.close()
    (row,) = restated(path, loads.now, UNIT).to_dict("records")
    assert row["measure_id"] == "vitamin_k"
    assert row[cause] == 2
    assert sum(row[name] for name in CAUSES) == 2
    assert row["why"] == f"{CAUSES[cause]} (2)"
    numerator = f"numerator {row['old_numerator']} to {row['new_numerator']}"
    assert numerator in row["changed"]


def test_a_policy_that_changed_is_named(
    edited: tuple[Path, duckdb.DuckDBPyConnection], loads: Loads
) -> None:
    path, connection = edited
    kind = connection.execute(
        "select table_type from information_schema.tables "
        "where table_schema = 'measure' and table_name = 'policy'"
    ).fetchone()
    assert kind == ("BASE TABLE",)
    connection.execute(
        "update measure.policy set value = 5 where measure_id = 'vitamin_k' and name = 'at_most'"
    )
    connection.close()
    (row,) = restated(path, loads.now, UNIT).to_dict("records")
    assert row["why"] == "policy change (2)"


def test_published_numbers_alone_cannot_tell_why(loads: Loads, tmp_path: Path) -> None:
    write_release(
        prepare_release(loads.before, UNIT, ledger=tmp_path / "ledger"), tmp_path / "release"
    )
    assert restated_since_release(loads.before, tmp_path / "ledger", UNIT).empty
    found = restated_since_release(loads.now, tmp_path / "ledger", UNIT)
    assert len(found)
    assert (found["new"] != found["old"]).all()
    assert set(found["why"]) == {"cannot be told apart"}


def test_a_store_without_the_unit_is_named(loads: Loads) -> None:
    with pytest.raises(StoreError, match="Did you mean 'quillmere'"):
        restated(loads.now, loads.before, "quilmere")

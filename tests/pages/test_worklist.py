"""The worklist as a file: every newborn of the page's list, safe to open, never overwritten."""

import csv
from pathlib import Path

import duckdb
import pytest

from pipelines.errors import StoreError
from pipelines.records import records_to_read
from pipelines.review import read_review
from pipelines.worklist import COLUMNS, write_worklist
from tests.conftest import Built

from .make_store import UNIT


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_it_lists_whom_the_page_lists_in_the_same_order(clean: Built, tmp_path: Path) -> None:
    out = tmp_path / "list.csv"
    number = write_worklist(clean.store, "quillmere", None, out)
    rows = read(out)
    listed = records_to_read(read_review(clean.store, "quillmere"))
    assert number == len(rows) == len(listed) > 20
    assert [row["record_id"] for row in rows] == list(listed["record_id"])
    assert tuple(rows[0]) == COLUMNS


def test_minutes_late_are_the_largest_and_what_to_check_is_said(
    clean: Built, tmp_path: Path
) -> None:
    data = read_review(clean.store, "quillmere")
    late = data.record_measures[data.record_measures["state"] == "late"]
    most = (late["minutes"] - late["due_minutes"]).groupby(late["record_id"]).max().dropna()
    write_worklist(clean.store, "quillmere", None, tmp_path / "list.csv")
    rows = {row["record_id"]: row for row in read(tmp_path / "list.csv")}
    assert len(most) > 5
    for record_id, minutes in most.items():
        assert float(rows[str(record_id)]["minutes_late"]) == pytest.approx(minutes, rel=1e-4)
    missing = data.record_measures
    record_id = missing.loc[missing["measure_id"] == "vitamin_k", "record_id"].iloc[0]
    assert "vitamin K: time" in rows[str(record_id)]["check_in_record"]


def test_a_flag_names_its_own_column(fake_store: Path, tmp_path: Path) -> None:
    """The fabricated store has no look_at: flags still say where to look."""
    write_worklist(fake_store, UNIT, None, tmp_path / "list.csv")
    data = read_review(fake_store, UNIT)
    flagged = set(data.record_flags["record_id"])
    rows = [row for row in read(tmp_path / "list.csv") if row["record_id"] in flagged]
    assert rows
    assert all(":" in row["check_in_record"] for row in rows)


def test_a_cell_that_would_run_as_a_formula_is_text(fake_store: Path, tmp_path: Path) -> None:
    store = tmp_path / "formula.duckdb"
    store.write_bytes(fake_store.read_bytes())
    with duckdb.connect(str(store)) as connection:
        for table in ("newborn", "membership", "flag"):
            connection.execute(f"update {table} set record_id = '=cmd|' || record_id")
    write_worklist(store, UNIT, None, tmp_path / "list.csv")
    rows = read(tmp_path / "list.csv")
    assert rows
    assert all(row["record_id"].startswith("'=cmd|") for row in rows)


def test_an_existing_file_is_kept_unless_forced(fake_store: Path, tmp_path: Path) -> None:
    out = tmp_path / "list.csv"
    out.write_text("notes", encoding="utf-8")
    with pytest.raises(StoreError, match="name another"):
        write_worklist(fake_store, UNIT, None, out)
    assert out.read_text(encoding="utf-8") == "notes"
    assert write_worklist(fake_store, UNIT, None, out, force=True) > 0
    assert out.read_text(encoding="utf-8").startswith("record_id,")

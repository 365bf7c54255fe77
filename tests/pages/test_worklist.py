"""The worklist as a file: every newborn of the page's list, safe to open, never overwritten."""

import csv
from dataclasses import replace
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from pipelines.base.errors import StoreError
from pipelines.definitions.states import URGENCY_WORDS
from pipelines.pages.review.read import read_review
from pipelines.pages.review.records import records_to_read, unit_matters
from pipelines.pages.review.worklist import COLUMNS, write_worklist
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
    late = late[~late["measure_id"].isin(data.left_to_unit["measure_id"])]
    late = late[~late["measure_id"].isin(unit_matters(data)["measure_id"])]
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


def test_a_matter_for_the_unit_lists_no_record_but_is_told(fake_store: Path) -> None:
    data = read_review(fake_store, UNIT)
    matters = unit_matters(data).set_index("measure_id")
    assert matters.loc["half_hourly", "because"] == "listed"
    rows = data.record_measures
    of_it = rows[(rows["measure_id"] == "half_hourly") & (rows["state"] != "met")]
    assert matters.loc["half_hourly", "missed"] == len(of_it) > 0
    title = data.measures.set_index("measure_id").loc["half_hourly", "title"]
    listed = records_to_read(data)
    assert not any(title in text for lines in listed["lines"] for _, all in lines for text in all)


def test_what_more_than_half_miss_is_a_matter_for_the_unit(fake_store: Path) -> None:
    """At 20 newborns or more, and never for a harm that happened."""
    data = read_review(fake_store, UNIT)
    row = data.measures.set_index("measure_id").loc["first_temperature"]
    assert "first_temperature" not in set(unit_matters(data)["measure_id"])
    more = data.record_measures[data.record_measures["measure_id"] == "vitamin_k"].head(1)
    many = pd.concat([more.assign(measure_id="first_temperature", record_id=f"N{number}")
                      for number in range(int(row["denominator"] / 2) + 1)])  # fmt: skip
    often = replace(data, record_measures=pd.concat([data.record_measures, many]))
    assert "first_temperature" in set(unit_matters(often)["measure_id"])
    assert "N1" not in set(records_to_read(often)["record_id"])
    of = data.measures.set_index("measure_id").loc["warm_excess", "denominator"]
    warm = more.assign(measure_id="warm_excess", state="not_documented")
    unknown = [warm.assign(record_id=f"U{number}") for number in range(int(of / 2) + 1)]
    harm = warm.assign(record_id="N1", state="met")
    both = replace(data, record_measures=pd.concat([data.record_measures, *unknown, harm]))
    assert "warm_excess" in set(unit_matters(both)["measure_id"])
    assert "U1" not in set(records_to_read(both)["record_id"])
    assert "N1" in set(records_to_read(both)["record_id"])
    harmed = replace(data, record_measures=pd.concat(
        [data.record_measures, many.assign(measure_id="warm_excess", state="met")]))  # fmt: skip
    assert "warm_excess" not in set(unit_matters(harmed)["measure_id"])
    assert "N1" in set(records_to_read(harmed)["record_id"])


def test_the_demo_month_lists_the_rare_first(clean: Built) -> None:
    """A list that names everybody names nobody: most newborns of a month must not be on it."""
    data = read_review(clean.store, "quillmere")
    listed = records_to_read(data)
    assert len(listed) < 0.8 * data.newborns
    assert listed["urgency"].is_monotonic_increasing
    assert set(listed["urgency"]) <= set(URGENCY_WORDS)
    # Harm, counted apart from the list: one newborn is as rare as its rarest harm of the month.
    harm = data.record_measures[data.record_measures["state"] == "met"]
    harm = harm[~harm["measure_id"].isin(data.left_to_unit["measure_id"])]
    among = data.measures.set_index("measure_id")["denominator"]
    often = harm["measure_id"].map(harm["measure_id"].value_counts() / among)
    rarest = often.groupby(harm["record_id"]).min()
    first = listed.loc[listed["urgency"] == 0, "record_id"].map(rarest)
    assert first.nunique() > 1
    assert first.is_monotonic_increasing


def test_what_is_listed_is_worked_out_once_for_a_month(fake_store: Path) -> None:
    """By every section that asks; a changed copy of the month is worked out anew."""
    data = read_review(fake_store, UNIT)
    assert records_to_read(data) is records_to_read(data)
    assert unit_matters(data) is unit_matters(data)
    quiet = replace(
        data, record_measures=data.record_measures.head(0), record_flags=data.record_flags.head(0)
    )
    assert len(records_to_read(data)) > len(records_to_read(quiet)) == 0

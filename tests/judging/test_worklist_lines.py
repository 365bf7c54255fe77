"""A worklist that came back: read at the next build, said on the next page, bad lines told."""

import csv
from dataclasses import replace
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from pipelines.base.errors import DeclarationError
from pipelines.base.store_file import open_store
from pipelines.build.every_stage import BuildSummary, build_store
from pipelines.build.told import build_words
from pipelines.definitions.read_units import UNITS_DIR, Unit, find_unit, read_unit
from pipelines.definitions.unit_csv import WORKLIST
from pipelines.definitions.unit_csv import WORKLIST_TO_FILL as TO_FILL
from pipelines.definitions.worklist import filled_files, find_chart
from pipelines.pages.review.read import read_review
from pipelines.pages.review.record_list import read_words, record_list
from pipelines.pages.review.worklist import COLUMNS, write_worklist
from pipelines.stages.judged.worklist_lines import read_worklist, read_worklists
from tests.conftest import Built

UNIT = "quillmere"
HEAD = "record_id,month,outcome,note,role,date"
NOTE = "told the parents on Tuesday"


def write(path: Path, *lines: str, head: str = HEAD) -> Path:
    path.write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
    return path


def with_lists(folder: Path, filled: str, **more: str) -> Unit:
    return replace(find_unit(UNIT), path=folder / "unit.toml", worklist={"filled": filled, **more})


OUTCOMES = ("charting", "charting", "reported", "as recorded")


def fill_in(path: Path) -> None:
    """Fill in the last four columns as a person would: four lines, a fifth wrongly, no more.

    And a line of a newborn who is not in the store, at the end.
    """
    with path.open(newline="", encoding="utf-8") as stream:
        head, *rows = list(csv.reader(stream))
    for row, outcome in zip(rows, OUTCOMES, strict=False):
        row[-len(TO_FILL) :] = [outcome, NOTE, "charge nurse", "2026-05-04"]
    rows[5][-len(TO_FILL) :] = ["looked fine", NOTE, "", "2026-05-04"]
    with path.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream).writerows([head, *rows, ["nobody-1", *rows[0][1:]]])


@pytest.fixture(scope="module")
def returned(clean: Built, tmp_path_factory: pytest.TempPathFactory) -> tuple[BuildSummary, int]:
    """A store built with its own worklist filled in, and how many newborns that listed."""
    folder = tmp_path_factory.mktemp("returned")
    number = write_worklist(clean.store, UNIT, None, folder / "worklist_1.csv")
    fill_in(folder / "worklist_1.csv")
    text = (UNITS_DIR / f"{UNIT}.toml").read_text(encoding="utf-8")
    named = text.replace("[worklist]", '[worklist]\nfilled = "worklist*.csv"')
    assert named != text
    (folder / "my_unit.toml").write_text(named, encoding="utf-8")
    unit = read_unit(folder / "my_unit.toml")
    return build_store([(unit, clean.exports[UNIT])], folder / "store.duckdb"), number


@pytest.mark.build
def test_the_next_page_says_what_was_found(returned: tuple[BuildSummary, int]) -> None:
    summary, number = returned
    data = read_review(summary.store, UNIT)
    month = f"{data.month:%B %Y}"
    assert read_words(data) == [
        f"{month}: read 4 of {number}; 1 was as recorded, 2 were charting, 1 was reported."
    ]
    html = record_list(data).html
    assert f"read 4 of {number}" in html
    assert "outcome must be one of" in html and "no newborn of this load" in html


@pytest.mark.build
@pytest.mark.parametrize(("earlier", "is_said"), [(1, True), (2, False)])
def test_the_page_of_the_month_after_says_it_too(
    returned: tuple[BuildSummary, int], tmp_path: Path, earlier: int, is_said: bool
) -> None:
    """With every line a month earlier the page's month is the month after it."""
    summary, number = returned
    store = tmp_path / "later.duckdb"
    store.write_bytes(summary.store.read_bytes())
    with duckdb.connect(str(store)) as connection:
        connection.execute(
            "create or replace view worklist_line as select * replace "
            f"((month - interval {earlier} month)::date as month) from judged.worklist_line"
        )
    data = read_review(store, UNIT)
    before = data.month - pd.DateOffset(months=1)
    told = read_words(data)
    assert [text.startswith(f"{before:%B %Y}: read 4 of {number};") for text in told] == (
        [True] if is_said else []
    )


@pytest.mark.build
def test_a_bad_line_is_told_with_file_line_and_reason_and_nothing_else(
    returned: tuple[BuildSummary, int], clean: Built
) -> None:
    summary, number = returned
    words = build_words(summary)
    assert "worklist_1.csv line 7: outcome must be one of: as recorded, charting" in words
    assert f"worklist_1.csv line {number + 2}: no newborn of this load" in words
    assert NOTE not in words and "looked fine" not in words and "nobody-1" not in words
    with open_store(clean.store) as store:
        records = {row[0] for row in store.execute("select record_id from newborn").fetchall()}
    assert not any(record in words for record in records)


@pytest.mark.build
def test_what_was_written_stands_in_the_store(returned: tuple[BuildSummary, int]) -> None:
    summary, number = returned
    with open_store(summary.store) as store:
        rows = store.execute(
            "select outcome, note, role, read_on::varchar from worklist_line "
            "where outcome is not null order by file_line"
        ).fetchall()
        every = store.execute("select count(*), count(rejected) from worklist_line").fetchone()
    outcomes = ("charting", "charting", "reported", "as recorded")
    assert rows == [(one, NOTE, "charge nurse", "2026-05-04") for one in outcomes]
    assert every == (number + 1, 2)


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("A1,2026-03,fine,,nurse,2026-04-02", "outcome must be one of"),
        ("A1,2026-03,,read it,nurse,2026-04-02", "outcome must be one of"),
        ("A1,2026-03,charting,,,2026-04-02", "role is empty"),
        ("A1,2026-03,charting,,nurse,2.4.2026", "date must be written"),
        ("A1,2026-03,charting,,nurse,", "date must be written"),
        ("A1,March,charting,,nurse,2026-04-02", "month must be written"),
        (",2026-03,charting,,nurse,2026-04-02", "record_id is empty"),
    ],
)
def test_a_line_that_cannot_be_meant_is_kept_with_its_reason(
    tmp_path: Path, line: str, reason: str
) -> None:
    path = write(
        tmp_path / "w.csv", "A0,2026-03,Charting,,nurse,2026-04-02", line, "A2,2026-03,,,,"
    )
    first, bad, still_open = read_worklist(path, "fern")
    assert (first.outcome, first.rejected) == ("charting", None)
    assert bad.rejected is not None and bad.rejected.startswith(reason)
    assert (bad.outcome, bad.note, bad.file_line) == (None, None, 3)
    assert (still_open.outcome, still_open.rejected) == (None, None)


def test_the_first_of_two_stands(tmp_path: Path) -> None:
    line = "A1,2026-03,{},,nurse,2026-04-02"
    one = write(tmp_path / "a.csv", line.format("charting"))
    two = write(tmp_path / "b.csv", line.format("reported"))
    first, second = read_worklists([one, two], "fern")
    assert first.outcome == "charting" and second.outcome is None
    assert second.rejected == "filled in already at a.csv line 2"


def test_a_column_that_is_missing_or_not_known_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "w.csv", head=HEAD.replace("role", "rolle"))
    with pytest.raises(DeclarationError, match=r"'rolle' is not known\. Did you mean 'role'"):
        read_worklist(path, "fern")


def test_the_file_has_the_columns_that_are_read_back() -> None:
    assert {*COLUMNS, *TO_FILL} == {*WORKLIST.read, *WORKLIST.for_reading}
    assert (*COLUMNS, *TO_FILL) == (
        *("record_id", "month", "read", "born", "reasons", "why_it_matters", "minutes_late"),
        *("check_in_record", "outcome", "note", "role", "date"),
    )


def test_the_units_own_sentence_and_files(tmp_path: Path) -> None:
    unit = with_lists(tmp_path, "worklist*.csv", find_chart="Ask at the desk.")
    assert find_chart(unit) == "Ask at the desk."
    assert filled_files(unit) == []  # none is there yet
    write(tmp_path / "worklist_03.csv")
    assert [path.name for path in filled_files(unit)] == ["worklist_03.csv"]
    assert "study key" in find_chart(replace(unit, worklist={}))
    with pytest.raises(DeclarationError, match=r"unit\.toml \[worklist\] filled: there is no file"):
        filled_files(with_lists(tmp_path, "list.csv"))
    with pytest.raises(DeclarationError, match="beside the unit's file"):
        filled_files(with_lists(tmp_path, "../list.csv"))
    with pytest.raises(DeclarationError, match="Did you mean 'find_chart'"):
        find_chart(replace(unit, worklist={"find_charts": "x"}))

"""A unit's answers to flags: used, masked, kept in the history, never edited into the export."""

import csv
from dataclasses import replace
from pathlib import Path

import pytest

from pipelines.base.errors import DeclarationError
from pipelines.base.spreadsheets import safe_cell
from pipelines.base.store_file import open_store
from pipelines.build.every_stage import build_store
from pipelines.definitions.read_units import Unit, find_unit
from pipelines.drafts.open_flags import write_open_flags
from pipelines.stages.judged.answers import read_answers
from tests.conftest import Built

HEAD = "record_id,column_name,decision,role,why"


def write(path: Path, *lines: str, head: str = HEAD) -> Path:
    path.write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
    return path


def flagged(built: Built, severity: str, unit: str = "quillmere") -> tuple[str, str, str]:
    """Return record, column and text of one readable flagged number of an admission."""
    with open_store(built.store) as store:
        row = store.execute(
            "select record_id, column_name, recorded_value from flag "
            "where severity = ? and unit = ? and table_name = 'admission' "
            "and column_name in (select column_name from information_schema.columns "
            "where table_name = 'newborn' and data_type in ('DOUBLE', 'INTEGER')) "
            "and rule_id not in ('unreadable', 'not_on_list') order by all limit 1",
            [severity, unit],
        ).fetchone()
    assert row is not None, f"no {severity} flag on a number of an admission"
    return row


def answered(built: Built, folder: Path, answers: Path) -> Path:
    unit: Unit = replace(find_unit("quillmere"), answers=answers)
    return build_store([(unit, built.exports["quillmere"])], folder / "store.duckdb").store


def value(store: Path, record_id: str, column: str) -> object:
    with open_store(store) as connection:
        row = connection.execute(
            f"select {column} from newborn where record_id = ?", [record_id]
        ).fetchone()
    assert row is not None
    return row[0]


def test_confirmed_is_used_and_keeps_its_flag(synthetic: Built, tmp_path: Path) -> None:
    record, column, _ = flagged(synthetic, "error")
    assert value(synthetic.store, record, column) is None
    answers = write(tmp_path / "a.csv", f"{record},{column},confirmed,charge nurse,read the chart")
    before = {path: path.read_bytes() for path in synthetic.exports["quillmere"].iterdir()}
    store = answered(synthetic, tmp_path, answers)
    assert value(store, record, column) is not None
    assert before == {path: path.read_bytes() for path in before}
    with open_store(store) as connection:
        told = connection.execute(
            "select distinct answer, answered_by, answer_reason from flag "
            "where record_id = ? and column_name = ?",
            [record, column],
        ).fetchall()
    assert told == [("confirmed", "charge nurse", "read the chart")]


def test_wrong_masks_a_queried_value(synthetic: Built, tmp_path: Path) -> None:
    record, column, _ = flagged(synthetic, "query", "quillmere")
    assert value(synthetic.store, record, column) is not None
    answers = write(tmp_path / "a.csv", f"{record},{column},wrong,charge nurse,scale not zeroed")
    assert value(answered(synthetic, tmp_path, answers), record, column) is None


def test_an_answer_for_another_value_is_stale(synthetic: Built, tmp_path: Path) -> None:
    record, column, text = flagged(synthetic, "error")
    answers = write(
        tmp_path / "a.csv",
        f"{record},{column},confirmed,charge nurse,chart,{text}9",
        head=f"{HEAD},recorded_value",
    )
    store = answered(synthetic, tmp_path, answers)
    assert value(store, record, column) is None
    with open_store(store) as connection:
        assert connection.execute("select flags from answer").fetchall() == [(0,)]


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        (
            ["A1,weight_g,confirm,nurse,chart"],
            r"a\.csv line 2: decision .*Did you mean 'confirmed'",
        ),
        (["A1,weight_g,wrong,,chart"], r"a\.csv line 2: 'role' is empty"),
        (
            ["A1,weight_g,wrong,nurse,chart", "A1,weight_g,confirmed,nurse,chart"],
            r"lines 2 and 3 answer the same cell differently",
        ),
    ],
)
def test_an_answer_that_cannot_be_meant_is_refused(
    tmp_path: Path, lines: list[str], message: str
) -> None:
    with pytest.raises(DeclarationError, match=message):
        read_answers(write(tmp_path / "a.csv", *lines), "quillmere")


def test_an_unknown_column_names_the_nearest(tmp_path: Path) -> None:
    path = write(tmp_path / "a.csv", head=HEAD.replace("role", "rolle"))
    with pytest.raises(DeclarationError, match=r"'rolle' is not known\. Did you mean 'role'"):
        read_answers(path, "quillmere")


def test_open_flags_are_a_file_to_fill_in(synthetic: Built, tmp_path: Path) -> None:
    path = tmp_path / "open.csv"
    with open_store(synthetic.store) as store:
        count = write_open_flags(store, "quillmere", path)
    assert count > 0
    assert read_answers(path, "quillmere") == []  # nothing is decided yet
    with path.open(newline="") as stream:
        head, *rows = list(csv.reader(stream))
    assert len(rows) == count
    # Every line answered reads back, and each answer finds a flag in the next build.
    for row in rows:
        row[head.index("decision")] = "confirmed"
        row[head.index("role")] = "charge nurse"
        row[head.index("why")] = "read the chart"
    with path.open("w", newline="") as stream:
        csv.writer(stream).writerows([head, *rows])
    store = answered(synthetic, tmp_path, path)
    with open_store(store) as connection:
        assert connection.execute("select count(*), min(flags) from answer").fetchone() == (
            count,
            1,
        )
        assert connection.execute(
            "select count(*) from flag where answer is null and record_id is not null "
            "and severity <> 'note'"
        ).fetchone() == (0,)


def test_open_flags_never_overwrite_answers(synthetic: Built, tmp_path: Path) -> None:
    path = write(tmp_path / "a.csv")
    with (
        open_store(synthetic.store) as store,
        pytest.raises(DeclarationError, match="may hold answers"),
    ):
        write_open_flags(store, "quillmere", path)


def test_a_formula_is_text_in_the_file_and_itself_when_read_back(tmp_path: Path) -> None:
    assert safe_cell("=1+1") == "'=1+1"
    line = f"A1,weight_g,wrong,nurse,chart,{safe_cell('=1+1')}"
    path = write(tmp_path / "a.csv", line, head=f"{HEAD},recorded_value")
    assert read_answers(path, "quillmere")[0].recorded_value == "=1+1"

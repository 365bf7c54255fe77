"""The tables as CSV and as a workbook, opened again by the csv module, calamine and openpyxl."""

import csv
import io
import zipfile
from pathlib import Path
from typing import Any

import duckdb
import openpyxl
import pytest

from pipelines.files.about import About
from pipelines.files.tables import TableFile, spec, tables_of, write_csv_files
from pipelines.files.workbook import write_workbook
from pipelines.pages.review.read import read_review
from pipelines.pages.review.why.read import read_why
from tests.conftest import Built
from tests.pages.make_store import HOSTILE, UNIT

from .conftest import CONTROL, FORMULA, MARKUP, MONTH, RIGHT_TO_LEFT, TITLES, Out
from .readers import csv_rows, sheets

# Characters by which a spreadsheet takes a cell for a formula or leaves the cell (OWASP, CSV
# Injection): equals, plus, minus, at, tab, carriage return.
STARTS = ("=", "+", "-", "@", "\t", "\r")


def counted(store: Path) -> dict[str, tuple[Any, ...]]:
    """Return measure -> numerator, rate, lower of the month, straight from the store."""
    with duckdb.connect(str(store), read_only=True) as connection:
        rows = connection.execute(
            "select measure_id, numerator, rate, lower from result where period_kind = 'month' "
            "and stratifier = 'all newborns' and period_start = ?::date",
            [f"{MONTH}-01"],
        ).fetchall()
    return {row[0]: row[1:] for row in rows}


def is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def test_numbers_are_those_of_the_store_in_both_forms(out: Out) -> None:
    truth = counted(out.store)
    for rows in (csv_rows(out.folder / "tables" / "measures.csv"), sheets(out.book)["measures"]):
        found = {row["measure_id"]: row for row in rows}
        assert set(truth) <= set(found)
        for measure, (numerator, rate, lower) in truth.items():
            row = found[measure]
            assert float(row["numerator"]) == numerator
            assert float(row["rate"]) == pytest.approx(rate, abs=1e-12)
            assert float(row["lower"]) == pytest.approx(lower, abs=1e-12)


def test_every_month_is_there(out: Out) -> None:
    rows = csv_rows(out.folder / "tables" / "months.csv")
    assert {row["month"] for row in rows} >= {"2024-05-01", "2026-04-01"}
    assert len(sheets(out.book)["months"]) == len(rows)


def test_numbers_stay_numbers_in_the_workbook(out: Out) -> None:
    for row in sheets(out.book)["months"]:
        for name in ("numerator", "denominator", "not_documented"):
            assert isinstance(row[name], int | float), name
        assert isinstance(row["title"], str)
        assert str(row["month"]) >= "2024-05-01"


def test_no_cell_of_a_csv_can_run(out: Out) -> None:
    paths = sorted((out.folder / "tables").glob("*.csv"))
    assert len(paths) == sum(not told.get("names_records") for told in spec()["tables"].values())
    for path in paths:
        with path.open(newline="", encoding="utf-8-sig") as stream:
            for row in csv.reader(stream):
                for cell in row:
                    assert not cell.startswith(STARTS) or is_number(cell), path.name


@pytest.mark.parametrize("measure", ["vitamin_k", "two_bands", "size_triad", "half_hourly"])
def test_a_title_that_looks_like_a_formula_is_kept_as_text(out: Out, measure: str) -> None:
    rows = csv_rows(out.folder / "tables" / "definitions.csv")
    (title,) = (row["title"] for row in rows if row["measure_id"] == measure)
    assert title == f"'{TITLES[measure]}"
    (cell,) = (
        row["title"] for row in sheets(out.book)["definitions"] if row["measure_id"] == measure
    )
    assert cell == f"'{TITLES[measure]}"


def test_markup_and_other_scripts_come_through_whole(out: Out) -> None:
    rows = {row["measure_id"]: row for row in csv_rows(out.folder / "tables" / "definitions.csv")}
    assert rows["first_feed"]["title"] == MARKUP
    assert rows["recheck"]["title"] == RIGHT_TO_LEFT
    assert rows["first_stool"]["title"] == CONTROL.replace("\a", "\ufffd").replace("\v", "\ufffd")
    book = {row["measure_id"]: row for row in sheets(out.book)["definitions"]}
    assert book["first_feed"]["title"] == MARKUP
    assert book["recheck"]["title"] == RIGHT_TO_LEFT


def test_the_workbook_holds_no_formula_link_or_macro(out: Out) -> None:
    """Looked for in the parts of the file itself (ECMA-376): formula, hyperlink, external link."""
    with zipfile.ZipFile(out.book) as parts:
        names = parts.namelist()
        assert not [name for name in names if "external" in name.lower() or "vba" in name.lower()]
        for name in names:
            text = parts.read(name).decode("utf-8")
            assert "<f>" not in text and "<f " not in text, name
            assert "<hyperlink" not in text, name
    book = openpyxl.load_workbook(out.book)
    kinds = {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row}
    assert kinds <= {"s", "n", "d", "b", "inlineStr"}
    assert FORMULA not in {cell.value for row in book["measures"].iter_rows() for cell in row}


def test_each_sheet_has_a_header_that_stays_and_the_first_says_what_it_is(out: Out) -> None:
    book = openpyxl.load_workbook(out.book)
    tables = [name for name, told in spec()["tables"].items() if not told.get("names_records")]
    assert book.sheetnames == ["about", *tables, "columns"]
    assert all(sheet.freeze_panes == "A2" for sheet in book)
    assert all(cell.font.bold for cell in book["measures"][1])
    assert book["measures"].column_dimensions["B"].width > 20
    told = {str(row[0].value): str(row[1].value) for row in book["about"].iter_rows()}
    assert told["unit"] == UNIT
    assert HOSTILE in told["name of the unit"]
    assert told["month of the review"] == MONTH
    assert told["written by"].startswith("lanugo ")
    assert "stays inside the unit" in told["where it may go"]
    assert told["store: built at"] == "2026-05-04 06:11:02"
    assert "do not guide the care of one newborn" in told["caution"]


def test_every_row_of_a_csv_says_unit_month_and_version(out: Out) -> None:
    for path in (out.folder / "tables").glob("*.csv"):
        for row in csv_rows(path):
            assert row["of_unit"] == UNIT
            assert row["month_of_review"] == MONTH
            assert row["written_by"].startswith("lanugo ")


def test_every_column_of_every_table_has_a_meaning(out: Out) -> None:
    for row in sheets(out.book)["columns"]:
        assert len(str(row["meaning"])) > 3, row


def test_a_spreadsheet_finds_the_encoding(out: Out) -> None:
    """The byte order mark of RFC 3629, section 6, by which spreadsheets know UTF-8."""
    assert (out.folder / "tables" / "months.csv").read_bytes().startswith(b"\xef\xbb\xbf")


def test_the_worklist_comes_only_when_asked_for(out: Out, with_records: Out) -> None:
    assert not (out.folder / "tables" / "worklist.csv").exists()
    listed = csv_rows(with_records.folder / "tables" / "worklist.csv")
    book = sheets(with_records.book)["worklist"]
    assert [row["record_id"] for row in listed] == [row["record_id"] for row in book]
    late = [row["minutes_late"] for row in book if row["minutes_late"] != ""]
    assert late and all(isinstance(value, int | float) for value in late)


@pytest.fixture(scope="module")
def real_tables(clean: Built) -> list[TableFile]:
    data = read_review(clean.store, "quillmere")
    return tables_of(data, read_why(clean.store, data), with_records=True)


def test_a_real_build_gives_every_table(real_tables: list[TableFile]) -> None:
    assert [table.name for table in real_tables] == list(spec()["tables"])
    rows = {table.name: len(table.rows) for table in real_tables}
    assert rows["measures"] == rows["definitions"] > 40
    assert rows["exports"] >= 5 and rows["worklist"] > 10 and rows["why_missed"] > 10


def test_a_negative_number_is_no_formula_and_keeps_its_sign(
    real_tables: list[TableFile], tmp_path: Path, about: About
) -> None:
    (table,) = (table for table in real_tables if table.name == "why_missed")
    (path,) = write_csv_files([table], tmp_path, about)
    negative = [
        row["difference"] for row in csv_rows(path) if row["difference"].startswith(("-", "'"))
    ]
    assert negative
    assert all(float(text) < 0 for text in negative)
    book = sheets(write_workbook([table], tmp_path / "one.xlsx", about))["why_missed"]
    assert sum(isinstance(row["difference"], float) and row["difference"] < 0 for row in book) == (
        len(negative)
    )


def test_an_empty_table_is_a_header(tmp_path: Path, about: About) -> None:
    table = TableFile("nothing", "Nothing", "one row per nothing", {"name": "A name."}, [])
    (path,) = write_csv_files([table], tmp_path / "tables", about)
    assert next(csv.reader(io.StringIO(path.read_text("utf-8-sig"))))[0] == "name"
    assert csv_rows(path) == []
    book = sheets(write_workbook([table], tmp_path / "tables" / "one.xlsx", about))
    assert book["nothing"] == []

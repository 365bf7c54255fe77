"""Every number of every file is that of the store, of the page and of the paper.

The same reader and the same truth as for the pages: tests/pages/read_numbers.py.
"""

import re
import unicodedata
from pathlib import Path

import pandas as pd
import pytest
from pypdf import PdfReader

from tests.pages.hold_numbers import PROGRAM, Held, held_alone
from tests.pages.hold_others import held_rows
from tests.pages.hold_review import held_review
from tests.pages.hold_sums import UNKNOWN_WORD, flag_totals
from tests.pages.make_store import UNIT
from tests.pages.read_numbers import counts, plain, read, statements
from tests.pages.true_numbers import Truth, is_written, truth

from .conftest import MONTH, Out
from .readers import csv_rows, parquet_rows, sheets


@pytest.fixture(scope="module")
def true(hostile_store: Path) -> Truth:
    return truth(hostile_store, UNIT)


def assert_held(held: Held, **least: int) -> None:
    assert not held.faults, "\n".join(map(str, held.faults[:20]))
    for kind, number in least.items():
        assert held.compared[kind] >= number, (kind, held.compared)


def test_tables_and_the_workbook_hold_the_store_s_numbers(out: Out, true: Truth) -> None:
    month = pd.Timestamp(f"{MONTH}-01")
    for name, of in (("measures", month), ("months", None)):
        written = csv_rows(next((out.folder / "tables").glob(f"{name}*.csv")))
        for rows in (written, sheets(out.book)[name]):
            assert_held(held_rows(rows, true, of), numerator=10, not_documented=10, rate=10)


def test_the_data_hold_the_store_s_flags(out: Out, true: Truth) -> None:
    rows = parquet_rows(out.folder / "data" / "flag_count.parquet")
    assert sum(row["flags"] for row in rows) == sum(flag_totals(true).values()) > 0
    words = sum(row["flags"] for row in rows if row["rule_id"] == "not_on_list")
    assert words == flag_totals(true).get(UNKNOWN_WORD, 0)


def test_the_page_among_the_files_is_right(out: Out, true: Truth) -> None:
    page = read(out.page.read_text(encoding="utf-8"))
    alone = held_alone(page)
    alone.faults = [one for one in alone.faults if "display:none" not in one]  # the hostile title
    assert_held(alone, words=100)
    assert_held(held_review(page, true, pd.Timestamp(f"{MONTH}-01")), percent=100)


def test_the_paper_says_what_the_page_says(out: Out) -> None:
    """Every count of the PDF stands on the page with the same percentage, and is not changed."""
    if not out.pdf.is_file():
        pytest.skip("Chromium is needed to print (Debian: chromium)")
    page = read(out.page.read_text(encoding="utf-8"))
    said = {one for statement in statements(page) for one in counts(statement.words)}
    pairs = {(one.some, one.of) for one in said}
    text = " ".join(sheet.extract_text() for sheet in PdfReader(out.pdf).pages)
    printed = unicodedata.normalize("NFKC", plain(text))
    assert not PROGRAM.search(printed.replace("{", "").replace("}", ""))
    found = [one for one in counts(printed) if one.percent is not None]
    rows = re.findall(r"(\d+) of (\d+) ([\d.]+) %", printed)  # of the first table
    told = [(one.some, one.of, str(one.percent)) for one in found]
    told += [(int(some), int(of), percent) for some, of, percent in rows]
    assert len(found) >= 3 and len(rows) >= 3
    for some, of, percent in told:
        assert (some, of) in pairs, (some, of)
        assert is_written(percent, some, of), (some, of, percent)

"""A fabricated store with hostile texts, and everything that is written of it."""

import datetime as dt
import os
from dataclasses import dataclass
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from pipelines.files.about import About
from pipelines.files.formats import FORMATS
from pipelines.files.pdf import find_browser
from pipelines.files.plan import Wanted
from pipelines.files.write import plan, write_files
from tests.once import Once
from tests.pages.make_store import UNIT, UNIT_TITLE, make_store

FORMULA = "=cmd|' /C calc'!A0"
MARKUP = "<script>alert(\"x\")</script> & 'quotes' </title></style>]]>"
RIGHT_TO_LEFT = "\N{RIGHT-TO-LEFT OVERRIDE}\N{HEBREW LETTER ALEF}\N{ARABIC LETTER BEH} \N{BABY}"
CONTROL = "First\a stool\v"
TITLE = f'{UNIT_TITLE}"}}body{{display:none}}\\'
# measure -> a title that a file could take for something else
TITLES = {
    "vitamin_k": FORMULA,
    "first_feed": MARKUP,
    "recheck": RIGHT_TO_LEFT,
    "first_stool": CONTROL,
    "two_bands": "@SUM(1+1)*cmd",
    "size_triad": "-2+3",
    "half_hourly": "\t=1+1",
}
NOW = dt.datetime(2026, 5, 4, 7, 30, tzinfo=dt.UTC)
MONTH = "2026-04"


@dataclass(frozen=True)
class Out:
    """Everything written of the hostile store: the folder, and the store it came from."""

    folder: Path
    store: Path

    @property
    def page(self) -> Path:
        return self.folder / f"review_{UNIT}_{MONTH}.html"

    @property
    def pdf(self) -> Path:
        return self.folder / f"review_{UNIT}_{MONTH}.pdf"

    @property
    def meeting(self) -> Path:
        return self.folder / f"meeting_{UNIT}_{MONTH}.html"

    @property
    def meeting_pdf(self) -> Path:
        return self.folder / f"meeting_{UNIT}_{MONTH}.pdf"

    @property
    def mail(self) -> Path:
        return self.folder / f"mail_{UNIT}_{MONTH}.txt"

    @property
    def book(self) -> Path:
        return self.folder / "tables" / f"tables_{UNIT}_{MONTH}.xlsx"


@pytest.fixture(scope="session")
def hostile_store(once: Once) -> Path:
    return once("hostile_store", _hostile_store)


def _hostile_store(folder: Path) -> Path:
    path = make_store(folder / "store.duckdb")
    with duckdb.connect(str(path)) as store:
        # A public column that the review reads and the fabricated store may be without.
        store.execute("alter table newborn add column if not exists birth_order integer")
        store.execute("update newborn set birth_order = newborn_id")
        for measure, title in TITLES.items():
            store.execute(
                "update measure_info set title = ? where measure_id = ?", [title, measure]
            )
        store.execute("update unit_info set title = ?", [TITLE])
        store.execute("update change_log set title = ?", [f"{FORMULA} {MARKUP}"])
        store.execute("update load_log set note = ?", [f"+{MARKUP}"])
    return path


@pytest.fixture
def about() -> About:
    return About(UNIT, "A unit", pd.Timestamp(f"{MONTH}-01"), {"built_at": "then"}, NOW)


@pytest.fixture(scope="session")
def has_browser() -> bool:
    return find_browser() is not None


@pytest.fixture
def browser(has_browser: bool) -> str:
    """A Chromium; missing, the test is skipped, or fails where CI=true."""
    if not has_browser:
        reason = "Chromium is needed to print (Debian: chromium)"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    found = find_browser()
    assert found is not None
    return found


@pytest.fixture(scope="session")
def out(hostile_store: Path, once: Once, has_browser: bool) -> Out:
    """All kinds of file that this machine can make, without single records."""
    kinds = [
        one.name
        for one in FORMATS
        if (has_browser or not one.needs_browser) and not one.needs_records
    ]

    def write(folder: Path) -> Out:
        made = plan(Wanted(hostile_store, UNIT, None, folder / "out", only=kinds), NOW)
        written = write_files(made)
        assert all(path.is_file() for path in written)
        return Out(folder / "out", hostile_store)

    return once("out", write)


@pytest.fixture(scope="session")
def with_records(hostile_store: Path, once: Once) -> Out:
    """Tables and data with a row for each newborn, as it must be asked for."""

    def write(folder: Path) -> Out:
        kinds = ("tables", "data")
        wanted = Wanted(hostile_store, UNIT, None, folder / "out", only=kinds, with_records=True)
        write_files(plan(wanted, NOW))
        return Out(folder / "out", hostile_store)

    return once("with_records", write)

"""Every page, file and release of exports that no unit would write: nothing stops, all is said.

The frames of a page are held to their declarations as they are made, so a gap that nobody
thought of would stop a page here rather than in a unit.
"""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from pipelines.build.every_stage import build_store
from pipelines.definitions.read_units import find_unit
from pipelines.files.plan import Wanted
from pipelines.files.write import plan, write_files
from pipelines.pages.change.page import render_change
from pipelines.pages.fair.page import render_fair_care
from pipelines.pages.quality.page import render_quality
from pipelines.pages.review.page import render_review
from pipelines.pages.review.worklist import write_worklist
from pipelines.release.page import release_page
from pipelines.release.prepare import prepare_release
from tests.once import Once
from tests.oracle.mess import Mess
from tests.oracle.unit_files import STEPS, write_unit

from .asked import CHARTS
from .conftest import sheet_of
from .visit import open_page, printed

NEWBORNS = {4: 250, 5: 30}  # by seed: a store of some months, and one of a handful each
CHANGE = """
[[changes]]
id = "made_up"
from = 2026-01-01
title = "Something changed"
measures = ["first_temperature"]
"""


def _build(folder: Path, seed: int) -> Path:
    files = {unit: write_unit(unit, folder) for unit in STEPS}
    for unit, file in files.items():
        Mess(file, seed).write(folder / unit, newborns=NEWBORNS[seed])
        file.write_text(file.read_text(encoding="utf-8") + CHANGE, encoding="utf-8")
    sources = [(find_unit(str(file)), folder / unit) for unit, file in files.items()]
    return build_store(sources, folder / "awkward.duckdb").store


@dataclass(frozen=True)
class Awkward:
    """A unit of a store with every field drawn apart, edges and blanks drawn often."""

    store: Path
    unit: str

    @property
    def name(self) -> str:
        return f"{self.store.parent.parent.name}_{self.unit}"


# Seed and unit; each kind of page meets both seeds and, in all, every unit.
REVIEWS = ((4, "quillmere"), (4, "tansy_ridge"), (5, "minutes_of_quillmere"))
OTHERS = ((4, "minutes_of_quillmere"), (5, "quillmere"))
LEAVING = ((4, "tansy_ridge"), (5, "quillmere"))


@pytest.fixture
def awkward(request: pytest.FixtureRequest, once: Once) -> Awkward:
    seed, unit = request.param
    return Awkward(once(f"awkward_{seed}", lambda folder: _build(folder, seed)), unit)


def review_of(once: Once, awkward: Awkward) -> Path:
    """Return the review of the last month, written once; test_numbers.py reads it too."""

    def write(folder: Path) -> Path:
        return render_review(awkward.store, awkward.unit, None, folder / "review.html")

    return once(f"review_{awkward.name}", write)


def others_of(once: Once, awkward: Awkward) -> dict[str, Path]:
    """Return the other kinds of page, written once; test_numbers.py reads them too."""

    def write(folder: Path) -> dict[str, Path]:
        return {
            "quality": render_quality(awkward.store, awkward.unit, folder / "quality.html"),
            "fair": render_fair_care(awkward.store, awkward.unit, folder / "fair.html"),
            "change": render_change(awkward.store, awkward.unit, folder / "change.html"),
        }

    return once(f"others_{awkward.name}", write)


@pytest.mark.build
@pytest.mark.slow
@pytest.mark.parametrize("awkward", REVIEWS, indirect=True)
def test_a_review_of_the_last_month_is_written(
    awkward: Awkward, once: Once, tmp_path: Path
) -> None:
    page = review_of(once, awkward).read_text(encoding="utf-8")
    assert "undefined" not in re.sub(r"<script\b.*?</script>", "", page, flags=re.DOTALL)
    assert write_worklist(awkward.store, awkward.unit, None, tmp_path / "worklist.csv") > 0


@pytest.mark.build
@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.parametrize("awkward", REVIEWS, indirect=True)
def test_a_meeting_sheet_takes_two_sheets_of_paper(
    awkward: Awkward, tmp_path: Path, browser: Any
) -> None:
    page = sheet_of(awkward.store, awkward.unit, tmp_path)
    open_page(browser, page, 1280)
    assert {one["drawn"] for one in browser.execute_script(CHARTS)} <= {"yes"}
    assert len(printed(browser, "A4").pages) <= 2


@pytest.mark.build
@pytest.mark.slow
@pytest.mark.parametrize("awkward", OTHERS, indirect=True)
def test_the_other_pages_are_written(awkward: Awkward, once: Once) -> None:
    for page in others_of(once, awkward).values():
        assert "About these figures" in page.read_text(encoding="utf-8")


@pytest.mark.build
@pytest.mark.slow
@pytest.mark.parametrize("awkward", LEAVING, indirect=True)
def test_files_and_a_release_are_written(awkward: Awkward, tmp_path: Path) -> None:
    wanted = Wanted(awkward.store, awkward.unit, None, tmp_path / "o", only=("tables", "data"))
    assert write_files(plan(wanted))
    released = release_page(prepare_release(awkward.store, awkward.unit), "2026-01-01 00:00 UTC")
    assert "About these figures" in released

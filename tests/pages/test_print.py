"""The page on paper: what a manager takes to a meeting, on few sheets, with nothing cut."""

import re
import unicodedata
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from pipelines.pages.review.read import read_review

from .conftest import EVERY_PAGE
from .make_store import UNIT
from .visit import SHEETS, Visit, open_page, printed

pytestmark = pytest.mark.browser
RECORD = re.compile(r"FH0\d{4}")  # a key of the fabricated store


@pytest.fixture
def paper(browser: Any) -> Iterator[Any]:
    """The browser, set back to its screen afterwards."""
    yield browser
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def text_of(pdf: PdfReader) -> str:
    """Return the words of all sheets; a font's joined letters are taken apart."""
    text = " ".join(page.extract_text() for page in pdf.pages)
    return " ".join(unicodedata.normalize("NFKC", text).split())


@pytest.mark.parametrize("page_name", EVERY_PAGE)
@pytest.mark.parametrize("sheet", SHEETS)
def test_nothing_is_cut_at_the_edge_of_the_sheet(
    visited: Callable[[str, int], Visit], page_name: str, sheet: str
) -> None:
    paper = visited(page_name, 1280).sheets[sheet]
    assert paper.over_px <= 0
    assert paper.outside == []


def test_paper_has_what_needs_attention_and_says_what_it_leaves_out(
    paper: Any, fake_page: Path, fake_store: Path
) -> None:
    open_page(paper, fake_page, 1280)
    paper.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    measures = read_review(fake_store, UNIT).measures
    speaks = (measures["rank"] == 0) | measures["change"].isin(["better", "worse", "moved"])
    wanted = [f"m-{name}" for name in measures.loc[speaks, "measure_id"]]
    seen = paper.execute_script(
        """
        const heads = [...document.querySelectorAll('.choose + .panels h3')];
        return heads.filter((one) => one.getClientRects().length).map((one) => one.id);
        """
    )
    assert "m-vitamin_k" in wanted, "it fell in the fabricated month"
    assert "m-first_stool" not in wanted
    assert seen == wanted
    text = text_of(printed(paper, "A4"))
    assert "On paper stands what is open on the screen" in text
    assert "charts of measures where nothing needs attention" in text
    assert "list of single records" in text
    assert "The measures that the unit leads with" in text or "Measures with a target" in text
    assert "First stool within 24 hours" not in text, "all measures lie behind a press"
    assert not RECORD.search(text), "no record key lies about in a meeting room"
    told = " ".join(text.split())
    assert re.search(r"\d+ of 62 records of April 2026 ha(s|ve) something", told)


def test_a_block_is_printed_where_the_reader_opened_it(paper: Any, fake_page: Path) -> None:
    open_page(paper, fake_page, 1280)
    closed = text_of(printed(paper, "A4"))
    assert "Definition and months in figures" not in closed
    opener = "document.getElementById(arguments[0]).closest('.panel')"
    paper.execute_script(f"{opener}.querySelector('details').open = true", "m-first_stool")
    paper.execute_script("document.querySelector('.rest').open = true")
    opened = text_of(printed(paper, "A4"))
    assert opened.count("Definition and months in figures") == 1
    assert "The months behind the chart" in opened
    assert RECORD.search(opened)
    assert "The months behind the chart" not in closed


def test_measures_that_were_chosen_are_printed(paper: Any, fake_page: Path) -> None:
    open_page(paper, fake_page, 1280)
    paper.get(f"{fake_page.as_uri()}#over-time?contains=stool")
    paper.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    seen = "return Boolean(document.getElementById(arguments[0]).getClientRects().length)"
    assert paper.execute_script(seen, "m-first_stool")
    assert not paper.execute_script(seen, "m-vitamin_k")
    assert "1 of 15 measures shown" in text_of(printed(paper, "A4"))

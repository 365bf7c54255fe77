"""A page as an object: one list of sections gives links, headings, places and charts."""

import dataclasses
import re
import sys
from pathlib import Path
from typing import Any

import altair as alt
import nbformat
import pytest
from altair.utils import schemapi
from IPython.core.interactiveshell import InteractiveShell

from pipelines.base.errors import LanugoError, StoreError
from pipelines.drawing import over_months
from pipelines.files.charts import charts_of
from pipelines.pages.change.page import CHANGE
from pipelines.pages.fair.page import FAIR
from pipelines.pages.quality.page import QUALITY
from pipelines.pages.review import page as review_page
from pipelines.pages.review.page import REVIEW, open_review, write_review
from pipelines.pages.review.read import ReviewData
from pipelines.pages.shell.cells import run
from pipelines.pages.shell.markup import panel_head
from pipelines.pages.shell.page import Opened, Page, Section, panels
from pipelines.pages.shell.render import NOTEBOOKS
from pipelines.pages.shell.show import show

from .make_store import UNIT

PAGES = {page.notebook: page for page in (REVIEW, QUALITY, FAIR, CHANGE)}
HEADING = re.compile(r'<h2 id="([^"]+)">(.*?)</h2>')
LINK = re.compile(r'<a href="#([^"]+)">([^<]*)</a>')


def show_one(data: ReviewData) -> None:
    row = data.measures.set_index("measure_id", drop=False).loc["first_temperature"].to_dict()
    series = data.series[data.series["measure_id"] == "first_temperature"]
    over = data.over_time["first_temperature"]
    show(panel_head("One measure & more", "It was drawn."), panel="open")
    show(over_months.over_months(series, row, data.changes.head(0), over))
    show(panel_head("No chart", ""), panel="close")


NEW = Section("extra", "An extra section", (panels(show_one),), link="Extra", intro="Why < it.")


@pytest.fixture
def with_extra(monkeypatch: pytest.MonkeyPatch) -> Page[ReviewData]:
    """The review with a section more, second in its list; its notebook knows nothing of it."""
    first, *others = REVIEW.sections
    page = dataclasses.replace(REVIEW, sections=(first, NEW, *others))
    monkeypatch.setattr(review_page, "REVIEW", page)
    return page


def test_a_section_is_added_by_its_entry_in_the_list_alone(
    with_extra: Page[ReviewData], fake_store: Path, fake_page: Path, tmp_path: Path
) -> None:
    opened = open_review(fake_store, UNIT)
    assert opened.page is with_extra
    out = write_review(opened, tmp_path / "page.html", lambda _: None)
    text, before = out.read_text(encoding="utf-8"), fake_page.read_text(encoding="utf-8")
    nav = re.findall("<nav.*?</nav>", text, re.S)[0]
    assert LINK.findall(nav)[1] == ("extra", "Extra")
    places = [place for place, _ in HEADING.findall(text)]
    assert places[:3] == ["measures", "extra", "signals"], "the list's order, not the notebook's"
    assert "Why &lt; it." in text
    added = text.split('<h2 id="extra">')[1].split('<h2 id="signals">')[0]
    assert re.search(r'<div class="panels">\s*<section class="panel">', added)
    assert added.count('<div class="drawing">') == 1
    assert text.count('<div class="drawing">') == before.count('<div class="drawing">') + 1
    (found,) = [one for one in charts_of(opened.drawn) if one.title == "One measure & more"]
    assert (found.name, found.finding) == ("one_measure_more", "It was drawn.")
    assert next(one.section for one in opened.drawn) == "extra"


@pytest.mark.parametrize("page", PAGES.values(), ids=PAGES)
def test_the_list_names_each_place_once_and_about_comes_last(page: Page[Any]) -> None:
    names = [one.id for one in page.sections]
    assert len(set(names)) == len(names) > 5
    assert names[-1] == "about"
    assert all(re.fullmatch("[a-z-]+", name) for name in names)


@pytest.mark.parametrize("page", PAGES.values(), ids=PAGES)
def test_a_notebook_names_sections_of_its_page_in_its_order(page: Page[Any]) -> None:
    source = (NOTEBOOKS / page.notebook).read_text(encoding="utf-8")
    named = re.findall(r'page\.section\(\\"([a-z-]+)\\"\)', source)
    assert named == [one.id for one in page.sections][: len(named)]
    assert "page.rest()" in source


def test_links_and_headings_are_those_of_the_list(fake_page: Path) -> None:
    text = fake_page.read_text(encoding="utf-8")
    headings = dict(HEADING.findall(text))
    assert headings == {one.id: one.heading for one in REVIEW.sections}
    nav = re.findall("<nav.*?</nav>", text, re.S)[0]
    assert [place for place, _ in LINK.findall(nav)] == [
        one.id for one in REVIEW.sections if one.link is not None
    ]


def made(*sections: Section) -> Opened[dict[str, int]]:
    page = Page[dict[str, int]]("none.ipynb", lambda _: pytest.fail("no head"), sections)
    return Opened(page, Path("none"), {"a": 1})


def test_a_section_that_is_not_there_is_named() -> None:
    with pytest.raises(LanugoError, match="Did you mean 'records'"):
        made(Section("records", "Records", ())).section("record")


def test_what_two_sections_read_is_read_once_and_the_rest_shows_what_was_not_asked() -> None:
    reads, shown = list[Path](), list[Any]()

    def read(store: Path, data: dict[str, int]) -> int:
        reads.append(store)
        return data["a"] + 1

    opened = made(
        Section("one", "One", (shown.append,), read=read),
        Section("two", "Two", (shown.append,)),
        Section("three", "Three", (shown.append,), read=read),
    )
    asked = nbformat.v4.new_notebook(
        cells=[
            nbformat.v4.new_code_cell(source)
            for source in ('page.section("two")', "page.rest()", "page.rest()")
        ]
    )
    run(asked, "asked", {"page": opened})
    assert shown == [{"a": 1}, 2, 2, 2, 2]
    assert reads == [Path("none")]


def cells(*sources: str) -> Any:
    return nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(one) for one in sources])


def test_nothing_of_a_run_is_left_in_the_process() -> None:
    """The next page of the process finds no name, setting, hook or shell of the last."""
    before = (
        sys.displayhook, sys.excepthook, sys.modules["__main__"], list(sys.path), alt.theme.active,
        alt.renderers.active, alt.data_transformers.active, schemapi.DEBUG_MODE,
        InteractiveShell.initialized(),
    )  # fmt: skip
    first = "from pipelines.pages.shell import show as panels\npanels.draw_in_page()\nleft = 1"
    done = run(cells(first, "left + 1", "left;"), "first")
    assert done.cells[2].outputs == []
    assert done.cells[1].outputs[0]["data"]["text/plain"] == "2"
    after = (
        sys.displayhook, sys.excepthook, sys.modules["__main__"], list(sys.path), alt.theme.active,
        alt.renderers.active, alt.data_transformers.active, schemapi.DEBUG_MODE,
        InteractiveShell.initialized(),
    )  # fmt: skip
    assert before == after
    with pytest.raises(StoreError, match="second: cell 1 stopped with NameError"):
        run(cells("left"), "second")


def test_a_shell_that_is_there_already_stays(capsys: pytest.CaptureFixture[str]) -> None:
    """As where a page is written from within a notebook."""
    own = InteractiveShell.instance()
    try:
        run(cells("print('to nobody')", "1 / 1"), "inner")
        assert InteractiveShell.instance() is own
    finally:
        InteractiveShell.clear_instance()
    assert "to nobody" not in capsys.readouterr().out


def test_a_slip_in_a_cell_is_named_and_nothing_is_printed(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(StoreError, match="one: cell 2 stopped with SyntaxError"):
        run(cells("1", "if :"), "one")
    with pytest.raises(StoreError, match="two: cell 1 stopped with KeyError"):
        run(cells("{}['FH00001']"), "two")
    said = capsys.readouterr()
    assert said.out == said.err == ""

"""Every page of a store in one folder: each leads to the others, and no link leads nowhere."""

import html
import re
from pathlib import Path

import pytest

from pipelines import verbs
from pipelines.base.errors import LanugoError, StoreError
from pipelines.pages.change.read import read_log
from pipelines.pages.index.page import write_pages
from pipelines.pages.index.read import INDEX, KINDS, planned, units_of
from pipelines.pages.review.page import open_review
from tests.once import Once

from .make_store import UNIT

LINK = re.compile(r'<a href="([^"#]+)"')


@pytest.fixture(scope="module")
def folder(once: Once, fake_change_store: Path) -> Path:
    """All pages of a unit with one change, whose store holds little else."""

    def write(out: Path) -> Path:
        found = planned(fake_change_store, [UNIT])
        write_pages(fake_change_store, found, out, verbs._workers(), lambda _: None)
        return out

    return once("index", write)


def _text(page: Path) -> str:
    return html.unescape(re.sub(r"<(style|script).*?</\1>|<[^>]+>", " ", page.read_text("utf-8")))


@pytest.mark.build
def test_every_link_of_every_page_leads_to_a_page_that_is_there(
    folder: Path, fake_change_store: Path
) -> None:
    pages = sorted(folder.glob("*.html"))
    assert len(pages) == len(planned(fake_change_store, [UNIT])) + 1 > len(KINDS)
    names = {page.name for page in pages}
    for page in pages:
        found = set(LINK.findall(page.read_text("utf-8")))
        assert found == names - {page.name}, page.name


@pytest.mark.build
def test_the_index_says_what_each_page_answers_and_the_review_says(
    folder: Path, fake_change_store: Path
) -> None:
    text = " ".join(_text(folder / INDEX).split())
    for kind in KINDS.values():
        assert kind.words in text
    assert units_of(fake_change_store)[UNIT] in text
    review = open_review(fake_change_store, UNIT)
    head = review.page.head(review.data)
    assert head.lines
    for line in head.lines:
        assert " ".join(line.fact.split()) in text


@pytest.mark.build
def test_a_page_that_cannot_be_had_says_why_in_its_place(
    folder: Path, fake_change_store: Path, tmp_path: Path
) -> None:
    lost = planned(fake_change_store, [UNIT], "1999-01", kinds=["review"])
    index, page = write_pages(fake_change_store, lost, tmp_path, verbs._workers(), lambda _: None)
    for one in (index, page):
        assert "month '1999-01': the store holds births from" in _text(one)
    assert LINK.findall(page.read_text("utf-8")) == [INDEX]


@pytest.mark.build
def test_a_study_is_planned_for_each_change_of_the_log(fake_change_store: Path) -> None:
    found = planned(fake_change_store, [UNIT], kinds=["change"])
    log = read_log(fake_change_store, UNIT)
    assert [one.which for one in found] == list(log["change_id"])
    assert all(title in one.words for one, title in zip(found, log["title"], strict=True))


@pytest.mark.build
def test_a_unit_that_is_not_there_is_named(fake_change_store: Path, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="fern_holow"):
        planned(fake_change_store, ["fern_holow"])
    with pytest.raises(LanugoError, match="no page"):
        write_pages(fake_change_store, [], tmp_path, verbs._workers(), lambda _: None)


@pytest.mark.build
def test_a_dry_run_writes_nothing(
    fake_change_store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from pipelines.cli import main

    out = tmp_path / "pages"
    assert main(["pages", "--store", str(fake_change_store), "--out", str(out), "--dry-run"]) == 0
    assert f"review_{UNIT}.html" in capsys.readouterr().out and not out.exists()

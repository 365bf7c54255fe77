"""The written file: nothing leaves it, nothing of an export becomes markup, nothing is cut."""

import re
from html.parser import HTMLParser
from pathlib import Path

import duckdb
import nbformat
import pytest

from pipelines.base.errors import StoreError
from pipelines.base.store_file import STORE_VERSION
from pipelines.pages.quality import page as quality_page
from pipelines.pages.review import page as review_page
from pipelines.pages.shell import render
from pipelines.words.caution import CLOSING

from .make_store import HOSTILE, UNIT

LINKS = {"src", "href", "srcset", "action", "data", "poster"}
MOST_BYTES = 4_000_000


class Tags(HTMLParser):
    """Collects every tag and attribute of a page, and its text outside scripts."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))


@pytest.fixture(scope="module")
def text(any_page: Path) -> str:
    return any_page.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def tags(text: str) -> list[tuple[str, dict[str, str | None]]]:
    return Tags(text).tags


def test_no_link_leaves_the_page(tags: list[tuple[str, dict[str, str | None]]]) -> None:
    links = [value for _, attrs in tags for name, value in attrs.items() if name in LINKS]
    assert links, "the page links inside itself"
    assert all((value or "").startswith("#") for value in links)
    assert not any(tag in {"link", "iframe", "object", "embed", "base"} for tag, _ in tags)


def test_every_link_inside_has_its_place(tags: list[tuple[str, dict[str, str | None]]]) -> None:
    places = {attrs.get("id") for _, attrs in tags}
    assert {attrs["href"] for tag, attrs in tags if tag == "a"} <= {f"#{one}" for one in places}


def test_text_of_an_export_is_never_markup(
    text: str, tags: list[tuple[str, dict[str, str | None]]]
) -> None:
    """The fabricated unit's title, record ids and recorded values all carry an image tag."""
    assert HOSTILE not in text
    assert text.count("&lt;img src=x") > 3
    assert not any(tag == "img" for tag, _ in tags)
    assert not any(name.startswith("on") for _, attrs in tags for name in attrs)


def test_size_and_code_hidden(text: str) -> None:
    assert len(text.encode()) < MOST_BYTES
    assert "open_review" not in text
    assert "open_quality" not in text


def test_ends_with_the_caution(text: str) -> None:
    assert CLOSING in text
    assert text.index(CLOSING) > text.index('id="about"')


def test_empty_measure_says_so(fake_page: Path) -> None:
    assert "no eligible newborns" in fake_page.read_text(encoding="utf-8")


def test_every_drawing_has_a_text(tags: list[tuple[str, dict[str, str | None]]]) -> None:
    for tag, attrs in tags:
        if tag == "svg":
            assert attrs.get("aria-hidden") == "true" or attrs.get("aria-label")
    charts = sum(attrs.get("class") == "chart" for _, attrs in tags)
    data = [attrs for _, attrs in tags if attrs.get("type") == "application/json"]
    assert charts == sum("id" not in attrs for attrs in data) > 0, "data with a name are no chart"


def test_ids_are_unique(tags: list[tuple[str, dict[str, str | None]]]) -> None:
    ids = [attrs["id"] for _, attrs in tags if "id" in attrs]
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize(
    "path", [review_page.NOTEBOOK, quality_page.NOTEBOOK], ids=lambda p: p.name
)
def test_notebook_is_thin_and_clean(path: Path) -> None:
    """No logic, no SQL, no outputs: a notebook holds imports, parameters, calls and prose."""
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    banned = re.compile(r"\b(def|class|for|while|lambda|select)\b", re.IGNORECASE)
    assert not any(banned.search(cell.source) for cell in code)
    assert not any(cell.outputs or cell.execution_count for cell in code)


def test_broken_notebook_names_the_cell_and_no_value(fake_store: Path) -> None:
    parameters = {"store": str(fake_store), "unit": UNIT, "month": "2026-04"}
    notebook = render.prepare(review_page.NOTEBOOK, parameters)
    secret = "raise ValueError('newborn FH00001')"
    notebook.cells = [*notebook.cells[:3], nbformat.v4.new_code_cell(secret)]
    with pytest.raises(StoreError, match=r"review: cell 4 stopped with ValueError") as caught:
        render.run(notebook, "review")
    assert "FH00001" not in str(caught.value)


def test_chart_that_fails_while_displayed_stops_the_page() -> None:
    """A display error raises nothing in a kernel; a page with a hole must not be written."""
    shown = (
        "from IPython.display import display\n"
        "class Broken:\n"
        "    def _repr_html_(self):\n"
        "        raise ValueError\n"
        "display(Broken())"
    )
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(shown)])
    with pytest.raises(StoreError, match="cell 1"):
        render.run(notebook, "review")


def test_store_of_another_shape_is_refused_in_words(tmp_path: Path) -> None:
    path = tmp_path / "old.duckdb"
    with duckdb.connect(str(path)) as store:
        store.execute(
            f"create table build_info as select 'store_version' as key, '{STORE_VERSION}' as value"
        )
    with pytest.raises(StoreError, match="does not fit"):
        review_page.render_review(path, UNIT, None, tmp_path / "page.html")
    assert not (tmp_path / "page.html").exists()


def test_the_browser_is_forbidden_to_fetch_or_send(every_page: Path) -> None:
    """W3C Content Security Policy: nothing by default, and no source with a host."""
    head = Tags(every_page.read_text(encoding="utf-8").split("<title>", 1)[0])
    (policy,) = [
        str(told["content"])
        for tag, told in head.tags
        if tag == "meta" and told.get("http-equiv") == "Content-Security-Policy"
    ]
    told = dict(part.split(maxsplit=1) for part in policy.split("; "))
    assert told["default-src"] == told["base-uri"] == told["form-action"] == "'none'"
    sources = " ".join(told.values()).split()
    assert set(sources) <= {"'none'", "'unsafe-inline'", "'unsafe-eval'", "data:"}

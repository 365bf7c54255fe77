"""The charts as SVG and PNG, opened again by an XML parser and by Pillow."""

import json
import re
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import duckdb
import pytest
from PIL import Image

from pipelines.drawing.theme import LIGHT
from pipelines.files.about import About
from pipelines.files.charts import SCALE, Chart, charts_of, svg_of
from pipelines.pages.review.page import open_review
from pipelines.pages.shell.render import charts_shown
from pipelines.pages.shell.show import Drawn
from tests.pages.make_store import HOSTILE, UNIT

from .conftest import CONTROL, MARKUP, RIGHT_TO_LEFT, Out

SVG = "{http://www.w3.org/2000/svg}"
# Elements and attributes by which an SVG can run or fetch something (SVG 2, chapters 13 and 15).
ACTIVE = {"script", "foreignObject", "image", "a", "use", "iframe", "animate", "set", "handler"}


@pytest.fixture(scope="module")
def measured(out: Out) -> set[str]:
    """The measures that have a rate in any month, straight from the store."""
    with duckdb.connect(str(out.store), read_only=True) as store:
        rows = store.execute("select distinct measure_id from result where rate is not null")
        return {str(row[0]) for row in rows.fetchall()}


def roots(out: Out) -> dict[str, ElementTree.Element]:
    return {
        path.stem: ElementTree.fromstring(path.read_bytes())
        for path in (out.folder / "charts").glob("*.svg")
    }


def test_every_measure_with_a_rate_has_both_files(out: Out, measured: set[str]) -> None:
    folder = out.folder / "charts"
    assert len(measured) > 10
    for measure in measured:
        assert (folder / f"{measure}.svg").is_file(), measure
        assert (folder / f"{measure}.png").is_file(), measure


def test_every_chart_of_the_page_is_a_file(out: Out) -> None:
    """Counted in the page by the boxes that the browser draws into."""
    boxes = out.page.read_text(encoding="utf-8").count('<div class="drawing">')
    folder = out.folder / "charts"
    assert len(list(folder.glob("*.svg"))) == len(list(folder.glob("*.png"))) == boxes


def test_an_svg_is_well_formed_and_can_do_nothing(out: Out) -> None:
    for name, root in roots(out).items():
        assert root.tag == f"{SVG}svg"
        for element in root.iter():
            assert element.tag.removeprefix(SVG) not in ACTIVE, name
            for key, value in element.attrib.items():
                plain = key.split("}")[-1].lower()
                assert not plain.startswith("on"), (name, key)
                assert plain != "href" and "javascript:" not in value, (name, key)
                assert "url(" not in value or value.startswith("url(#"), (name, value)


def test_an_svg_says_unit_month_and_version(out: Out) -> None:
    for root in roots(out).values():
        title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert title is not None and title.text is not None
        assert HOSTILE in title.text  # of the unit's name, as text
        assert "April 2026" in title.text and "lanugo " in title.text
        assert desc is not None and "stays inside the unit" in str(desc.text)
        seen = " ".join(words for text in root.iter(f"{SVG}text") for words in text.itertext())
        assert "April 2026" in seen


def test_hostile_titles_are_drawn_as_text(out: Out) -> None:
    drawn = {name: " ".join(root.itertext()) for name, root in roots(out).items()}
    assert MARKUP in drawn["first_feed"]
    assert RIGHT_TO_LEFT in drawn["recheck"]
    assert CONTROL not in drawn["first_stool"]
    assert CONTROL.replace("\a", "\ufffd").replace("\v", "\ufffd") in drawn["first_stool"]


def test_what_is_unknown_is_hatched_and_the_line_has_every_month(out: Out) -> None:
    root = roots(out)["first_temperature"]
    fills = [element.get("fill") for element in root.iter(f"{SVG}path")]
    assert fills.count("url(#hatch)") == 24  # one bar of the strip for each month
    assert LIGHT["unknown"] not in fills
    assert root.find(f".//{SVG}pattern[@id='hatch']") is not None


def test_a_png_is_whole_and_twice_the_size_of_its_svg(out: Out) -> None:
    sizes = {name: (root.get("width"), root.get("height")) for name, root in roots(out).items()}
    for path in (out.folder / "charts").glob("*.png"):
        with Image.open(path) as image:
            image.load()  # checks the sums of its chunks
            wide, high = (float(str(side)) * SCALE for side in sizes[path.stem])
            assert abs(image.width - wide) <= SCALE and abs(image.height - high) <= SCALE
            colours = image.convert("RGB").getcolors(1 << 24)
            assert colours is not None and len(colours) > 20  # something is drawn


def test_a_png_says_unit_month_and_version(out: Out) -> None:
    for path in (out.folder / "charts").glob("*.png"):
        with Image.open(path) as image:
            image.load()
            told = image.text  # type: ignore[attr-defined]
        assert told["Software"].startswith("lanugo ")
        assert HOSTILE in told["Description"]
        assert "April 2026" in told["Description"]


class Links(HTMLParser):
    """Every address that a page would fetch or lead to."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.scripts = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.scripts += tag == "script"
        self.found += [value or "" for key, value in attrs if key in {"src", "href", "srcset"}]


def test_the_page_is_written_too_and_its_texts_are_inert(out: Out) -> None:
    page = out.page.read_text(encoding="utf-8")
    links = Links()
    links.feed(page)
    assert all(address.startswith("#") for address in links.found)
    # each chart's, the drawing code, and the figures of other groups
    assert links.scripts == page.count('<div class="drawing">') + 2
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def test_a_chart_may_fetch_nothing(about: About) -> None:
    """Refused before anything is asked: the library's own words, not those of a failed request."""
    url = "http://127.0.0.1:9/rows.csv"  # the discard port (RFC 863), where nobody answers
    spec = {"data": {"url": url}, "mark": "point", "encoding": {"x": {"field": "a"}}}
    with pytest.raises(ValueError, match="not allowed"):
        svg_of(Chart("one", "One", "", spec), about)


def test_names_are_safe_on_every_file_system_and_none_is_lost() -> None:
    spec = {"mark": "point"}
    drawn = [
        Drawn("over-time", "Up", "", spec, "../../etc"),
        Drawn("why", "Why: this?", "", spec),
        Drawn("why", "Why: this?", "", spec),
        Drawn("why", "\N{HEBREW LETTER ALEF}", "", spec),
    ]
    names = [chart.name for chart in charts_of(drawn)]
    assert names == ["etc", "why_this", "why_this_2", "chart"]
    assert all(re.fullmatch(r"[a-z0-9_]+", name) for name in names)


def test_a_chart_is_that_of_the_page_under_the_same_words(out: Out) -> None:
    """The page written, read again by a parser of HTML: heading, finding and specification."""
    page = open_review(out.store, UNIT)
    found = charts_of(charts_shown(page))
    parser = Written()
    parser.feed(out.page.read_text(encoding="utf-8"))
    assert len(found) == len(parser.found) > 10
    for chart, (heading, finding, spec) in zip(found, parser.found, strict=True):
        assert (chart.title, chart.finding) == (heading.strip(), finding.strip())
        assert json.loads(json.dumps(chart.spec)) == json.loads(spec)
    by_name = {chart.name: chart for chart in found}
    assert by_name["first_feed"].title == MARKUP
    assert "datum.rate" in json.dumps(by_name["first_feed"].spec)
    assert by_name["first_temperature"].finding.endswith(".")


class Written(HTMLParser):
    """The specifications of a page, with the heading and the finding that stand before each."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, str, str]] = []
        self.texts = {"heading": "", "finding": "", "spec": ""}
        self.into: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in {"h2", "h3"}:
            self.texts, self.into = {"heading": "", "finding": "", "spec": ""}, "heading"
        elif tag == "p" and given.get("class") == "finding":
            self.texts["finding"], self.into = "", "finding"
        elif tag == "script" and given.get("type") == "application/json" and "id" not in given:
            self.texts["spec"], self.into = "", "spec"

    def handle_data(self, data: str) -> None:
        if self.into is not None:
            self.texts[self.into] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "script" and self.into == "spec":
            self.found.append((self.texts["heading"], self.texts["finding"], self.texts["spec"]))
        if tag in {"h2", "h3", "p", "script"}:
            self.into = None


def test_fonts_of_any_machine_do(out: Out) -> None:
    """The list of fonts ends with a general family (CSS Fonts 4), so that any viewer has one."""
    for path in Path(out.folder / "charts").glob("*.svg"):
        families = set(re.findall(r'font-family="([^"]+)"', path.read_text(encoding="utf-8")))
        assert families
        assert all(family.rstrip().endswith("sans-serif") for family in families)

"""What ``lanugo files`` makes for a meeting: sheet, text for a mail, slides; opened again."""

import re
from xml.etree import ElementTree

import pypdf
from PIL import Image

from pipelines.files.slides import HIGH_PX, SCALE, WIDE_PX
from pipelines.pages.meeting.key_charts import named
from pipelines.pages.review.read import read_review
from tests.pages.make_store import UNIT

from .conftest import Out
from .test_charts import ACTIVE, SVG

KEY = re.compile(r"FH0\d{4}")  # of the fabricated store


def test_the_sheet_is_printed_on_two_sheets(out: Out, browser: str) -> None:
    book = pypdf.PdfReader(out.meeting_pdf)
    assert len(book.pages) == 2
    assert "share not documented" in book.pages[1].extract_text()
    assert KEY.search(book.pages[1].extract_text())
    assert all("Internal." in page.extract_text() for page in book.pages)


def test_the_sheet_leads_to_the_review_beside_it(out: Out) -> None:
    assert f'href="{out.page.name}"' in out.meeting.read_text(encoding="utf-8")


def test_the_mail_names_no_record_and_where_the_pages_are(out: Out) -> None:
    text = out.mail.read_text(encoding="utf-8")
    assert not KEY.search(text)
    assert max(map(len, text.splitlines())) < 78
    assert out.page.name in text and out.meeting.name in text
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f]", text)


def test_the_slides_are_the_charts_of_the_first_lines(out: Out) -> None:
    wanted = named(read_review(out.store, UNIT))
    found = {path.stem for path in (out.folder / "slides").glob("*.png")}
    assert found == {path.stem for path in (out.folder / "slides").glob("*.svg")}
    charts = {path.stem for path in (out.folder / "charts").glob("*.svg")}
    assert found == set([name for name in wanted if name in charts][:4]) != set()


def test_a_slide_is_wide_and_says_title_and_verdict(out: Out) -> None:
    for path in (out.folder / "slides").glob("*.svg"):
        root = ElementTree.fromstring(path.read_bytes())
        assert not ACTIVE & {one.tag.removeprefix(SVG) for one in root.iter()}
        chart = ElementTree.fromstring((out.folder / "charts" / path.name).read_bytes())
        drawn = [" ".join(one.itertext()) for one in chart.iter(f"{SVG}text")]
        title, verdict, *_ = [one for one in drawn if one.strip()]
        seen = " ".join(" ".join(one.itertext()) for one in root.iter(f"{SVG}text"))
        assert title in seen or title in verdict
        assert "April 2026" in seen and "stays inside the unit" in seen
        with Image.open(path.with_suffix(".png")) as image:
            image.load()
            assert image.size == (WIDE_PX * SCALE, HIGH_PX * SCALE)
            assert image.width * 9 == image.height * 16
            colours = image.convert("RGB").getcolors(1 << 24)
            assert colours is not None and len(colours) > 20  # something is drawn


def test_a_chart_stays_on_its_slide_beneath_its_words(out: Out) -> None:
    for path in (out.folder / "slides").glob("*.svg"):
        root = ElementTree.fromstring(path.read_bytes())
        (chart,) = root.findall(f"{SVG}svg")
        x, y, wide, high = (float(str(chart.get(name))) for name in ("x", "y", "width", "height"))
        *told, foot = [float(str(one.get("y"))) for one in root.findall(f"{SVG}text")]
        assert max(told) < y < y + high < foot
        assert x >= 0 and x + wide <= WIDE_PX
        assert wide > WIDE_PX / 2

"""The released page says what the released table says, in table, chart, tooltip and words."""

import csv
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from pipelines.release.made import Release
from pipelines.release.masking import hidden_words
from pipelines.release.page import release_page
from pipelines.release.prepare import prepare_release
from pipelines.release.write import write_release
from tests.disclosure.conftest import UNIT, Loads
from tests.pages.conftest import browser
from tests.pages.visit import open_page

K = 11
MASK = hidden_words(K)
__all__ = ["browser"]


class _Page(HTMLParser):
    """Collect the charts' specifications and the rows of the tables beneath them."""

    def __init__(self) -> None:
        super().__init__()
        self.specs: list[dict[str, Any]] = []
        self.rows: list[list[str]] = []
        self._inside = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "script" and dict(attrs).get("type") == "application/json":
            self._inside = "spec"
        elif tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th") and self.rows:
            self.rows[-1].append("")
            self._inside = "cell"

    def handle_endtag(self, tag: str) -> None:
        self._inside = ""

    def handle_data(self, data: str) -> None:
        if self._inside == "spec":
            self.specs.append(json.loads(data))
        elif self._inside == "cell":
            self.rows[-1][-1] += data


@pytest.fixture(scope="module")
def release(loads: Loads) -> Release:
    return prepare_release(loads.now, UNIT)


@pytest.fixture(scope="module")
def folder(release: Release, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("page") / "release"
    write_release(release, out)
    return out


@pytest.fixture(scope="module")
def page(folder: Path) -> _Page:
    found = _Page()
    found.feed((folder / "page.html").read_text(encoding="utf-8"))
    return found


def points(spec: dict[str, Any]) -> list[dict[str, Any]]:
    # Beside the periods a chart holds the sign of an axis that does not begin at zero.
    (rows,) = [one for one in spec["datasets"].values() if one and "n of N" in one[0]]
    return list(rows)


def table(folder: Path) -> list[dict[str, str]]:
    with (folder / "results.csv").open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def test_a_chart_draws_the_shown_rates_and_nothing_of_the_hidden(
    page: _Page, folder: Path, release: Release
) -> None:
    rows = table(folder)
    titles = {row["title"] for row in rows}
    hidden = shown = 0
    for spec in page.specs:
        (title,) = [name for name in titles if spec["description"].startswith(f"{name}: ")]
        of_it = [row for row in rows if row["title"] == title and row["period_kind"] != "all"]
        assert len(points(spec)) == len(of_it)
        for point, row in zip(points(spec), of_it, strict=True):
            if row["is_hidden"] == "True":
                hidden += 1
                assert [point[name] for name in ("rate", "lower", "upper")] == [None] * 3
                assert {point[name] for name in ("n of N", "Percent", "Interval")} == {MASK}
            elif row["words"] == "":
                shown += 1
                assert point["rate"] == pytest.approx(float(row["rate"]) * 100, abs=0.06)
                met = re.sub(r"\s", "", point["n of N"].split(" of ")[0])
                assert met == row["numerator"]
    assert len(page.specs) > 10
    assert hidden > 30 and shown > 100


def test_no_count_below_the_threshold_is_read_in_words(page: _Page) -> None:
    said = [spec["description"] for spec in page.specs]
    said += [str(point["n of N"]) for spec in page.specs for point in points(spec)]
    said += [cell for row in page.rows for cell in row]
    pairs = [pair for text in said for pair in re.findall(r"(\d[\d\s]*) of (\d[\d\s]*)", text)]
    counts = [[int(re.sub(r"\D", "", one)) for one in pair] for pair in pairs]
    assert len(counts) > 300
    for met, of in counts:
        assert met == 0 or met >= K
        assert of - met == 0 or of - met >= K
    assert any(MASK in text for text in said)


def test_a_title_cannot_become_markup(release: Release) -> None:
    hostile = '<script>alert("x")</script>'
    frames = {name: frame.copy() for name, frame in release.frames.items()}
    for name in ("results", "measures"):
        frames[name]["title"] = hostile
    text = release_page(replace(release, frames=frames), "2026-01-01 00:00 UTC")
    assert hostile not in text
    assert "&lt;script&gt;alert(" in text


@pytest.mark.browser
def test_it_is_drawn_without_a_network_and_fits_a_phone(browser: Any, folder: Path) -> None:
    for width in (1280, 390):
        browser.get_log("browser")
        open_page(browser, folder / "page.html", width)
        drawn, charts, over = browser.execute_script(
            "return [document.querySelectorAll('.chart svg.marks').length,"
            "document.querySelectorAll('.chart').length,"
            "document.documentElement.scrollWidth - document.documentElement.clientWidth]"
        )
        assert drawn == charts > 10
        assert over <= 0
        assert browser.get_log("browser") == []

"""A rendered page of the fabricated store, and a real browser to open it in."""

import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

import nbformat
import pytest

from pipelines.pages.change.page import render_change
from pipelines.pages.fair.page import render_fair_care
from pipelines.pages.meeting.page import write_meeting
from pipelines.pages.quality.page import render_quality
from pipelines.pages.review.page import open_review, render_review
from pipelines.pages.shell import render as shell_render
from pipelines.release.page import release_page
from pipelines.release.prepare import prepare_release
from tests.conftest import Built
from tests.once import Once

from .make_change import make_change_store
from .make_fair import make_fair_store
from .make_store import UNIT, make_store
from .visit import Visit, look

CHROMIUM, DRIVER = Path("/usr/bin/chromium"), Path("/usr/bin/chromedriver")
SWITCHES = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
OFF = "MAP * ~NOTFOUND"  # the network is off
OWN_UNIT = "quillmere"  # of the synthetic stores


def written(once: Once, name: str, render: Callable[[Path], Path]) -> Path:
    """Return a page that is written once per run; its notebook lies beside it, as it was run."""

    def write(folder: Path) -> Path:
        with mock.patch.object(shell_render, "to_html", wraps=shell_render.to_html) as to_html:
            page = render(folder / "page.html")
        nbformat.write(to_html.call_args.args[0], notebook_of(page))
        return page

    return once(name, write)


def notebook_of(page: Path) -> Path:
    return page.with_suffix(".ipynb")


@pytest.fixture(scope="session")
def fake_store(once: Once) -> Path:
    return once("fake_store", lambda folder: make_store(folder / "fake.duckdb"))


@pytest.fixture(scope="session")
def fake_page(once: Once, fake_store: Path) -> Path:
    return written(once, "fake_page", lambda out: render_review(fake_store, UNIT, None, out))


def sheet_of(store: Path, unit: str, folder: Path) -> Path:
    """Write the meeting sheet of a store's last month; no notebook makes it."""
    return write_meeting(open_review(store, unit), folder / "page.html", lambda _: None)


@pytest.fixture(scope="session")
def fake_meeting(once: Once, fake_store: Path) -> Path:
    return once("fake_meeting", lambda folder: sheet_of(fake_store, UNIT, folder))


@pytest.fixture(scope="session")
def fake_quality(once: Once, fake_store: Path) -> Path:
    return written(once, "fake_quality", lambda out: render_quality(fake_store, UNIT, out))


@pytest.fixture(scope="session")
def fake_fair_store(once: Once) -> Path:
    return once("fake_fair_store", lambda folder: make_fair_store(folder / "fair.duckdb"))


@pytest.fixture(scope="session")
def fake_fair(once: Once, fake_fair_store: Path) -> Path:
    return written(once, "fake_fair", lambda out: render_fair_care(fake_fair_store, UNIT, out))


@pytest.fixture(scope="session")
def fake_change_store(once: Once) -> Path:
    return once("fake_change_store", lambda folder: make_change_store(folder / "change.duckdb"))


@pytest.fixture(scope="session")
def fake_change(once: Once, fake_change_store: Path) -> Path:
    return written(once, "fake_change", lambda out: render_change(fake_change_store, UNIT, out))


@pytest.fixture(scope="session")
def released(once: Once, clean: Built) -> Path:
    def write(folder: Path) -> Path:
        out = folder / "released.html"
        release = prepare_release(clean.store, OWN_UNIT)
        out.write_text(release_page(release, "2026-01-01 00:00 UTC"), encoding="utf-8")
        return out

    return once("released", write)


@pytest.fixture(scope="session")
def change_study(once: Once, clean: Built) -> Path:
    return written(once, "change_study", lambda out: render_change(clean.store, OWN_UNIT, out))


# The pages of a store with every measure of the project.


@pytest.fixture(scope="session")
def whole_review(once: Once, clean: Built) -> Path:
    return written(
        once, "whole_review", lambda out: render_review(clean.store, OWN_UNIT, None, out)
    )


@pytest.fixture(scope="session")
def whole_meeting(once: Once, clean: Built) -> Path:
    return once("whole_meeting", lambda folder: sheet_of(clean.store, OWN_UNIT, folder))


@pytest.fixture(scope="session")
def whole_quality(once: Once, clean: Built) -> Path:
    return written(once, "whole_quality", lambda out: render_quality(clean.store, OWN_UNIT, out))


@pytest.fixture(scope="session")
def whole_fair(once: Once, clean: Built) -> Path:
    return written(once, "whole_fair", lambda out: render_fair_care(clean.store, OWN_UNIT, out))


# Pages of a store with many planted faults.


@pytest.fixture(scope="session")
def messy_review(once: Once, synthetic: Built) -> Path:
    return written(
        once, "messy_review", lambda out: render_review(synthetic.store, OWN_UNIT, None, out)
    )


@pytest.fixture(scope="session")
def messy_change(once: Once, synthetic: Built) -> Path:
    return written(once, "messy_change", lambda out: render_change(synthetic.store, OWN_UNIT, out))


# Every kind of page: a new kind needs a fixture that gives its file, and its name here.
EVERY_PAGE = (
    "fake_page", "fake_meeting", "fake_quality", "fake_fair", "released", "change_study",
)  # fmt: skip


@pytest.fixture(scope="session")
def visited(request: pytest.FixtureRequest, once: Once) -> Callable[[str, int], Visit]:
    """What a page showed at a width, by the name of its fixture; each is visited once a run."""

    def visit(page_name: str, width: int) -> Visit:
        def take(_: Path) -> Visit:
            page = request.getfixturevalue(page_name)
            with_axe = page_name in EVERY_PAGE
            return look(request.getfixturevalue("browser"), page, width, with_axe)

        return once(f"visit_{page_name}_{width}", take)

    return visit


@pytest.fixture(scope="session", params=EVERY_PAGE)
def every_page(request: pytest.FixtureRequest) -> Path:
    """Each kind of page in turn, for what must hold in a browser whatever a page says."""
    page: Path = request.getfixturevalue(request.param)
    return page


@pytest.fixture(scope="session", params=["review", "quality"])
def any_page(request: pytest.FixtureRequest) -> Path:
    """Each page in turn, for what must hold of every page."""
    name = "fake_page" if request.param == "review" else "fake_quality"
    page: Path = request.getfixturevalue(name)
    return page


def missing(reason: str) -> None:
    """Skip the test with its reason, or fail it where CI=true: there everything must be run."""
    if os.environ.get("CI") == "true":
        pytest.fail(reason)
    pytest.skip(reason)


@contextmanager
def chromium(resolver: str = OFF) -> Iterator[Any]:
    """Start a headless Chromium; missing, the test is skipped, or fails where CI=true."""
    if not (CHROMIUM.is_file() and DRIVER.is_file()):
        missing(f"{CHROMIUM} and {DRIVER} are needed (Debian: chromium, chromium-driver)")
    from selenium import webdriver
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    with tempfile.TemporaryDirectory(prefix="lanugo-browser-") as profile:
        options = Options()
        options.binary_location = str(CHROMIUM)
        for switch in (*SWITCHES, f"--host-resolver-rules={resolver}"):
            options.add_argument(switch)
        options.add_argument(f"--user-data-dir={profile}")
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        driver = webdriver.Chrome(options=options, service=Service(str(DRIVER)))
        try:
            yield driver
        finally:
            driver.quit()


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    with chromium() as driver:
        yield driver

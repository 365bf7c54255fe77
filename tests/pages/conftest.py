"""A rendered page of the fabricated store, and a real browser to open it in."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from pipelines.pages.change.page import render_change
from pipelines.pages.fair.page import render_fair_care
from pipelines.pages.quality.page import render_quality
from pipelines.pages.review.page import render_review
from pipelines.release.page import release_page
from pipelines.release.prepare import prepare_release
from tests.conftest import Built

from .make_fair import make_fair_store
from .make_store import UNIT, make_store

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


@pytest.fixture(scope="session")
def fake_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_store(tmp_path_factory.mktemp("store") / "fake.duckdb")


@pytest.fixture(scope="session")
def fake_page(fake_store: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("page") / "review.html"
    return render_review(fake_store, UNIT, None, out)


@pytest.fixture(scope="session")
def fake_quality(fake_store: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("quality") / "quality.html"
    return render_quality(fake_store, UNIT, out)


@pytest.fixture(scope="session")
def fake_fair(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("fair")
    store = make_fair_store(folder / "fair.duckdb")
    return render_fair_care(store, UNIT, folder / "fair.html")


@pytest.fixture(scope="session")
def released(clean: Built, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("released") / "released.html"
    release = prepare_release(clean.store, "quillmere")
    out.write_text(release_page(release, "2026-01-01 00:00 UTC"), encoding="utf-8")
    return out


@pytest.fixture(scope="session")
def change_study(clean: Built, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("change") / "change.html"
    return render_change(clean.store, "quillmere", out)


# Every kind of page: a new kind needs a fixture that gives its file, and its name here.
EVERY_PAGE = ("fake_page", "fake_quality", "fake_fair", "released", "change_study")


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

"""A rendered page of the fabricated store, and a real browser to open it in."""

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from pipelines.pages import render_quality, render_review

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
    "--host-resolver-rules=MAP * ~NOTFOUND",  # the network is off
)


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


@pytest.fixture(scope="session", params=["review", "quality"])
def any_page(request: pytest.FixtureRequest) -> Path:
    """Each page in turn, for what must hold of every page."""
    name = "fake_page" if request.param == "review" else "fake_quality"
    page: Path = request.getfixturevalue(name)
    return page


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A headless Chromium; missing, the test is skipped, or fails where CI=true."""
    if not (CHROMIUM.is_file() and DRIVER.is_file()):
        reason = f"{CHROMIUM} and {DRIVER} are needed (Debian: chromium, chromium-driver)"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    from selenium import webdriver
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    with tempfile.TemporaryDirectory(prefix="lanugo-browser-") as profile:
        options = Options()
        options.binary_location = str(CHROMIUM)
        for switch in (*SWITCHES, f"--user-data-dir={profile}"):
            options.add_argument(switch)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        driver = webdriver.Chrome(options=options, service=Service(str(DRIVER)))
        yield driver
        driver.quit()

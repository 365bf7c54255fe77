"""Every notebook in JupyterLab itself, as a reader runs it: opened, run by the menu, looked at.

The server listens on this machine alone; the browser can reach nothing else.
"""

import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psutil
import pytest
from selenium.common.exceptions import (
    ElementNotInteractableException,
    StaleElementReferenceException,
)
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

from pipelines.pages.shell.render import ROOT
from tests.conftest import Built
from tests.pages.conftest import chromium
from tests.pages.test_notebooks import OF_A_STORE

pytestmark = [pytest.mark.browser, pytest.mark.slow]
HERE = "127.0.0.1"
NOTEBOOKS = sorted(path.name for path in (ROOT / "notebooks").glob("*.ipynb"))
WITHOUT_CHARTS = {"extend_measures.ipynb"}
START = "start.ipynb"
SECONDS = 400  # how long to wait for a busy machine; not a bound
SECONDS_TO_BEGIN, TRIES = 40, 3  # a reader who sees nothing happen chooses the menu again
# The news and update check would ask the network.
PAGE_CONFIG = {"disabledExtensions": {"@jupyterlab/apputils-extension:announcements": True}}
# Every cell stays in the page, so that everything can be counted.
TRACKER = {"windowingMode": "none"}
# How an output of the error stream, or of an error, is marked in the page.
WRONG = ",".join(
    f'.jp-OutputArea-output[data-mime-type="application/vnd.jupyter.{kind}"]'
    for kind in ("error", "stderr")
)


@dataclass(frozen=True)
class Lab:
    """A running server."""

    port: int
    token: str
    process: subprocess.Popen[bytes]

    def ask(self, path: str, method: str = "GET") -> bytes:
        request = urllib.request.Request(
            f"http://{HERE}:{self.port}/{path}",
            method=method,
            headers={"Authorization": f"token {self.token}"},
        )
        with urllib.request.urlopen(request, timeout=10) as answer:
            return bytes(answer.read())

    def stop_kernels(self) -> None:
        for kernel in json.loads(self.ask("api/kernels")):
            self.ask(f"api/kernels/{kernel['id']}", "DELETE")


def _free_port() -> int:
    with socket.socket() as one:
        one.bind((HERE, 0))
        return int(one.getsockname()[1])


def _write(path: Path, what: object) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(what), encoding="utf-8")


def _start(root: Path, home: Path) -> Lab:
    """Start a server with a configuration of its own; ``root`` is what its reader sees."""
    port, token = _free_port(), secrets.token_hex(16)
    _write(home / "config" / "labconfig" / "page_config.json", PAGE_CONFIG)
    tracker = "@jupyterlab/notebook-extension/tracker.jupyterlab-settings"
    _write(home / "settings" / tracker, TRACKER)
    folders = {
        "JUPYTER_CONFIG_DIR": "config",
        "JUPYTER_DATA_DIR": "data",
        "JUPYTER_RUNTIME_DIR": "runtime",
        "JUPYTERLAB_SETTINGS_DIR": "settings",
        "JUPYTERLAB_WORKSPACES_DIR": "workspaces",
        "IPYTHONDIR": "ipython",
    }
    places = {name: str(home / folder) for name, folder in folders.items()}
    options = (
        f"--ServerApp.ip={HERE}",
        f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0",
        f"--ServerApp.root_dir={root}",
        "--ServerApp.allow_root=True",
        f"--IdentityProvider.token={token}",
        "--LabApp.news_url=None",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        "--LabApp.extension_manager=readonly",
        "--no-browser",
    )
    with (home / "log").open("wb") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "jupyterlab", *options],
            env={**os.environ, **places, "PYTHONPATH": str(ROOT)},
            stdout=log,
            stderr=subprocess.STDOUT,
        )
    return Lab(port, token, process)


@pytest.fixture(scope="module")
def lab(clean: Built, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    """A server over a folder that is laid out as a clone in which the demo was run."""
    root, home = tmp_path_factory.mktemp("clone"), tmp_path_factory.mktemp("home")
    (root / "notebooks").mkdir()
    for name in NOTEBOOKS:
        shutil.copy(ROOT / "notebooks" / name, root / "notebooks" / name)
    (root / "demo").mkdir()
    shutil.copy(clean.store, root / "demo" / "lanugo.duckdb")
    server = _start(root, home)
    end = time.monotonic() + SECONDS
    while not _answers(server):
        assert server.process.poll() is None, (home / "log").read_text()
        assert time.monotonic() < end, (home / "log").read_text()
        time.sleep(0.3)
    yield server
    server.stop_kernels()
    server.process.terminate()
    server.process.wait(30)


def _answers(server: Lab) -> bool:
    try:
        return bool(server.ask("api"))
    except OSError:
        return False


@pytest.fixture(scope="module")
def screen() -> Iterator[Any]:
    """A browser that finds this machine and nothing else."""
    with chromium(f"MAP * ~NOTFOUND, EXCLUDE {HERE}") as driver:
        driver.set_window_size(1400, 1000)
        yield driver


def wait_for(browser: Any, what: str, seconds: float = SECONDS) -> Any:
    end = time.monotonic() + seconds
    while not (found := browser.execute_script(f"return {what}")):
        assert time.monotonic() < end, f"waited {seconds} s for {what}"
        time.sleep(0.2)
    return found


def open_notebook(browser: Any, lab: Lab, name: str) -> None:
    browser.get(f"http://{HERE}:{lab.port}/lab/tree/notebooks/{name}?reset&token={lab.token}")
    wait_for(browser, "document.querySelector('.jp-Notebook .jp-CodeCell')")
    wait_for(browser, "document.querySelector('.jp-Notebook-ExecutionIndicator[data-status=idle]')")


PROMPTS = "[...document.querySelectorAll('.jp-CodeCell .jp-InputPrompt')]"


def _label(menu: str, label: str) -> str:
    return f"[...document.querySelectorAll('{menu}')].find((one) => one.textContent === '{label}')"


def _choose_run_all(browser: Any) -> None:
    """Open the menu and choose; on a busy machine it may close again before it is read."""
    end = time.monotonic() + SECONDS
    while True:
        bar = wait_for(browser, _label(".lm-MenuBar-itemLabel", "Run"))
        ActionChains(browser).send_keys(Keys.ESCAPE).click(bar).perform()
        try:
            entry = wait_for(browser, _label(".lm-Menu-itemLabel", "Run All Cells"), 5)
            ActionChains(browser).click(entry).perform()
            return
        except (AssertionError, StaleElementReferenceException, ElementNotInteractableException):
            assert time.monotonic() < end, f"no menu that stays open in {SECONDS} s"


def _begins(browser: Any) -> bool:
    """Return whether a cell begins to run; on a busy machine a menu may close unheard."""
    end = time.monotonic() + SECONDS_TO_BEGIN
    has_begun = f"return {PROMPTS}.some((one) => /\\[[*\\d]/.test(one.textContent))"
    while time.monotonic() < end:
        if browser.execute_script(has_begun):
            return True
        time.sleep(0.2)
    return False


def run_all(browser: Any) -> None:
    """Run every cell by the menu, and wait until none is waiting or one has stopped."""
    for _ in range(TRIES):
        _choose_run_all(browser)
        if _begins(browser):
            break
    are_done = f"{PROMPTS}.every((one) => /^\\[\\d+\\]:$/.test(one.textContent))"
    has_stopped = f"document.querySelector({json.dumps(WRONG)})"
    wait_for(browser, f"{are_done} || {has_stopped}")


def errors(browser: Any) -> list[str]:
    """Return the texts of errors and warnings among the outputs."""
    found = "[...document.querySelectorAll(arguments[0])].map((one) => one.textContent)"
    return list(browser.execute_script(f"return {found}", WRONG))


def cells_with_output(browser: Any) -> int:
    cells = "[...document.querySelectorAll('.jp-CodeCell')]"
    shown = "one.querySelector('.jp-OutputArea-child')"
    return int(browser.execute_script(f"return {cells}.filter((one) => {shown}).length"))


def charts(browser: Any) -> tuple[int, int]:
    """Return the number of charts in the outputs, and of those that are drawn."""
    box = "[class*=jp-RenderedVegaCommon]"
    both = browser.execute_script(
        f"const all = [...document.querySelectorAll('{box}')];"
        "return [all.length, all.filter((one) => one.querySelector('svg.marks path')).length]"
    )
    return both[0], both[1]


def asked(browser: Any) -> set[str]:
    """Return the hosts that the browser has asked since this was last called."""
    hosts = set()
    for entry in browser.get_log("performance"):
        event = json.loads(entry["message"])["message"]
        if event["method"] == "Network.requestWillBeSent":
            hosts.add(urlsplit(event["params"]["request"]["url"]).hostname)
        elif event["method"] == "Network.webSocketCreated":
            hosts.add(urlsplit(event["params"]["url"]).hostname)
    return {host for host in hosts if host}


def spoken_to(server: Lab) -> set[str]:
    """Return the addresses to which the server and its kernels hold a connection."""
    process = psutil.Process(server.process.pid)
    lines = [
        line
        for one in (process, *process.children(recursive=True))
        for line in one.net_connections(kind="inet")
    ]
    return {line.raddr.ip for line in lines if line.raddr}


def hold_to_run(browser: Any, lab: Lab, name: str) -> None:
    """Open a notebook, run it to its end, and hold it to what every notebook must do."""
    browser.get_log("performance")
    open_notebook(browser, lab, name)
    run_all(browser)
    assert errors(browser) == []
    if name in OF_A_STORE:
        assert cells_with_output(browser) > 4
    if name not in WITHOUT_CHARTS:
        wait_for(browser, "document.querySelector('.jp-OutputArea svg.marks')", 20)
        time.sleep(1)
        there, drawn = charts(browser)
        assert there == drawn > 0
    assert asked(browser) == {HERE}
    assert spoken_to(lab) <= {HERE}


@pytest.mark.parametrize("name", [name for name in NOTEBOOKS if name != START])
def test_a_notebook_runs_and_draws_its_charts(screen: Any, lab: Lab, name: str) -> None:
    hold_to_run(screen, lab, name)
    lab.stop_kernels()


def test_the_first_notebook_runs_and_follows_its_selectors(screen: Any, lab: Lab) -> None:
    """What is beneath the selectors follows what is chosen, the command as well."""
    hold_to_run(screen, lab, START)
    chooser = "document.querySelector('.widget-vbox')"
    title = f"{chooser}.querySelector('.jp-OutputArea h3').textContent"
    before = wait_for(screen, f"{chooser}?.querySelector('.jp-OutputArea h3') && {title}")
    labels = screen.execute_script(
        f"return [...{chooser}.querySelectorAll('label')]"
        ".map((one) => one.textContent).filter(Boolean)"
    )
    assert labels == ["Unit", "Month", "Measure"]
    choose(screen, 2, 1)
    wait_for(screen, f"{title} !== {json.dumps(before)}", 30)
    wait_for(screen, f"{chooser}.querySelector('svg.marks path')", 30)
    assert "--unit quillmere" in words_of(screen, f"{chooser}.querySelector('code')")
    choose(screen, 0, 1)
    wait_for(screen, f"{chooser}.querySelector('code').textContent.includes('tansy_ridge')", 30)
    assert errors(screen) == []
    lab.stop_kernels()


def choose(browser: Any, select: int, option: int) -> None:
    Select(browser.find_elements("css selector", ".widget-vbox select")[select]).select_by_index(
        option
    )


def words_of(browser: Any, what: str) -> str:
    return str(browser.execute_script(f"return {what}.textContent"))

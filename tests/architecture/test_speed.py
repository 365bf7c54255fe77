"""The markers of speed are held to their meaning, and what is made once is made once."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.once import Once
from tests.speed import group_of

ROOT = Path(__file__).parents[2]
# Half a processor second counts as slow here, and nothing is built in earnest.
CONFTEST = """
import pytest
from pipelines import build
from tests import speed

speed.SECONDS, speed.pace = 0.3, lambda: 1.0
build.build_store = speed._watched(lambda: None)

@pytest.fixture
def browser():
    return "a browser"
"""
TESTS = """
import time
import pytest
from pipelines import build

def busy():
    end = time.process_time() + 0.5
    while time.process_time() < end:
        pass

@pytest.fixture(scope="module")
def dear():
    busy()

@pytest.fixture(scope="module")
def store():
    build.build_store()

def test_bad_slow(): busy()
def test_bad_first_of_a_dear_setup(dear): pass
def test_bad_second_of_a_dear_setup(dear): pass
def test_bad_builds(): build.build_store()
def test_bad_uses_what_is_built(store): pass
def test_good_and_quick(): time.sleep(0.6)  # by the clock alone
@pytest.mark.slow
def test_good_slow(): busy()
@pytest.mark.slow
def test_good_dear_setup(dear): pass
@pytest.mark.long
def test_good_long(): busy()
@pytest.mark.build
def test_good_builds(): build.build_store()
def test_good_browser(browser, request):
    assert request.node.get_closest_marker("browser")
"""


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> str:
    """What pytest says of ``TESTS`` with the hooks."""
    folder = tmp_path_factory.mktemp("marked")
    (folder / "conftest.py").write_text(CONFTEST, encoding="utf-8")
    (folder / "test_it.py").write_text(TESTS, encoding="utf-8")
    options = ("-p", "tests.speed", "-p", "no:cacheprovider", "-p", "no:xdist", "-rA")
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *options, "--rootdir", str(folder), str(folder)],
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTEST_XDIST_WORKER": ""},
        capture_output=True,
        text=True,
        check=False,
    )
    return done.stdout


@pytest.mark.slow
def test_a_test_without_its_marker_fails_and_one_with_it_passes(outcome: str) -> None:
    ended = re.findall(r"^(PASSED|FAILED|ERROR) \S*::(test_\w+)", outcome, re.MULTILINE)
    wrong = {name for how, name in ended if how != "PASSED"}
    assert {name for _, name in ended} == set(re.findall(r"def (test_\w+)", TESTS))
    assert wrong == {name for _, name in ended if name.startswith("test_bad")}


@pytest.mark.slow
def test_the_message_names_the_marker_to_add(outcome: str) -> None:
    assert re.search(r"test_bad_slow took \d+ processor seconds.*add @pytest.mark.slow", outcome)
    assert re.search(r"test_bad_builds: a store is built.*Add @pytest.mark.build", outcome)


def test_what_is_said_of_one_visited_page_is_shared_out_together() -> None:
    """Else two processes would wait for each other's visits."""
    assert group_of("tests/pages/test_axe.py::test_a[released]") == "released"
    assert group_of("tests/pages/test_axe.py::test_b[light-fake_page]") == "fake_page"
    assert group_of("tests/pages/test_print.py::test_c") == "tests/pages/test_print.py"
    assert group_of("tests/loading/test_x.py::test_d[a-b]") == "tests/loading/test_x.py"


# One of several processes that start at once.
ASKING = """
import sys
from pathlib import Path
from tests.once import Once

def make(folder):
    with (folder.parent / "calls").open("a") as calls:
        calls.write("made\\n")
    return folder.name

assert Once(Path(sys.argv[1]))("thing", make) == "files"
"""


def test_processes_that_ask_at_once_have_it_made_once(tmp_path: Path) -> None:
    command = [sys.executable, "-c", ASKING, str(tmp_path)]
    asking = [subprocess.Popen(command, cwd=ROOT) for _ in range(3)]
    assert [one.wait() for one in asking] == [0, 0, 0]
    assert (tmp_path / "thing" / "calls").read_text() == "made\n"


def test_what_could_not_be_made_is_tried_again(tmp_path: Path) -> None:
    once, tries = Once(tmp_path), []

    def make(folder: Path) -> int:
        tries.append(folder)
        assert list(folder.iterdir()) == [], "a folder of its own each time"
        (folder / "half").touch()
        if len(tries) == 1:
            raise OSError
        return 7

    with pytest.raises(OSError):
        once("thing", make)
    assert once("thing", make) == once("thing", make) == 7
    assert len(tries) == 2

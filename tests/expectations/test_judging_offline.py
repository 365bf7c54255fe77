"""great_expectations stays in one room, sees no row, opens no connection and writes no file."""

import json
import os
import re
import subprocess
import sys
import textwrap
from pathlib import Path
from typing import Any

import pytest
from judged_store import make_store

import expectations
import pipelines
from expectations import judge

ROOT = Path(expectations.__file__).parent.parent

JUDGE_ALONE = """
import socket, sys
from pathlib import Path
from typing import Any

reached, written = [], []

def refuse(*_, **__):
    reached.append("socket")
    raise OSError("no connection may be opened")

socket.socket.connect = refuse
socket.socket.connect_ex = refuse
socket.create_connection = refuse
socket.getaddrinfo = refuse

def watch(event, args):
    if event in ("socket.connect", "socket.sendto", "socket.sendmsg", "socket.getaddrinfo"):
        reached.append(event)
    if event == "open" and isinstance(args[1], str) and set("wax+") & set(args[1]):
        written.append(str(args[0]))
    if event in ("os.mkdir", "tempfile.mkstemp", "tempfile.mkdtemp"):
        written.append(event)

sys.addaudithook(watch)
sys.path.insert(0, "tests/expectations")
from judged_store import make_store
import expectations
assert "great_expectations" not in sys.modules, "importing the package must stay quick"
PLANTED
store = make_store({"admission": "record_id | weight_g\\na | 9000\\n"})
verdict = expectations.judge(store)
assert "great_expectations" in sys.modules
assert verdict.flagged == 1 and verdict.is_trustworthy, verdict.in_words
print("reached:", sorted(set(reached)), "written:", sorted(set(written)))
"""


def _judge_alone(planted: str, folder: Path) -> str:
    script = textwrap.dedent(JUDGE_ALONE).replace("PLANTED", planted)
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=ROOT,
        env={
            **os.environ,
            "PYTHONDONTWRITEBYTECODE": "1",
            "TMPDIR": str(folder),
            "PYTHONPATH": str(ROOT),
            "HOME": str(folder),
        },
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.slow
def test_judging_opens_no_connection_and_writes_no_file(tmp_path: Path) -> None:
    assert _judge_alone("", tmp_path) == "reached: [] written: []\n"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_the_watch_itself_sees_a_connection_and_a_file(tmp_path: Path) -> None:
    planted = (
        "Path(sys.argv[0] or '.', 'x').name; open(__import__('os').environ['TMPDIR'] + '/x', 'w')\n"
        "try: socket.create_connection(('localhost', 9))\n"
        "except OSError: pass"
    )
    said = _judge_alone(planted, tmp_path)
    assert "'socket'" in said
    assert str(tmp_path / "x") in said


def test_only_one_module_imports_great_expectations() -> None:
    importing = [
        path.relative_to(ROOT).as_posix()
        for folder in (expectations, pipelines)
        for path in Path(str(folder.__file__)).parent.rglob("*.py")
        if re.search(r"^\s*(import|from) great_expectations", path.read_text(), re.MULTILINE)
    ]
    assert importing == ["expectations/suites.py"]


@pytest.mark.build
def test_results_of_great_expectations_hold_counts_only(monkeypatch: pytest.MonkeyPatch) -> None:
    from great_expectations.datasource.fluent.interfaces import Batch

    kept: list[Any] = []
    validate = Batch.validate

    def keep(self: Any, *args: Any, **kwargs: Any) -> Any:
        kept.append(validate(self, *args, **kwargs))
        return kept[-1]

    monkeypatch.setattr(Batch, "validate", keep)
    store = make_store({"admission": "record_id | weight_g\nsecret-key | 9123.5\n"})
    judge(store)
    results = [result for suite in kept for result in suite.results]
    assert any(not result.success for result in results)
    assert {tuple(sorted(result.result)) for result in results} == {
        ("element_count", "unexpected_count")
    }
    text = json.dumps([[suite.to_json_dict(), suite.describe_dict()] for suite in kept])
    assert "secret-key" not in text
    assert "9123" not in text
    severities = {str(result.expectation_config.severity.value) for result in results}
    assert severities == {"critical", "warning", "info"}

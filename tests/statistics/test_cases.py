"""Every worked example is used by a test, and names where it comes from."""

import re
from pathlib import Path

import pytest

from tests.statistics.cases import CASES, assert_agrees, case

IDS = sorted(path.stem for path in CASES.glob("*.json"))
TESTS = "".join(
    path.read_text(encoding="utf-8")
    for path in sorted(Path(__file__).parent.glob("test_*.py"))
    if path.name != "test_cases.py"
)


@pytest.mark.parametrize("case_id", IDS)
def test_every_case_is_used_and_names_its_source(case_id: str) -> None:
    one = case(case_id)
    assert one["id"] == case_id
    assert one["source"] and one["source_kind"] and isinstance(one["from_memory"], bool)
    assert re.search(rf"case\(\s*\"{case_id}\"", TESTS), f"no test reads case {case_id}"


def test_the_comparison_itself_can_fail() -> None:
    one = {"id": "x", "tolerance": {"default": 0, "b": 0.1}, "expected": {"a": 1, "b": [2.0]}}
    assert_agrees({"a": 1, "b": [2.05]}, one)
    for wrong in ({"a": 1.01, "b": [2.0]}, {"a": 1, "b": [2.2]}, {"a": 1, "b": [2.0, 2.0]}):
        with pytest.raises(AssertionError):
            assert_agrees(wrong, one)

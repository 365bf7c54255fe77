"""Worked examples of the methods: published, or computed with a named library.

A case is ``cases/<id>.json``: id, method, source, source_kind, from_memory (the data or the
answer were recalled, not read from a page), inputs, expected, tolerance. ``tolerance`` is
absolute: one number, or ``{"default": x, "<key>": y}`` where a key holds for all beneath it.
An expected null is undefined and not compared.
"""

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

CASES = Path(__file__).parent / "cases"


def case(case_id: str) -> dict[str, Any]:
    """Return one case by its id."""
    found: dict[str, Any] = json.loads((CASES / f"{case_id}.json").read_text(encoding="utf-8"))
    return found


def assert_agrees(actual: object, one: Mapping[str, Any]) -> None:
    """Compare ``actual`` with what the case expects, key by key, within its tolerance."""
    tolerance = one["tolerance"]
    by_key = tolerance if isinstance(tolerance, dict) else {"default": tolerance}
    _compare(actual, one["expected"], by_key["default"], by_key, f"{one['id']}: expected")


def _compare(
    actual: Any, expected: Any, tolerance: float, by_key: Mapping[str, float], where: str
) -> None:
    if expected is None:
        return
    if isinstance(expected, dict):
        for key, value in expected.items():
            _compare(actual[key], value, by_key.get(key, tolerance), by_key, f"{where}.{key}")
    elif isinstance(expected, list):
        assert len(actual) == len(expected), f"{where}: {len(actual)} values, not {len(expected)}"
        for place, (one, other) in enumerate(zip(actual, expected, strict=True)):
            _compare(one, other, tolerance, by_key, f"{where}[{place}]")
    elif isinstance(expected, bool | str):
        assert actual == expected, f"{where}: {actual!r}, not {expected!r}"
    else:
        close = math.isclose(float(actual), float(expected), rel_tol=0, abs_tol=tolerance)
        assert close, f"{where}: {actual} differs from {expected} by more than {tolerance}"

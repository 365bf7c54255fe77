"""Unit files of the oracle's own: the shipped ones, with policies that change on a birth date.

`minutes_of_quillmere` has the columns of quillmere and the time form of tansy_ridge: what
tansy_ridge's export does not carry is measured in minutes there.
"""

import datetime as dt
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from .tables import unit_toml

POLICIES = Path(__file__).with_name("policies.toml")
# In one of them whole months only: its export has no birth date.
STEPS = {
    "quillmere": {1: dt.date(2025, 3, 17), 2: dt.date(2025, 8, 9)},
    "tansy_ridge": {1: dt.date(2025, 4, 1), 2: dt.date(2025, 9, 1)},
    "minutes_of_quillmere": {1: dt.date(2025, 3, 1), 2: dt.date(2025, 8, 1)},
}
# What its exports have for nobody: there no row does not say that nothing happened.
UNWANTED = tuple(
    f'= "{kind}"' for kind in ("intensive_care", "phototherapy", "readmission", "fall", "collapse")
)
BIRTH_IN_MINUTES = """birth_month = "Born in month"
birth_weekday = "Born on weekday"
birth_hour = "Born in hour"
birth_order = "Number"
"""


def read_policies() -> list[dict[str, Any]]:
    """Return the policies with their step."""
    return list(tomllib.loads(POLICIES.read_text(encoding="utf-8"))["policy"])


def _literal(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else str(value)


def _policy_text(policy: Mapping[str, Any], starts: Mapping[int, dt.date]) -> str:
    lines = [f"{key} = {_literal(value)}" for key, value in policy.items() if key != "step"]
    return "\n".join(["", "[[policy]]", *lines, f"from = {starts[policy['step']]}", ""])


def _in_minutes(text: str) -> str:
    """Turn quillmere's file into one of minutes after birth."""
    head, rest = text.split("[time]", 1)
    _, files = rest.split("[[files]]", 1)
    head = head.replace('id = "quillmere"', 'id = "minutes_of_quillmere"')
    text = f'{head}[time]\nform = "minutes"\n\n[[files]]{files}'
    text = "\n".join(line for line in text.split("\n") if not line.endswith(UNWANTED))
    return text.replace('birth_time = "Born at"\n', BIRTH_IN_MINUTES)


def write_unit(unit: str, folder: Path) -> Path:
    """Write one of the units of ``STEPS`` into a folder; returns the path of its file."""
    is_made = unit == "minutes_of_quillmere"
    text = unit_toml("quillmere" if is_made else unit).read_text(encoding="utf-8")
    off = {policy["measure"] for policy in tomllib.loads(text)["policy"] if "applies" in policy}
    added = [
        _policy_text(policy, STEPS[unit])
        for policy in read_policies()
        if policy["measure"] not in off
    ]
    path = folder / f"{unit}.toml"
    path.write_text((_in_minutes(text) if is_made else text) + "".join(added), encoding="utf-8")
    return path

"""The life of a signal in a unit's file: what is kept, and what is refused in words."""

import datetime as dt
from pathlib import Path

import pytest

from pipelines.base.errors import DeclarationError
from pipelines.definitions.of_units import definitions_of
from pipelines.definitions.policy import check_policies, result_ids
from pipelines.definitions.read_units import UNITS_DIR, Unit, read_unit
from pipelines.definitions.signal_lines import by_result

GOOD = {
    "measure": '"warm_excess"',
    "on": "2026-08-12",
    "step": '"explained"',
    "role": '"unit educator"',
    "reason": '"the heater of room 3 stuck"',
}
ACCEPTED = {**GOOD, "step": '"accepted"', "level_from": "2025-09-01"}


def lines(*rows: dict[str, str]) -> str:
    return "".join(
        "\n[[signals]]\n" + "".join(f"{key} = {value}\n" for key, value in row.items())
        for row in rows
    )


def unit(folder: Path, *rows: dict[str, str]) -> Unit:
    """Read a shipped unit's file whose own lines are replaced by ``rows``, and check it."""
    text = (UNITS_DIR / "tansy_ridge.toml").read_text(encoding="utf-8")
    assert "[[signals]]" not in text
    path = folder / "tansy_ridge.toml"
    path.write_text(text + lines(*rows), encoding="utf-8")
    made = read_unit(path)
    check_policies([made], definitions_of([made]).measures)
    return made


def test_lines_are_kept_as_they_were_written(tmp_path: Path) -> None:
    first, second = unit(tmp_path, ACCEPTED, {**GOOD, "measure": '"arrival_cold"'}).signals
    assert (first.step, first.on) == ("accepted", dt.date(2026, 8, 12))
    assert first.level_from == dt.date(2025, 9, 1)
    assert (first.role, first.reason) == ("unit educator", "the heater of room 3 stuck")
    assert second.level_from is None
    bands = result_ids(definitions_of().measures)
    names = [name for name, _ in by_result([second], bands)]
    assert names == list(bands["arrival_cold"]) and len(names) > 2


def without(row: dict[str, str], key: str) -> dict[str, str]:
    return {name: value for name, value in row.items() if name != key}


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([{**GOOD, "measure": '"warm_exces"'}], "'warm_exces' is not a measure. Did you mean"),
        ([{**GOOD, "step": '"acepted"'}], "step 'acepted' is not known; the steps are opened, "),
        ([{**GOOD, "who": '"x"'}], "key 'who' is not known"),
        *[([without(GOOD, key)], f"key '{key}' is missing") for key in GOOD],
        ([{**GOOD, "on": '"2026-08-12"'}], "[1].on: text stands here; write the date as"),
        ([{**GOOD, "on": "2026-08-12T10:00:00"}], "[1].on: a date with a time stands here;"),
        ([{**GOOD, "role": '" "'}], "'role' must be words in quotes"),
        ([{**GOOD, "reason": "3"}], "signals[1].reason: a number stands here; write words"),
        ([{**GOOD, "level_from": "2025-09-01"}], "'level_from' belongs to step = \"accepted\""),
        ([without(ACCEPTED, "level_from")], "key 'level_from' is missing; write the first day"),
        ([{**ACCEPTED, "level_from": "2025-09-02"}], "2025-09-02 is not the first of a month"),
        ([{**ACCEPTED, "level_from": "2026-09-01"}], "lies after on = 2026-08-12"),
        ([GOOD, {**GOOD, "on": "2026-08-11"}], "signals[2]: on = 2026-08-11 comes after a line"),
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused_with_file_place_and_key(
    tmp_path: Path, rows: list[dict[str, str]], words: str
) -> None:
    with pytest.raises(DeclarationError) as error:
        unit(tmp_path, *rows)
    assert words in str(error.value)
    assert str(error.value).startswith(f"tansy_ridge.toml signals[{len(rows)}]")

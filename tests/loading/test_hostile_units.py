"""A unit's file that says what cannot be meant is refused by name: never a traceback.

Every key of the shipped units, and of each part that they leave out, takes every kind of value
that TOML has, one at a time. The attacks are written here; nothing is asked of the checks.
"""

import copy
import datetime as dt
import os
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from pipelines.base.errors import DeclarationError
from pipelines.build.every_stage import checked_definitions
from pipelines.definitions import read_units
from pipelines.definitions.read_units import UNITS_DIR, find_unit, read_unit, shipped_units
from pipelines.definitions.unit_shape import kinds

VALUES: list[Any] = [
    0, -1, 2**70, 1.5, float("nan"), float("inf"), True, "", "x", "\0", "a\x1b[31mb", "9" * 5000,
    "../x", "/etc/passwd", "C:\\x", [], [1], ["x", 1], [[]], [{}], {}, {"a": 1}, {"x": {"y": [1]}},
    dt.date(2026, 1, 1), dt.datetime(2026, 1, 1, 1), dt.time(1),
]  # fmt: skip
MORE = """
leading = ["first_temperature"]
worklist = { find_chart = "Ask the clerk." }
gravity = { approved_by = "unit lead", approved_on = 2026-01-01, measures = { first_temperature = "serious" } }
findings = { approved_by = "unit lead", approved_on = 2026-01-01, tiers = { hips = 2 } }
checks = { off = ["copied_set"], numbers = { } }
ignored = { kind = ["a"] }
shape = { new_column = "stop" }
locale = { decimal = "," }
identifiers = { key_file = "key.txt", allow = [{ column = "a", rule = "record_number", reason = "a study key" }] }

[[policy]]
measure = "vitamin_k"
from = 2026-01-01
target = 0.9

[[signals]]
measure = "vitamin_k"
on = 2026-01-01
step = "explained"
role = "unit lead"
reason = "a new ward"

[[changes]]
id = "c"
from = 2026-01-01
title = "t"
measures = ["vitamin_k"]
balancing = ["first_temperature"]
process = ["room_temperature_c"]
"""  # noqa: E501  # tables of one line


def spec_of(name: str, more: str = "") -> dict[str, Any]:
    text = (UNITS_DIR / f"{name}.toml").read_text(encoding="utf-8")
    return {**tomllib.loads(text), **tomllib.loads(more)}


def places(spec: Any, at: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Every key and the first entries of every list, outside first."""
    if at:
        yield at
    if isinstance(spec, dict):
        for key, value in spec.items():
            yield from places(value, (*at, key))
    elif isinstance(spec, list):
        for place, value in enumerate(spec[:2]):
            yield from places(value, (*at, place))


def put(spec: dict[str, Any], at: tuple[str | int, ...], value: Any) -> dict[str, Any]:
    changed = copy.deepcopy(spec)
    inner: Any = changed
    for step in at[:-1]:
        inner = inner[step]
    inner[at[-1]] = value
    return changed


def attacks(spec: dict[str, Any], *, of: set[str] | None = None) -> Iterator[dict[str, Any]]:
    """Every value at one place of each kind: the tenth column is read as the first is."""
    seen = set[tuple[str, ...]]()
    for at in places(spec):
        shape = tuple("[]" if isinstance(step, int) else step for step in at)
        known = next((one for one in kinds() if _fits(shape, one)), shape)
        if (of is None or at[0] in of) and known not in seen:
            seen.add(known)
            yield from (put(spec, at, value) for value in VALUES)


def refused(
    spec: dict[str, Any], path: Path, monkeypatch: pytest.MonkeyPatch, *, whole: bool
) -> str | None:
    """Return the words with which it is refused; None where it is taken."""
    monkeypatch.setattr(read_units, "read_toml", lambda *_: copy.deepcopy(spec))
    try:
        unit = read_unit(path)
        if whole:
            checked_definitions([unit])
    except DeclarationError as error:
        return str(error)
    return None


@pytest.mark.slow
@pytest.mark.parametrize("name", shipped_units())
def test_a_value_of_another_kind_is_refused_with_file_and_place(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    spec, path = spec_of(name), UNITS_DIR / f"{name}.toml"
    assert refused(spec, path, monkeypatch, whole=False) is None
    tried = [refused(one, path, monkeypatch, whole=False) for one in attacks(spec)]
    words = [told for told in tried if told is not None]
    assert len(tried) > 500 and len(words) > 0.6 * len(tried)
    for told in words:
        assert told.startswith(path.name), told
        assert "\x1b" not in told and "\0" not in told and len(told) < 6000


@pytest.mark.slow
def test_the_parts_that_no_shipped_unit_has_are_held_too(monkeypatch: pytest.MonkeyPatch) -> None:
    spec, path = spec_of("quillmere", MORE), UNITS_DIR / "quillmere.toml"
    assert refused(spec, path, monkeypatch, whole=True) is None
    parts = set(tomllib.loads(MORE))
    tried = [refused(one, path, monkeypatch, whole=True) for one in attacks(spec, of=parts)]
    assert len(tried) > 600
    assert sum(told is not None for told in tried) > 0.7 * len(tried)


def test_every_key_of_a_shipped_unit_has_a_kind() -> None:
    """Else a number where words are meant would be met by its reader first."""
    unknown = set()
    for name in shipped_units():
        for at in places(spec_of(name, MORE)):
            if isinstance(at[-1], str):
                steps = tuple("[]" if isinstance(step, int) else step for step in at)
                if not any(_fits(steps, known) for known in kinds()):
                    unknown.add(".".join(steps))
    assert not unknown


def _fits(steps: tuple[str, ...], known: tuple[str, ...]) -> bool:
    return len(steps) == len(known) and all(
        own in {step, "*"} for step, own in zip(steps, known, strict=True)
    )


BYTES = {
    "empty": (b"", "is missing"),
    "no text": (b"\xff\xfe\x00id", "not text in UTF-8"),
    "Latin 1": ('id = "é"'.encode("latin-1"), "not text in UTF-8"),
    "an export": (b"record_id,born\nA1,2026-01-01\n", "not valid TOML"),
    "a key twice": (b'id = "a"\nid = "b"', "not valid TOML"),
    "nested": (b"x = " + b"[" * 100_000 + b"]" * 100_000, "nested too deeply"),
    "a number of 5,000 digits": (b"x = " + b"9" * 5000, "too long to be one"),
    "long": (b"#" * 6_000_000, "is it an export instead"),
    "a zero byte": (b'id = "a\x00"', "not valid TOML"),
    "an unknown key": (b"sql = 'drop table newborn'", "key 'sql' is not known"),
}


@pytest.mark.parametrize("case", BYTES)
def test_what_is_no_unit_file_is_refused_by_name(case: str, tmp_path: Path) -> None:
    content, said = BYTES[case]
    path = tmp_path / "my_unit.toml"
    path.write_bytes(content)
    with pytest.raises(DeclarationError, match=f"^my_unit.toml.*{said}"):
        find_unit(str(path))


def test_a_mark_of_byte_order_is_no_mistake(tmp_path: Path) -> None:
    path = tmp_path / "my_unit.toml"
    path.write_bytes(b"\xef\xbb\xbf" + (UNITS_DIR / "tansy_ridge.toml").read_bytes())
    assert find_unit(str(path)).id == "tansy_ridge"


def test_a_folder_a_pipe_and_nothing_are_no_unit_file(tmp_path: Path) -> None:
    (tmp_path / "folder.toml").mkdir()
    os.mkfifo(tmp_path / "pipe.toml")
    (tmp_path / "loop.toml").symlink_to(tmp_path / "loop.toml")
    for name in ("folder", "pipe", "loop", "none"):
        with pytest.raises(DeclarationError, match="no such unit file"):
            find_unit(str(tmp_path / f"{name}.toml"))


OUTSIDE = (
    "../other.csv",
    "/etc/passwd",
    "a/../../b",
    "C:\\Windows\\x",
    "\\\\host\\share",
    "..",
    " ",
)


@pytest.mark.parametrize("name", OUTSIDE)
def test_no_key_leads_out_of_the_folder(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    spec, path = spec_of("quillmere"), UNITS_DIR / "quillmere.toml"
    changed = [
        put(spec, ("files", 0, "pattern"), name),
        {**spec, "answers": name},
        {**spec, "cause_reviews": name},
        {**spec, "checks": {"size_reference": name}},
        {**spec, "worklist": {"filled": name}},
        {**spec, "fhir": {"resources": ["Patient"], "codes": name}},
        {**spec, "fhir": {"resources": ["Patient"], "patterns": {"Patient": name}}},
    ]
    for one in changed:
        told = refused(one, path, monkeypatch, whole=True)
        assert told is not None and "name a file in the folder" in told


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("encoding", "base64", "encoding 'base64' is not known"),
        ("encoding", "latin-99", "encoding 'latin-99' is not known"),
        ("delimiter", "\n", "line end or the quote"),
        ("delimiter", '"', "line end or the quote"),
        ("delimiter", ";;", "one character"),
    ],
)
def test_a_file_that_cannot_be_read_so_is_told_by_the_unit_s_file(
    key: str, value: str, said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    spec, path = spec_of("quillmere"), UNITS_DIR / "quillmere.toml"
    told = refused(put(spec, ("files", 0, key), value), path, monkeypatch, whole=False)
    assert said in (told or "")


def test_a_broken_file_of_a_unit_s_own_contract_is_named_by_its_folder(tmp_path: Path) -> None:
    path = tmp_path / "my_unit.toml"
    path.write_bytes((UNITS_DIR / "tansy_ridge.toml").read_bytes())
    own = tmp_path / "my_unit" / "contract" / "dose.toml"
    own.parent.mkdir(parents=True)
    own.write_text("not toml")
    with pytest.raises(DeclarationError, match=r"^my_unit/contract/dose\.toml: not valid TOML"):
        find_unit(str(path))

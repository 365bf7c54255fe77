"""The list of findings to be told: a starter that nobody approved, and a unit's own over it."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from pipelines.base.errors import DeclarationError
from pipelines.definitions.finding_tiers import starter_tiers, unit_tiers
from pipelines.definitions.read_units import find_unit

from .small_stores import small_store

QUILLMERE = find_unit("quillmere")


def rows(findings: Mapping[str, Any]) -> dict[tuple[object, object], list[object]]:
    unit = replace(QUILLMERE, findings=findings)
    return {(kind, detail): rest for _, kind, detail, *rest in unit_tiers(unit)}


def test_a_unit_replaces_one_finding_and_keeps_the_rest() -> None:
    own = {"sacrum": 2, "palm_crease": 0, "anterior_fontanelle": {"Bulging": 2}}
    found = rows({"tiers": own, "approved_by": "lead", "approved_on": dt.date(2026, 1, 1)})
    assert found["sacrum", ""] == [2, False, "lead", dt.date(2026, 1, 1)]
    assert found["palm_crease", ""][0] == 0
    assert found["anterior_fontanelle", "bulging"][0] == 2
    assert ("anterior_fontanelle", "sunken") not in found
    assert found["anus", ""][:2] == [starter_tiers()["anus"][""], True]


def test_the_starter_list_is_marked_as_not_approved() -> None:
    assert {tuple(row[1:]) for row in rows({}).values()} == {(True, None, None)}


def test_fontanelle_size_alone_is_on_no_list() -> None:
    """Healthy newborns differ from 0.6 to 3.6 cm (StatPearls, Fontanelles)."""
    assert set(starter_tiers()["anterior_fontanelle"]) == {"bulging", "sunken"}


@pytest.mark.build
def test_tiers_reach_the_measure(tmp_path: Path) -> None:
    unit = replace(QUILLMERE, findings={"tiers": {"hips": 1, "palate": 0}})
    head = "Study key,Looked at,Time,As expected,Detail,Told,Told at"
    line = "one,{},03/02/2025 08:00,N,odd,paediatrician,03/02/2025 08:16"
    store = small_store(
        tmp_path,
        unit,
        {
            "newborns.csv": ["Study key,Born at,Outcome", "one,03/02/2025 07:00,live birth"],
            "examination.csv": [head, *map(line.format, ("hips", "palate", "back"))],
        },
    )
    found = store.execute(
        "select state, due_minutes from membership where measure_id = 'finding_escalated' "
        "order by due_minutes"
    ).fetchall()
    assert found == [("late", 15.0), ("met", 720.0)]
    listed = store.execute("select tier from finding_tier where kind = 'hips'").fetchall()
    assert listed == [(1,)]


@pytest.mark.parametrize(
    ("findings", "message"),
    [
        ({"tier": {}}, "key 'tier' is not known. Did you mean 'tiers'"),
        ({"tiers": {"sacrum": 4}}, "sacrum: the tier must be 1, 2 or 3"),
        ({"tiers": {"lip": {"cleft": "high"}}}, "lip 'cleft': the tier must be"),
        ({"approved_on": "2026"}, "write the date as 2026-03-01"),
    ],
)
def test_a_mistake_names_file_and_key(findings: Mapping[str, Any], message: str) -> None:
    with pytest.raises(DeclarationError, match=message) as raised:
        rows(findings)
    assert "quillmere.toml [findings]" in str(raised.value)

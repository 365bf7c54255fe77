"""How grave a miss is: every measure says it, a unit approves or changes it, a store carries it."""

import datetime as dt
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from pipelines.base.errors import DeclarationError
from pipelines.base.store_file import open_store
from pipelines.definitions import gravity
from pipelines.definitions.read_measures import MEASURES_DIR, read_measure, read_measures
from pipelines.definitions.read_units import Unit, find_unit
from pipelines.definitions.unit_gravity import approval, gravity_rows
from pipelines.drafts.measure import skeleton
from pipelines.pages.review.read import read_review
from pipelines.pages.review.record_list import NOT_APPROVED, approved_words
from tests.conftest import Built

MEASURES = read_measures()
# Issue 13, item 1: what should never happen, what is process, serious and sentinel of cold.
# measure or band, grade, state, level; written from the issue, not from the files.
ASKED = [
    ("hepatitis_b_mother_positive", "", "not_done", "sentinel"),
    ("hepatitis_b_mother_positive", "", "not_met", "sentinel"),
    ("hepatitis_b_mother_positive", "", "late", "sentinel"),
    ("hepatitis_b_mother_positive", "", "not_documented", "sentinel"),
    ("product_strength", "", "not_met", "sentinel"),
    ("vitamin_k_dose", "", "not_met", "sentinel"),
    ("route_and_site", "", "not_met", "sentinel"),
    ("finding_escalated", "tier 1", "not_documented", "sentinel"),
    ("finding_escalated", "tier 1", "not_met", "sentinel"),
    ("two_bands", "", "not_done", "sentinel"),
    ("two_bands", "", "not_met", "sentinel"),
    ("cold_recheck", "severe", "not_documented", "sentinel"),
    ("cold_recheck", "severe", "not_met", "sentinel"),
    ("arrival_cold_mild", "", "met", "process"),
    ("arrival_cold_moderate", "", "met", "serious"),
    ("arrival_cold_severe", "", "met", "sentinel"),
]


def unit_with(**said: Any) -> Unit:
    return replace(find_unit("tansy_ridge"), gravity=said)


def levels(unit: Unit) -> dict[tuple[Any, ...], str]:
    return {tuple(row[1:4]): str(row[4]) for row in gravity_rows(unit, MEASURES)}


@pytest.mark.parametrize(("measure", "grade", "state", "level"), ASKED)
def test_the_defaults_are_those_that_were_asked_for(
    measure: str, grade: str, state: str, level: str
) -> None:
    assert levels(unit_with())[(measure, grade, state)] == level


def test_every_shipped_measure_gives_a_gravity_and_a_reason() -> None:
    for measure in MEASURES.values():
        assert measure.get("gravity"), measure.id
        parts = [part for band in (None, *measure.bands) for _, part in
                 measure.gravity.parts(band.id if band else None)]  # fmt: skip
        for part in parts:
            assert part.level in gravity.LEVELS and part.why.endswith("."), measure.id
            assert part.source


def test_what_is_less_sure_is_never_graver_and_never_dropped() -> None:
    place = {level: at for at, level in enumerate(gravity.LEVELS)}
    found = levels(unit_with())
    for (measure, grade, state), level in found.items():
        sure = found.get((measure, grade, "not_done"))
        if state in ("late", "not_documented") and sure:
            assert place[level] >= place[sure], (measure, state)
    described = {row[1] for row in gravity_rows(unit_with(), MEASURES) if row[4] == "descriptive"}
    kinds = {MEASURES[str(name)].kind for name in described}
    assert kinds == {"minutes", "descriptive"}, "what can be missed is at least counted"


def test_the_grades_of_a_cold_reading_are_the_bands_of_arrival() -> None:
    bands = {band.id: band for band in MEASURES["arrival_cold"].bands}
    text = (MEASURES_DIR / "shared" / "cold_reading.sql").read_text(encoding="utf-8")
    severe = re.search(r"value_c < ([\d.]+) then 'severe'", text)
    mild = re.search(r"value_c >= ([\d.]+) then 'mild'", text)
    assert severe and float(severe.group(1)) == bands["severe"].below
    assert mild and float(mild.group(1)) == bands["mild"].at_least


def test_a_unit_changes_a_level_a_state_a_band_or_a_grade() -> None:
    unit = unit_with(
        measures={
            "first_feed": "serious",
            "arrival_cold_mild": "serious",
            "heart_screen": {"late": "serious"},
            "finding_escalated": {"tier 3": "sentinel"},
        }
    )
    found, before = levels(unit), levels(unit_with())
    assert found[("first_feed", "", "not_done")] == "serious"
    assert found[("first_feed", "", "late")] == "process"
    assert found[("arrival_cold_mild", "", "met")] == "serious"
    assert found[("heart_screen", "", "late")] == "serious"
    assert found[("finding_escalated", "tier 3", "not_done")] == "sentinel"
    changed = {key[0] for key, level in found.items() if level != before[key]}
    assert changed == {"first_feed", "arrival_cold_mild", "heart_screen", "finding_escalated"}
    own = {row[1] for row in gravity_rows(unit, MEASURES) if not row[8]}
    assert own == changed


@pytest.mark.parametrize(
    ("said", "message"),
    [
        (
            {"measures": {"frist_feed": "serious"}},
            r"'frist_feed' is not .*Did you mean 'first_feed'",
        ),
        ({"measures": {"first_feed": "seriuos"}}, r"first_feed: gravity 'seriuos' .*'serious'"),
        ({"measures": {"first_feed": {"lat": "serious"}}}, r"first_feed: 'lat' .*'late'"),
        ({"approved_by": "charge nurse"}, r"key 'approved_on' is missing"),
        ({"approved_on": dt.date(2026, 1, 1)}, r"key 'approved_by' is missing"),
        ({"approved_by": "", "approved_on": dt.date(2026, 1, 1)}, r"name a role"),
        ({"approved_by": "nurse", "approved_on": "soon"}, r"write the date as"),
        ({"approved": True}, r"key 'approved' is not known"),
    ],
)
def test_a_mistake_names_the_file_and_the_key(said: dict[str, Any], message: str) -> None:
    with pytest.raises(DeclarationError, match=rf"tansy_ridge\.toml \[gravity.*{message}"):
        gravity_rows(unit_with(**said), MEASURES)


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ('level = "grave"\nwhy = "x"', r"gravity 'grave' is not known"),
        ('level = "process"', r"needs a level and a why"),
        ('level = "process"\nwhy = "x"\nstates = { lates = "process" }', r"Did you mean 'late'"),
        ('level = "process"\nwhy = "x"\ngrades = { a = "serious" }', r"'grade', which the select"),
    ],
)
def test_a_mistake_in_a_measure_names_the_file(tmp_path: Path, lines: str, message: str) -> None:
    from pipelines.stages.measure.worked_examples import run_example

    text = skeleton("first_bath").replace(
        'level = "process"\nwhy = "How the work runs; no single record is read for it."', lines
    )
    path = tmp_path / "first_bath.sql"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DeclarationError, match=rf"first_bath\.sql.*{message}"):
        measure = read_measure(path)
        run_example(measure, measure.examples[0])


def test_a_measure_without_a_word_of_it_is_process(tmp_path: Path) -> None:
    text = skeleton("first_bath")
    whole = text[text.index("# How grave a miss") : text.index("[[history]]")]
    (tmp_path / "first_bath.sql").write_text(text.replace(whole, ""), encoding="utf-8")
    own = read_measure(tmp_path / "first_bath.sql")
    part = own.gravity.whole.of("not_done")
    assert (part.level, part.why) == ("process", "no gravity given")
    (tmp_path / "first_bath.sql").write_text(text, encoding="utf-8")
    assert read_measure(tmp_path / "first_bath.sql").gravity.whole.level == "process"


def test_of_the_two_units_one_has_approved(clean: Built) -> None:
    assert approval(find_unit("quillmere")) == (
        "lead of the newborn unit (fictional)",
        dt.date(2025, 1, 15),
    )
    assert approval(find_unit("tansy_ridge")) == (None, None)
    told = approved_words(read_review(clean.store, "quillmere"))
    assert "approved on 15 January 2025 by the lead" in told
    assert NOT_APPROVED in approved_words(read_review(clean.store, "tansy_ridge"))


def test_every_miss_of_a_store_has_its_gravity(clean: Built) -> None:
    """No row of a measure goes without, or a page would leave it out without a word."""
    with open_store(clean.store) as store:
        without = store.execute(
            """
            select distinct membership.measure_id, membership.state
            from membership
            inner join measure_info using (measure_id)
            anti join gravity
                on gravity.unit = membership.unit
                and gravity.measure_id = membership.measure_id
                and gravity.state = membership.state
                and gravity.grade = ''
            where membership.state not in ('exclusion', 'exception')
                and (membership.state <> 'met' or measure_info.direction = 'lower')
                and (membership.state not in ('not_met', 'late') or direction <> 'lower')
            """
        ).fetchall()
    assert without == []


def test_nothing_says_harm_recorded_or_points_at_a_person() -> None:
    """Of the whole tree that ships, and of the pages' words."""
    root = MEASURES_DIR.parents[2]
    never = re.compile(
        r"harm recorded|instead of taken|careless|negligen|blamed|forgot to|at fault"
    )
    kinds = {".py", ".sql", ".toml", ".j2", ".md", ".ipynb"}
    found = [
        f"{path.relative_to(root)}: {match.group()}"
        for room in ("pipelines", "expectations", "notebooks", "synthetic_data")
        for path in (root / room).rglob("*")
        if path.suffix in kinds
        for match in never.finditer(path.read_text(encoding="utf-8").lower())
    ]
    assert found == []

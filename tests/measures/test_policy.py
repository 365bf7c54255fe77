"""A unit's policy holds by birth date, and a mistake in it is told in words.

Source: our own requirement. The dates are those of the hepatitis B timeline of 2025 and 2026
(CDC adoption on 2025-12-16, court ruling on 2026-03-16); which profile holds is invented here,
for nothing in this project claims what is in force.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import duckdb
import pytest

from pipelines.base.errors import DeclarationError
from pipelines.definitions.parameters import change_words, parameter_words
from pipelines.definitions.policy import check_policies, periods
from pipelines.definitions.read_measures import Measure, read_measures
from pipelines.definitions.read_units import EARLIEST, Policy, find_unit
from pipelines.pages.review.why import cold_factors

from .small_stores import small_store

BIRTH_DOSE = "hepatitis_b_birth_dose"
READINGS = ("hepatitis_b_universal", "hepatitis_b_decision")
BIRTHS = {"b15": "12/15/2025", "b16": "12/16/2025", "b17": "03/17/2026"}
ALWAYS = [(EARLIEST, True)]
NEVER = [(EARLIEST, False)]
CHANGING = [(dt.date(2025, 12, 16), False), (dt.date(2026, 3, 17), True)]


def store_under(folder: Path, profile: list[tuple[dt.date, bool]]) -> duckdb.DuckDBPyConnection:
    unit = replace(
        find_unit("quillmere"),
        policies=tuple(
            Policy(BIRTH_DOSE, start, {"universal_profile": value}) for start, value in profile
        ),
    )
    newborns = ["Study key,Born at,Outcome,Weight g,Mother HBsAg"]
    newborns += [f"{key},{day} 08:00,live birth,3200,neg" for key, day in BIRTHS.items()]
    talks = ["Study key,Care item,Start,End,Done"]
    talks += [f"{key},hep B talk,{day} 09:00,,Y" for key, day in BIRTHS.items()]
    return small_store(folder, unit, {"newborns.csv": newborns, "care.csv": talks})


@pytest.mark.build
@pytest.mark.parametrize(
    ("profile", "individual"),
    [(ALWAYS, set()), (NEVER, {"b15", "b16", "b17"}), (CHANGING, {"b16"})],
    ids=["universal", "individual decision", "changing"],
)
def test_profile_is_chosen_by_birth_date(
    tmp_path: Path, profile: list[tuple[dt.date, bool]], individual: set[str]
) -> None:
    store = store_under(tmp_path, profile)
    found = store.execute(
        "select record_id, measure_id, state, reason from membership where measure_id in (?, ?, ?)",
        [BIRTH_DOSE, *READINGS],
    ).fetchall()
    said = {(record, measure): (state, reason) for record, measure, state, reason in found}
    for record in BIRTHS:
        is_individual = record in individual
        expected = (
            ("exclusion", "individual decision by policy")
            if is_individual
            else ("not_documented", None)
        )
        assert said[record, BIRTH_DOSE] == expected, record
        # Both readings are computed side by side, whatever the profile.
        assert said[record, READINGS[0]] == ("not_documented", None)
        assert said[record, READINGS[1]] == ("met", None)
        leads = dict(
            store.execute(
                "select policy.measure_id, policy.value = 'true' from policy "
                "inner join newborn on newborn.birth_date >= policy.valid_from "
                "and newborn.birth_date < policy.valid_before "
                "where policy.name = 'headline' and newborn.record_id = ?",
                [record],
            ).fetchall()
        )
        assert leads == {READINGS[0]: not is_individual, READINGS[1]: is_individual}


@pytest.mark.build
def test_charts_break_where_the_profile_changes(tmp_path: Path) -> None:
    store = store_under(tmp_path, CHANGING)
    breaks = store.execute(
        "select measure_id, start_on, words from policy_break order by measure_id, start_on"
    ).fetchall()
    words = {
        dt.date(2025, 12, 16): "local policy: vaccine at birth for every newborn from yes to no",
        dt.date(2026, 3, 17): "local policy: vaccine at birth for every newborn from no to yes",
    }
    assert breaks == [
        (measure_id, start, words[start])
        for measure_id in sorted((BIRTH_DOSE, *READINGS))
        for start in sorted(words)
    ]


@pytest.mark.build
def test_who_reads_a_record_breaks_no_chart(tmp_path: Path) -> None:
    """A unit that leaves a measure's misses off the worklist changes no number."""
    start = dt.date(2026, 1, 1)
    own = (Policy("vitamin_k", start, {"listed": False}),)
    unit = replace(find_unit("quillmere"), policies=own)
    head = ["Study key,Born at,Outcome,Weight g,Mother HBsAg"]
    row = "b15,12/15/2025 08:00,live birth,3200,neg"
    store = small_store(tmp_path, unit, {"newborns.csv": [*head, row]})
    said = store.execute(
        "select value, valid_from from policy where measure_id = 'vitamin_k' and name = 'listed' "
        "order by valid_from"
    ).fetchall()
    assert said == [("true", EARLIEST), ("false", start)]
    assert store.execute("select count(*) from policy_break").fetchone() == (0,)


@pytest.mark.parametrize(
    ("measure_id", "numbers"),
    [
        ("eye_ointment", {"policy_given": False, "at_most": 1440}),
        ("vitamin_k", {"at_least": 60, "at_most": 360}),
        ("cord_clamp_deferred", {"preterm_seconds": 60, "term_seconds": 30}),
        ("arrival_temperature", {"upper_edge_c": 37.4}),
        ("return_to_range", {"at_most": 60}),
        ("cold_recheck", {"at_most": 15}),
        ("first_stool", {"applies": False}),
        ("vitamin_k", {"listed": False}),
        (BIRTH_DOSE, {"universal_profile": False}),
    ],
)
def test_a_unit_may_set(measure_id: str, numbers: Mapping[str, float | bool]) -> None:
    measures = read_measures()
    start = dt.date(2026, 1, 1)
    unit = replace(find_unit("quillmere"), policies=(Policy(measure_id, start, numbers),))
    check_policies([unit], measures)
    (_, _, before), (begins, _, after) = periods(unit, measures[measure_id])
    assert begins == start
    assert {key: after[key] for key in numbers} == dict(numbers)
    assert {key: value for key, value in after.items() if key not in numbers} == {
        key: value for key, value in before.items() if key not in numbers
    }


@pytest.mark.parametrize(
    ("measure_id", "numbers", "message"),
    [
        ("vitamin_kk", {"at_most": 360}, "Did you mean 'vitamin_k'"),
        ("vitamin_k", {"atmost": 360}, "Did you mean 'at_most'"),
        ("vitamin_k", {"at_most": "6 h"}, "must be a number of minutes"),
        ("eye_ointment", {"policy_given": "no"}, "must be true or false"),
        ("finding_escalated", {"told_roles": 3}, "must be words in quotes"),
        ("arrival_temperature", {"upper_edge_c": "37.4"}, "must be a number"),
        ("vitamin_k", {"target": 95}, "a share from 0 to 1"),
        (READINGS[0], {"universal_profile": False}, f"under measure = '{BIRTH_DOSE}'"),
        ("return_to_range", {"upper_edge_c": 37.4}, "under measure = 'arrival_temperature'"),
        ("warm_excess", {"skin_counts": False}, "under measure = 'first_temperature'"),
    ],
)
def test_a_mistake_names_file_and_key(
    measure_id: str, numbers: Mapping[str, float | bool | str], message: str
) -> None:
    unit = replace(find_unit("quillmere"), policies=(Policy(measure_id, EARLIEST, numbers),))
    with pytest.raises(DeclarationError, match=message) as raised:
        check_policies([unit], read_measures())
    assert "quillmere.toml policy[1]" in str(raised.value)


@pytest.mark.parametrize(
    ("process", "message"),
    [
        ("room_temprature_c", r"Did you mean 'room_temperature_c'"),
        ("mode_of_birth", "neither a measure nor a number of every newborn"),
    ],
)
def test_what_shows_that_a_change_was_carried_out_is_a_measure_or_a_number(
    process: str, message: str
) -> None:
    unit = find_unit("quillmere")
    (change,) = unit.changes
    assert change.process == ("room_temperature_c",)
    check_policies([unit], read_measures())
    with pytest.raises(DeclarationError, match=message):
        check_policies(
            [replace(unit, changes=(replace(change, process=(process,)),))], read_measures()
        )


def owners_of(name: str, measures: Mapping[str, Measure]) -> tuple[list[str], list[str]]:
    """Return the measures that say a parameter themselves, and those that follow another."""
    said = [one for one in measures.values() if name in one.parameters]
    return (
        [one.id for one in said if name not in one.follows],
        [one.id for one in said if name in one.follows],
    )


def shared_names() -> list[str]:
    every = [name for one in read_measures().values() for name in one.parameters]
    return sorted({name for name in every if every.count(name) > 1})


@pytest.mark.parametrize("name", shared_names())
def test_a_number_that_several_measures_read_has_one_owner(name: str) -> None:
    """One local decision is set once; two decisions have two names."""
    measures = read_measures()
    owners, followers = owners_of(name, measures)
    assert len(owners) == 1, f"'{name}': {owners} each set it; let one own it, or rename"
    assert {measures[one].follows[name] for one in followers} == set(owners)


@pytest.mark.parametrize(
    ("name", "value"), [("skin_counts", True), ("lower_edge_c", 36.3), ("small_below_g", 2100)]
)
def test_a_number_set_once_is_followed_everywhere(name: str, value: float | bool) -> None:
    measures = read_measures()
    (owner,), followers = owners_of(name, measures)
    policies = (Policy(owner, dt.date(2026, 1, 1), {name: value}),)
    unit = replace(find_unit("quillmere"), policies=policies)
    check_policies([unit], measures)
    assert len(followers) > 2
    for one in followers:
        before, after = (numbers[name] for _, _, numbers in periods(unit, measures[one]))
        assert (before, after) == (measures[owner].parameters[name], value), one


def test_cold_at_arrival_begins_where_the_range_does() -> None:
    """The bands of arrival_cold are fixed in its file: a unit's own edge does not move them."""
    measures = read_measures()
    bands = {band.id: band for band in measures["arrival_cold"].bands}
    assert bands["mild"].below == measures["arrival_temperature"].parameters["lower_edge_c"]
    assert cold_factors.BANDS["mild"].endswith(
        f"{bands['mild'].at_least:.1f} to 36.4 \N{DEGREE SIGN}C"
    )
    assert bands["moderate"].below == bands["mild"].at_least
    assert cold_factors.BANDS["colder"].endswith(
        f"below {bands['mild'].at_least:.1f} \N{DEGREE SIGN}C"
    )


def test_what_a_chart_says_of_a_policy_is_in_words() -> None:
    """A reader of a chart has never seen the name of a parameter."""
    named = {name for measure in read_measures().values() for name in measure.numbers}
    assert named - {"listed"} <= set(parameter_words())
    assert change_words("at_most", 60.0, 30) == "time allowed from 60 min to 30 min"
    assert change_words("target", 0.9, 0.95) == "target from 90 % to 95 %"
    assert change_words("at_most", None, 1440) == "time allowed from none to 24 hours"
    assert change_words("lower_edge_c", 36.5, 36) == "lower edge of the range from 36.5 °C to 36 °C"
    assert change_words("of_our_own", 1, 2) == "of our own from 1 to 2"


def test_no_words_are_kept_for_a_number_that_is_gone() -> None:
    named = {name for measure in read_measures().values() for name in measure.numbers}
    assert set(parameter_words()) <= named

"""The oracle itself: worked examples of every header, and cases worked out by hand.

The hand cases are common practice, with no published source, unless one is named.
"""

import datetime as dt
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from statsmodels.stats.proportion import proportion_confint

from .engine import Member, Settings, header_of, members_of, read_header
from .measures import GROUPS, MEASURES, is_measure, measure_files, membership
from .reader import FlaggedCell, UnitExport, read_export
from .results import result_of, wilson
from .tables import example_newborns, pipe_rows, small_export, unit_toml
from .values import instant, round_half_up


def _examples() -> list[Any]:
    return [
        pytest.param(measure_id, example, id=f"{measure_id}-{place}")
        for measure_id in measure_files()
        for place, example in enumerate(header_of(measure_id)["examples"], start=1)
    ]


def test_every_measure_has_a_function() -> None:
    """A measure that only one coding knows is not checked."""
    missing = sorted(set(measure_files()) - set(MEASURES))
    assert not missing, (
        f"The oracle does not know {', '.join(missing)}. Write a function of that name, with "
        "arguments newborn and setting, returning a list of Facts (one per item; none where the "
        "newborn is not in the population), in the module of its group in tests/oracle: from the "
        "words of the header, not from the select."
    )


def test_no_function_is_left_over() -> None:
    """A function of no measure would be thought to check something."""
    written = {
        name
        for group in GROUPS
        for name, found in vars(group).items()
        if is_measure(found) and found.__module__ == group.__name__
    }
    assert written == set(measure_files())


def example_members(measure_id: str, example: dict[str, Any]) -> list[Member]:
    """What the oracle says of one worked example."""
    header, given = read_header(measure_id), example.get("policy", {})
    several = given if isinstance(given, list) else [given]
    settings = Settings({"policy": [{"measure": measure_id, **one} for one in several]})
    return [
        member
        for newborn in example_newborns(example["given"])
        for setting in [settings.of(header, newborn.policy_date)]
        for facts in MEASURES[measure_id](newborn, setting)
        for member in members_of(header, setting, newborn, facts)
    ]


def _agrees(member: Member | None, row: dict[str, str]) -> bool:
    if member is None or member.state != row["state"]:
        return False
    if "minutes" in row and member.minutes != Fraction(row["minutes"]):
        return False
    return "reason" not in row or row["reason"] in member.reasons


@pytest.mark.parametrize(("measure_id", "example"), _examples())
def test_header_examples(measure_id: str, example: dict[str, Any]) -> None:
    """The oracle reads each header's prose as the header's own examples do."""
    found = {
        (member.record_id, member.measure_id, member.item): member
        for member in example_members(measure_id, example)
    }
    wrong = []
    expected = set()
    for row in pipe_rows(example["expect"]):
        key = (row["record_id"], row.get("measure_id", measure_id), int(row.get("item", 1)))
        expected.add(key)
        if not _agrees(found.get(key), row):
            wrong.append((f"expected {row}", f"found {found.get(key)}"))
    assert not wrong
    if not read_header(measure_id).bands:
        assert found.keys() == expected


def _states(export: UnitExport, measure_id: str) -> dict[str, str]:
    return {
        member.record_id: member.state
        for member in membership(export)
        if member.measure_id == measure_id
    }


def _wide(folder: Path, rows: list[dict[str, str]]) -> UnitExport:
    base = {"Birth Month": "2026-01", "Live": "Yes", "Born In": "Room", "Mode": "Vaginal"}
    return small_export("tansy_ridge", folder, admissions=[base | row for row in rows])


def _long(folder: Path, born: dict[str, str], **files: list[dict[str, str]]) -> UnitExport:
    newborns = [
        {"Study key": key, "Born at": at, "Room of birth": "birth room"} for key, at in born.items()
    ]
    return small_export("quillmere", folder, newborns=newborns, **files)


# Exact pairs of the two scales: Celsius = (Fahrenheit - 32) * 5 / 9.
@pytest.mark.parametrize(
    ("fahrenheit", "celsius", "band"),
    [
        ("97.7", "36.5", None),
        ("97.6", "36.44", "mild"),
        ("96.8", "36", "mild"),
        ("89.6", "32", "moderate"),
        ("89.5", "31.94", "severe"),
        ("99.5", "37.5", None),
        ("99.6", "37.56", "warm"),
    ],
)
def test_fahrenheit_edges(tmp_path: Path, fahrenheit: str, celsius: str, band: str | None) -> None:
    export = _wide(tmp_path, [{"Baby": "a", "First Temp": fahrenheit, "First Temp Time": "20"}])
    [row] = export.newborns[0].of_kind("observation", "temperature")
    assert row.get("value") == Fraction(celsius)
    found = {member.measure_id: member.state for member in membership(export)}
    for name in ("mild", "moderate", "severe"):
        assert (found[f"arrival_cold_{name}"] == "met") == (name == band)
    assert (found["arrival_cold_any"] == "met") == (band in {"mild", "moderate", "severe"})
    assert (found["warm_excess"] == "met") == (band == "warm")
    assert (found["arrival_temperature"] == "met") == (band is None)


def test_minute_60_is_in_time_and_61_late(tmp_path: Path) -> None:
    rows = [
        {"Baby": "at60", "First Temp": "98.2", "First Temp Time": "60"},
        {"Baby": "at61", "First Temp": "98.2", "First Temp Time": "61"},
    ]
    states = _states(_wide(tmp_path, rows), "first_temperature")
    assert states == {"at60": "met", "at61": "late"}


def test_half_a_minute_past_six_hours_is_late(tmp_path: Path) -> None:
    rows = [
        {"Baby": key, "VitK": "Given", "VitK Route": "IM", "VitK Time": time}
        for key, time in (("at360", "360"), ("past", "360.5"))
    ]
    assert _states(_wide(tmp_path, rows), "vitamin_k") == {"at360": "met", "past": "late"}


def test_refused_then_given(tmp_path: Path) -> None:
    """A numerator is never taken back; given after the window, the refusal still excuses."""
    born = {"in_time": "01/05/2026 08:00", "after": "01/05/2026 08:00"}
    refused = {"Medicine": "phytonadione", "Action": "declined", "Time": "01/05/2026 09:00"}
    dose = {"Medicine": "phytonadione", "Action": "Given ", "Route": "im"}
    medication = [
        {"Study key": "in_time", **refused},
        {"Study key": "in_time", **dose, "Time": "01/05/2026 13:00"},
        {"Study key": "after", **refused},
        {"Study key": "after", **dose, "Time": "01/05/2026 15:00"},
    ]
    export = _long(tmp_path, born, medication=medication)
    assert _states(export, "vitamin_k") == {"in_time": "met", "after": "exception"}


def test_status_unknown_at_2000_g_and_1999_g(tmp_path: Path) -> None:
    rows = [
        {
            "Baby": key,
            "Weight kg": weight,
            "Mother HepB": "Not known",
            "HepB": "Given",
            "HepB Time": "660",
        }
        for key, weight in (("at2000", "2"), ("at1999", "1.999"))
    ]
    states = _states(_wide(tmp_path, rows), "hepatitis_b_birth_dose")
    assert states == {"at2000": "met", "at1999": "not_documented"}


def test_positive_result_at_20_hours_is_unknown_at_12(tmp_path: Path) -> None:
    row = {
        "Baby": "a",
        "Weight kg": "3.1",
        "Mother HepB": "Pos",
        "HepB Known Min": "1200",
        "HepB": "Given",
        "HepB Time": "600",
        "HBIG": "Given",
        "HBIG Time": "1560",
    }
    assert _states(_wide(tmp_path, [row]), "hepatitis_b_birth_dose") == {"a": "met"}
    known_in_time = row | {"HepB Known Min": "720"}
    export = _wide(tmp_path / "again", [known_in_time])
    assert _states(export, "hepatitis_b_birth_dose") == {"a": "late"}


def test_elapsed_time_across_the_autumn_change(tmp_path: Path) -> None:
    """00:30 daylight time to 06:29 standard time is 419 minutes, not 359.

    US clocks go back at 02:00 on the first Sunday of November (IANA time zone database).
    """
    export = _long(
        tmp_path,
        {"a": "11/02/2025 00:30"},
        medication=[
            {
                "Study key": "a",
                "Medicine": "phytonadione",
                "Action": "given",
                "Route": "IM",
                "Time": "11/02/2025 06:29",
            }
        ],
    )
    [member] = [row for row in membership(export) if row.measure_id == "vitamin_k"]
    assert (member.state, member.minutes) == ("late", Fraction(419))


def test_the_hour_that_happens_twice() -> None:
    """Standard time is taken, as DuckDB does; the skipped hour keeps the offset before it."""
    duckdb = pytest.importorskip("duckdb")
    zone, form = "America/Chicago", "%m/%d/%Y %H:%M"
    for text in ("11/02/2025 01:10", "11/02/2025 00:59", "03/08/2026 02:30", "07/01/2025 12:00"):
        [seconds] = duckdb.execute(
            "select epoch(timezone(?, strptime(?, ?)))", [zone, text, form]
        ).fetchone()
        assert instant(text, (form,), zone) == dt.datetime.fromtimestamp(seconds, dt.UTC)
    assert instant("11/02/2025 01:10", (form,), zone).hour == 7


def test_birth_before_and_dose_after_the_clocks_went_back(tmp_path: Path) -> None:
    """Born 01:50, dose 01:10 on the same night: the text cannot say which hour it was.

    Both are read as standard time, so the dose seems to lie before the birth: unusable,
    never counted as in time by guess.
    """
    dose = {"Medicine": "phytonadione", "Action": "given", "Route": "IM"}
    export = _long(
        tmp_path,
        {"a": "11/02/2025 01:50"},
        medication=[{"Study key": "a", **dose, "Time": "11/02/2025 01:10"}],
    )
    assert _states(export, "vitamin_k") == {"a": "unusable"}


def test_transfer_at_40_minutes_ends_what_was_not_done(tmp_path: Path) -> None:
    """What was seen before counts: the reading at 15 minutes, 97.0 F, was cold."""
    row = {
        "Baby": "a",
        "Left To": "Transfer",
        "Left Unit Min": "40",
        "Left Room Min": "30",
        "Apgar1": "8",
        "Apgar5": "9",
        "Weight kg": "3.3",
        "Mother HepB": "Neg",
        "First Temp": "97.0",
        "First Temp Time": "15",
    }
    found = {member.measure_id: member.state for member in membership(_wide(tmp_path, [row]))}
    for measure_id in ("vitamin_k", "eye_ointment", "hepatitis_b_birth_dose", "size_triad"):
        assert found[measure_id] == "exception", measure_id
    assert found["first_temperature"] == "met"
    assert found["arrival_temperature"] == "not_met"
    assert found["arrival_cold_any"] == "met"
    assert found["warm_excess"] == "not_met"
    assert found["apgar_pair"] == "met"
    assert found["two_bands"] == "not_documented"
    assert found["skin_contact_start"] == "not_documented"
    assert found["cold_recheck"] == "exception"


def test_cooling_from_minute_30(tmp_path: Path) -> None:
    row = {
        "Baby": "a",
        "Cooling Start": "30",
        "First Temp": "96.0",
        "First Temp Time": "10",
        "Second Temp": "94.0",
        "Second Temp Time": "35",
    }
    found = {member.measure_id: member.state for member in membership(_wide(tmp_path, [row]))}
    assert found["first_temperature"] == "met"
    assert found["arrival_cold_any"] == "met"
    assert found["arrival_temperature"] == found["warm_excess"] == "not_met"
    # Read again at 35, when cooling was meant to keep it cold.
    assert found["cold_recheck"] == "exclusion"


def test_eye_ointment_into_a_muscle_does_not_count(tmp_path: Path) -> None:
    eyes = {"Eyes": "Given", "Eyes Time": "45", "Eyes Which": "Both"}
    rows = [
        {"Baby": "eye", **eyes, "Eyes Route": "Eye"},
        {"Baby": "muscle", **eyes, "Eyes Route": "IM"},
    ]
    states = _states(_wide(tmp_path, rows), "eye_ointment")
    assert states == {"eye": "met", "muscle": "not_met"}


def test_an_event_before_birth_is_unusable(tmp_path: Path) -> None:
    row = {"Baby": "a", "First Temp": "98.0", "First Temp Time": "-3"}
    assert _states(_wide(tmp_path, [row]), "first_temperature") == {"a": "unusable"}


def test_nobody_eligible_gives_no_rate() -> None:
    result = result_of(["exception", "exclusion"], "not_met")
    assert (result.denominator, result.exception, result.rate) == (1, 1, None)
    assert (result.lower, result.upper, result.if_none_met, result.if_all_met) == (None,) * 4


def test_bounds_and_left_out() -> None:
    states = ["met"] * 6 + ["late"] * 2 + ["not_documented"] + ["unusable"] + ["exception"]
    counted, left_out = result_of(states, "not_met"), result_of(states, "left_out")
    assert (counted.rate, left_out.rate) == (0.6, 0.75)
    assert (counted.if_none_met, counted.if_all_met) == (0.6, 0.8)


@pytest.mark.parametrize(("met", "total"), [(0, 10), (10, 10), (57, 60), (1, 3)])
def test_wilson_agrees_with_statsmodels(met: int, total: int) -> None:
    assert wilson(met, total) == pytest.approx(
        proportion_confint(met, total, method="wilson"), abs=1e-12
    )


def test_a_later_line_of_the_same_record_is_set_aside(tmp_path: Path) -> None:
    rows = [{"Baby": "a", "Apgar1": "8", "Apgar5": "9"}, {"Baby": "a"}, {"Baby": ""}]
    export = _wide(tmp_path, rows)
    assert [newborn.admission.source_line for newborn in export.newborns] == [2]
    assert [row.source_line for row in export.rejected] == [3, 4]
    assert _states(export, "apgar_pair") == {"a": "met"}


def test_a_flagged_cell_is_masked(tmp_path: Path) -> None:
    rows = [
        {
            "Baby": "a",
            "First Temp": "98.0",
            "First Temp Time": "10",
            "Second Temp": "98.0",
            "Second Temp Time": "70",
        }
    ]
    assert _states(_wide(tmp_path, rows), "first_temperature") == {"a": "met"}
    first = FlaggedCell("observation", "admissions.csv", 2, "value", place=2)
    export = read_export(unit_toml("tansy_ridge"), tmp_path, {first})
    assert _states(export, "first_temperature") == {"a": "late"}
    both = FlaggedCell("observation", "admissions.csv", 2, "value")
    export = read_export(unit_toml("tansy_ridge"), tmp_path, {both})
    assert _states(export, "first_temperature") == {"a": "unusable"}


def test_text_that_is_no_value_is_unusable(tmp_path: Path) -> None:
    rows = [
        {"Baby": "a", "First Temp": "98,0", "First Temp Time": "10"},
        {"Baby": "b", "First Temp": "98.0", "First Temp Time": "ten"},
        {"Baby": "c", "First Temp": "150", "First Temp Time": "10"},
    ]
    states = _states(_wide(tmp_path, rows), "first_temperature")
    assert states == dict.fromkeys("abc", "unusable")


def test_halves_are_rounded_away_from_zero() -> None:
    assert round_half_up(Fraction("36.445"), 2) == Fraction("36.45")
    assert round_half_up(Fraction("-0.5"), 0) == -1

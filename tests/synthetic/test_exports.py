"""Exports are the truth in the unit's own words, read back here by an independent parser."""

import datetime as dt
import hashlib
import itertools
import math
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd
import pytest

from pipelines.base.errors import ExportError
from pipelines.definitions.read_units import find_unit, read_unit
from synthetic_data import generate, write_exports

from .conftest import Run, make_run

CHICAGO = ZoneInfo("America/Chicago")


def _digests(folder: Path) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(folder.glob("*"))}


@pytest.mark.slow
def test_same_seed_same_bytes(run: Run, tmp_path: Path) -> None:
    again = make_run(run.unit.id, tmp_path)
    assert _digests(again.folder) == _digests(run.folder)
    pd.testing.assert_frame_equal(again.ledger, run.ledger)


def test_another_seed_other_newborns() -> None:
    unit = find_unit("tansy_ridge")
    first = generate(unit, n_months=1, births_per_month=50, seed=1).tables["admission"]
    second = generate(unit, n_months=1, births_per_month=50, seed=2).tables["admission"]
    assert not first["weight_g"].head(30).equals(second["weight_g"].head(30))


def _instant(text: str) -> dt.datetime | None:
    """Read a local clock time with the standard library; None where it may be either hour."""
    wall = dt.datetime.strptime(text, "%m/%d/%Y %H:%M").replace(tzinfo=CHICAGO)
    either = wall.utcoffset() != wall.replace(fold=1).utcoffset()
    return None if either else wall.astimezone(dt.UTC)


def _clean(run: Run, tmp_path: Path) -> Run:
    write_exports(run.truth.tables, run.unit, tmp_path, seed=5)
    return Run(run.unit, run.truth, run.truth.tables, run.ledger, tmp_path)


def test_clock_times_give_back_the_minutes(quillmere: Run, tmp_path: Path) -> None:
    clean = _clean(quillmere, tmp_path)
    births = {r["Study key"]: _instant(r["Born at"]) for r in clean.records("newborns*.csv")}
    read = []
    for row in clean.records("medication*.csv"):
        born = births[row["Study key"]]
        at = _instant(row["Time"]) if row["Time"] else None
        if born and at:
            read.append((row["Study key"], (at - born).total_seconds() / 60))
    dose = clean.tables["dose"].dropna(subset="minutes")
    true = sorted(zip(dose["record_id"].astype(str), dose["minutes"], strict=True))
    unclear = len(true) - len(read)
    assert 0 <= unclear < 40  # the hours that the clock shows twice, in two autumns
    assert set(read) <= set(true)


def test_the_clock_changes_within_the_data(quillmere: Run) -> None:
    """Some newborns live through a change of the clock; wall-clock minutes would be wrong."""
    babies = quillmere.truth.tables["admission"].set_index("newborn")
    care = quillmere.truth.tables["care"].dropna(subset="minutes")
    born = babies.loc[care["newborn"], ["birth_at", "birth_time"]].reset_index(drop=True)
    at = born["birth_at"] + pd.to_timedelta(care["minutes"].to_numpy(), unit="min")
    wall = at.dt.tz_localize("UTC").dt.tz_convert("America/Chicago").dt.tz_localize(None)
    by_wall = (wall - born["birth_time"]).dt.total_seconds() / 60
    assert set((by_wall - care["minutes"].to_numpy()).unique()) == {0.0, 60.0, -60.0}


def test_minutes_stand_as_minutes(tansy_ridge: Run, tmp_path: Path) -> None:
    rows = {r["Baby"]: r for r in _clean(tansy_ridge, tmp_path).records("admissions*.csv")}
    dose = tansy_ridge.truth.tables["dose"]
    vitamin_k = dose[dose["kind"] == "vitamin_k"].dropna(subset="minutes")
    assert len(vitamin_k) > 1000
    for key, minutes in zip(vitamin_k["record_id"], vitamin_k["minutes"], strict=True):
        assert float(rows[key]["VitK Time"]) == minutes


def test_wide_readings_in_order_and_in_fahrenheit(tansy_ridge: Run, tmp_path: Path) -> None:
    rows = {r["Baby"]: r for r in _clean(tansy_ridge, tmp_path).records("admissions*.csv")}
    readings = tansy_ridge.truth.tables["observation"]
    temps = readings[readings["kind"] == "temperature"]
    for key, each in temps.groupby("record_id", observed=True):
        row = rows[str(key)]
        slots = ("First", "Second", "Third", "Fourth", "Fifth")
        shown = [row[f"{nth} Temp"] for nth in slots if row[f"{nth} Temp"]]
        assert len(shown) == len(each)
        for text, celsius in zip(shown, each["value"], strict=True):
            assert (float(text) - 32) * 5 / 9 == pytest.approx(celsius, abs=0.0051)


def test_sizes_stand_in_the_unit_of_the_column(tansy_ridge: Run, tmp_path: Path) -> None:
    rows = {r["Baby"]: r for r in _clean(tansy_ridge, tmp_path).records("admissions*.csv")}
    for newborn in tansy_ridge.truth.tables["admission"].itertuples():
        row = rows[newborn.record_id]
        weight = float(row["Weight kg"]) * 1000 if row["Weight kg"] else math.nan
        assert weight == pytest.approx(newborn.weight_g, nan_ok=True)
        assert int(row["GA Weeks"]) * 7 + int(row["GA Days"]) == newborn.gestational_age_days


def test_codes_stand_on_the_recode_lists(run: Run, tmp_path: Path) -> None:
    """Without faults, every code is on its list once blanks and case are set aside."""
    clean = _clean(run, tmp_path)
    for file in run.unit.files:
        records = clean.records(file.pattern)
        for take in file.takes:
            for source in take.sources.values():
                if source.recode:
                    known = {word.casefold() for word in run.unit.recodes[source.recode]}
                    written = {row[source.columns[0]].strip().casefold() for row in records}
                    assert written - {""} <= known


def test_mess_is_there(run: Run) -> None:
    paths = [path for file in run.unit.files for path in sorted(run.folder.glob(file.pattern))]
    contents = [path.read_bytes() for path in paths]
    assert sum(text.startswith(b"\xef\xbb\xbf") for text in contents) == 1
    assert sum(b"\r\n" in text for text in contents) == 1
    assert len(paths) > len(run.unit.files)
    text = contents[0].decode("utf-8-sig")
    header = text.splitlines()[0].split(run.unit.files[0].delimiter)
    assert set(header) > set(run.unit.files[0].local_columns)
    assert '""fine""' in text


def test_event_lines_are_out_of_order(quillmere: Run) -> None:
    keys = [row["Study key"] for row in quillmere.records("flowsheet*.csv")]
    returns = 0
    for place, (key, following) in enumerate(itertools.pairwise(keys)):
        returns += key != following and key in keys[place + 2 : place + 9]
    assert returns > 100


OTHER_UNIT = """
id = "other"
title = "Another fictional unit"
[time]
form = "clock"
zone = "Australia/Lord_Howe"
formats = ["%Y-%m-%d %H:%M"]
[[files]]
pattern = "births.csv"
delimiter = "\\t"
encoding = "latin-1"
[[files.takes]]
table = "admission"
[files.takes.columns]
record_id = "Key"
birth_time = { from = ["Day", "Clock"] }
gestational_age_days = { from = "Weeks", form = "completed_weeks" }
weight_g = { from = "Pounds", unit = "[lb_av]" }
length_cm = { from = "Inches", unit = "[in_i]" }
[[files]]
pattern = "readings*.csv"
[[files.takes]]
table = "observation"
[files.takes.columns]
record_id = "Key"
kind = { from = "Sign", recode = "sign" }
minutes = { from = ["Day", "Clock"] }
value = { from = "Value", unit = { glucose = "mmol/L", temperature = "[degF]" } }
[recodes.sign]
BGL = "glucose"
T = "temperature"
"""


def test_a_unit_of_another_shape(tmp_path: Path) -> None:
    """Pounds, inches, mmol/L, whole weeks, date apart from time, a half-hour clock change."""
    path = tmp_path / "other.toml"
    path.write_text(OTHER_UNIT, encoding="utf-8")
    unit = read_unit(path)
    truth = generate(unit, n_months=8, births_per_month=40, seed=3)
    folder = tmp_path / "out"
    write_exports(truth.tables, unit, folder)
    clean = Run(unit, truth, truth.tables, pd.DataFrame(), folder)
    zone, babies = ZoneInfo("Australia/Lord_Howe"), {}
    rows = {row["Key"]: row for row in clean.records("births.csv")}
    for newborn in truth.tables["admission"].itertuples():
        row = rows[newborn.record_id]
        wall = dt.datetime.fromisoformat(f"{row['Day']} {row['Clock']}").replace(tzinfo=zone)
        babies[newborn.record_id] = wall
        assert int(row["Weeks"]) * 7 + 3 == newborn.gestational_age_days
        if row["Pounds"]:
            assert float(row["Pounds"]) * 453.59237 == pytest.approx(newborn.weight_g, abs=0.06)
        if row["Inches"]:
            assert float(row["Inches"]) * 2.54 == pytest.approx(newborn.length_cm, abs=0.006)
    signs = {row["Sign"].strip().upper() for row in clean.records("readings*.csv")}
    assert signs == {"BGL", "T"}
    assert set(truth.tables["observation"]["kind"].unique()) == {"glucose", "temperature"}
    glucose = truth.tables["observation"].query("kind == 'glucose'")["value"]
    shown = [float(r["Value"]) for r in clean.records("readings*.csv") if "B" in r["Sign"].upper()]
    # 1 mmol/L is 18.0156 mg/dL: molar mass of glucose 180.156 g/mol.
    assert sorted(v * 18.0156 for v in shown) == pytest.approx(sorted(glucose), abs=0.006)


def test_a_stranger_in_the_folder_is_refused(tmp_path: Path) -> None:
    unit = find_unit("tansy_ridge")
    truth = generate(unit, n_months=1, births_per_month=10)
    (tmp_path / "admissions_old.csv").write_text("x", encoding="utf-8")
    with pytest.raises(ExportError, match=r"admissions_old\.csv.*empty folder"):
        write_exports(truth.tables, unit, tmp_path)


def test_what_the_generator_knows_of_newborns_is_written(run: Run, tmp_path: Path) -> None:
    """A yes or no with gaps was once written as blanks only, and every rate on it was wrong."""
    clean = _clean(run, tmp_path)
    babies = clean.tables["admission"]
    for file in run.unit.files:
        lines = clean.records(file.pattern)
        for take in (take for take in file.takes if take.table == "admission"):
            for name, source in take.sources.items():
                # Few are still below 7 at ten minutes: here nobody.
                is_rare = name in {"apgar_15", "apgar_20"}
                if name not in babies or not source.columns or is_rare:
                    continue
                filled = sum(any(line[local] for local in source.columns) for line in lines)
                known = int(babies[name].notna().sum())
                assert known > 0, name
                assert filled >= 0.95 * known, f"{file.pattern} {name}: {filled} of {known}"

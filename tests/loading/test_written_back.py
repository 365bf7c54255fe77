"""The round trip of a dry run: what is read but means another thing shows, by column."""

from pathlib import Path

import pytest

from pipelines.build.every_stage import build_store
from pipelines.build.told import build_words
from pipelines.definitions.read_units import read_unit
from tests.loading.awkward.cases_times import offset
from tests.loading.awkward.truth import NEWBORNS, rows, stamp, text, unit


def dry_run(folder: Path, unit_text: str, table: list[dict[str, str]]) -> str:
    unit_file = folder / "my_unit.toml"
    unit_file.write_text(unit_text, encoding="utf-8")
    exports = folder / "exports"
    exports.mkdir()
    (exports / "babies.csv").write_text(text(table), encoding="utf-8")
    store = folder / "store.duckdb"
    return build_words(build_store([(read_unit(unit_file), exports)], store, is_dry=True))


@pytest.mark.build
def test_what_is_read_rightly_comes_back(tmp_path: Path) -> None:
    said = dry_run(tmp_path, unit(), rows())
    cells = 7 * len(NEWBORNS)  # birth, weight, length, gestation, apgar, temperature, its time
    assert f"Written back as declared: {cells} of {cells} sampled numbers and times" in said
    assert "entries are not the export's text" not in said


@pytest.mark.build
def test_an_hour_that_no_clock_showed_is_counted(tmp_path: Path) -> None:
    """At 02:30 on 29 March 2026 no clock in Berlin stood (EU clocks go from 02:00 to 03:00)."""
    table = rows(born=lambda one: "2026-03-29 02:30" if one.key == "B1"
                 else stamp("%Y-%m-%d %H:%M")(one.born))  # fmt: skip
    said = dry_run(tmp_path, unit(), table)
    assert (
        "my_unit.toml: column 'born' of babies.csv (admission.birth_time): 1 of 8 sampled entries "
        "are not the export's text when they are written back as declared" in said
    )
    assert "02:30" not in said


@pytest.mark.build
def test_the_dry_runs_own_advice_on_offsets_leads_to_a_right_reading(tmp_path: Path) -> None:
    """The form that the dry run names for unread times reads every one of them rightly."""
    once = rows(born=lambda one: offset(one.born), taken=lambda one: offset(one.taken))
    table = [row | {"key": f"{row['key']}x{turn}"} for turn in range(2) for row in once]
    first, second = tmp_path / "first", tmp_path / "second"
    first.mkdir()
    second.mkdir()
    said = dry_run(first, unit(time='formats = ["%Y-%m-%d %H:%M"]'), table)
    assert "They look like '9999-99-99x99:99:99+99:99'" in said
    advised = said.split("under [time] write ")[1].split(".\n")[0]
    assert advised == 'formats = ["%Y-%m-%dT%H:%M:%S%z"]'
    again = dry_run(second, unit(time=advised), table)
    assert "could not be read" not in again
    assert f"Written back as declared: {2 * 7 * len(NEWBORNS)} of {2 * 7 * len(NEWBORNS)}" in again


@pytest.mark.build
def test_codes_for_nothing_are_counted_by_column(tmp_path: Path) -> None:
    table = rows(apgar=lambda one: "88" if one.key in {"B1", "B2"} else str(one.apgar))
    said = dry_run(tmp_path, unit(apgar_5='{ from = "apgar", missing = ["88"] }'), table)
    assert "read as missing by their code: apgar (2)" in said

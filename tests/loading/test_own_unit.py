"""A unit of one's own: what a new user's first build says when the unit's file has a slip."""

import doctest
import subprocess
import sys
from pathlib import Path

import pytest

from pipelines.base.errors import ExportError
from pipelines.base.store_file import open_store
from pipelines.build.every_stage import BuildSummary, build_store
from pipelines.build.told import build_words
from pipelines.definitions.read_units import read_unit
from pipelines.stages.raw import time_forms

UNIT_FILE = Path(__file__).parent / "larkspur.toml"
MADE = ("--months", "3", "--births-per-month", "40", "--start", "2026-01")


@pytest.fixture(scope="module")
def exports(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("made")
    made = [sys.executable, "-m", "synthetic_data", "--out", str(out), "--unit", str(UNIT_FILE)]
    subprocess.run([*made, *MADE], check=True, capture_output=True)
    return out / "exports" / "larkspur"


def built(exports: Path, folder: Path, **slips: str) -> tuple[BuildSummary, Path]:
    """Build with the unit's file, in which each text of ``slips`` stands in place of another."""
    text = UNIT_FILE.read_text(encoding="utf-8")
    for right, wrong in slips.items():
        assert right in text
        text = text.replace(right, wrong)
    path = folder / "my_unit.toml"
    path.write_text(text, encoding="utf-8")
    store = folder / "store.duckdb"
    return build_store([(read_unit(path), exports)], store), store


def test_examples_of_time_forms() -> None:
    assert doctest.testmod(time_forms).failed == 0


@pytest.mark.build
def test_a_right_file_gives_no_doubt_and_reads_every_word(exports: Path, tmp_path: Path) -> None:
    """A sharp s in a recode list is the same letter in the export (it was read as ss)."""
    summary, store = built(exports, tmp_path)
    assert summary.unit_doubts == []
    assert "Look at the unit file" not in build_words(summary)
    with open_store(store) as connection:
        places = dict(
            connection.execute("select birth_place, count(*) from newborn group by all").fetchall()
        )
    assert places["birth_room"] > 60, "the word is written with a sharp s"


@pytest.mark.build
def test_times_of_another_form_are_named_with_the_form_to_write(
    exports: Path, tmp_path: Path
) -> None:
    slip = {'formats = ["%d.%m.%Y %H:%M"]': 'formats = ["%Y-%m-%d %H:%M"]'}
    summary, _ = built(exports, tmp_path, **slip)
    assert len(summary.unit_doubts) == 1
    said = summary.unit_doubts[0]
    assert said.startswith("my_unit.toml: ")
    assert "(column 'Geburt') and " in said
    assert (
        "They look like '99.99.9999 99:99': under [time] write formats = [\"%d.%m.%Y %H:%M\"]"
        in said
    )
    assert said in build_words(summary)


@pytest.mark.build
def test_months_before_days_are_refused_with_both_readings(exports: Path, tmp_path: Path) -> None:
    """Two of five dates would fit, with the month and the day changed over: nothing is stored."""
    slip = {'formats = ["%d.%m.%Y %H:%M"]': 'formats = ["%m.%d.%Y %H:%M"]'}
    with pytest.raises(ExportError) as refused:
        built(exports, tmp_path, **slip)
    said = str(refused.value)
    assert "column 'Geburt'" in said
    assert "'04.03.2026 07:00' is 3 April 2026 07:00 as '%m.%d.%Y %H:%M'" in said
    assert "and 4 March 2026 07:00 as '%d.%m.%Y %H:%M'" in said
    assert 'formats = ["%d.%m.%Y %H:%M"]' in said
    assert not (tmp_path / "store.duckdb").exists()


@pytest.mark.build
def test_a_unit_of_measure_a_column_and_a_word_are_named(exports: Path, tmp_path: Path) -> None:
    slips = {'unit = "kg"': 'unit = "g"', '"Länge (cm)"': '"Laenge (cm)"', "OP =": "Saal ="}
    summary, _ = built(exports, tmp_path, **slips)
    assert len(summary.unit_doubts) == 2
    weight, word = summary.unit_doubts
    assert "entries of admission.weight_g (column 'Gewicht (kg)')" in weight
    assert "would fit if another unit had been used" in weight
    assert "the word 'OP' stands " in word
    assert "admission.birth_place (column 'Geburtsraum')" in word
    notes = " ".join(str(note) for note in summary.files["note"])
    assert "columns missing: Laenge (cm) (did you mean 'Länge (cm)'?)" in notes

"""A changed form of the exports is named with what it probably is, and stops or goes on as said.

Every export here is made up; what a person would expect of each change is written beside it.
"""

from pathlib import Path

import duckdb
import pytest

from pipelines.base.errors import DeclarationError, ExportError
from pipelines.build.every_stage import open_exports, read_guarded
from pipelines.definitions.read_units import Unit, read_unit
from pipelines.definitions.shape_lines import read_shape_lines
from pipelines.memory.shape import Shape, changes, compare_shapes, shape_of

UNIT = """
id = "fern"
title = "Fern"
{shape}
[time]
form = "clock"
zone = "Europe/Berlin"
[[files]]
pattern = "born*.csv"
[[files.takes]]
table = "admission"
[files.takes.columns]
record_id = "Key"
birth_time = "Born"
sex = {{ from = "Sex", recode = "sex" }}
weight_g = {{ from = "{weight}", unit = "{unit}" }}
[recodes.sex]
female = "female"
male = "male"
"""
NURSE = "Sieglinde Quarz"


def unit(folder: Path, shape: str = "", weight: str = "Weight", measured: str = "g") -> Unit:
    path = folder / "fern.toml"
    path.write_text(UNIT.format(shape=shape, weight=weight, unit=measured), encoding="utf-8")
    return read_unit(path)


def lay(folder: Path, header: str, rows: list[str]) -> Path:
    folder.mkdir()
    (folder / "born.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return folder


def rows(sex: str = "female", weight: float = 3400, more: str = "") -> list[str]:
    return [
        f"K{n},2026-03-{n + 1:02} 07:0{n % 10},{sex},{weight + n * weight / 100:g}{more}"
        for n in range(12)
    ]


HEADER = "Key,Born,Sex,Weight"


def told(tmp_path: Path, of: Unit, header: str, now: list[str], before: Unit | None = None) -> str:
    """Return what is said of a delivery that follows one of the plain form."""
    shapes = {}
    first = lay(tmp_path / "first", HEADER, rows())
    second = lay(tmp_path / "second", header, now)
    with duckdb.connect() as connection:
        connection.execute("attach ':memory:' as raw")
        for read_by, folder in ((before or of, first), (of, second)):
            raws = open_exports(read_by, folder)
            for raw in raws:
                read_guarded(connection, raw)
            shapes[folder] = [shape_of(connection, raw) for raw in raws]
        said = compare_shapes(raws, shapes[second], {"born*.csv": shapes[first]})
        assert all(words.split(": ", 1)[1].rstrip(".") in " ".join(raws[0].notes) for words in said)
    return "\n".join(said)


def test_the_same_form_says_nothing(tmp_path: Path) -> None:
    assert told(tmp_path, unit(tmp_path), HEADER, rows(weight=3300)) == ""


def test_a_renamed_column_stops_and_is_named(tmp_path: Path) -> None:
    with pytest.raises(ExportError) as stop:
        told(tmp_path, unit(tmp_path), "Key,Born,Sex,Weight g", rows())
    assert "column 'Weight' is not there; 'Weight g' is new: was it renamed?" in str(stop.value)
    assert 'missing_column = "go_on" under [shape]' in str(stop.value)
    assert "fern.toml" in str(stop.value)


def test_once_the_unit_s_file_has_the_new_name_it_goes_on(tmp_path: Path) -> None:
    (tmp_path / "old").mkdir()
    before, now = unit(tmp_path / "old"), unit(tmp_path, weight="Weight g")
    said = told(tmp_path, now, "Key,Born,Sex,Weight g", rows(), before)
    assert said == "born.csv: columns no longer there, and not mapped: Weight."


def test_what_the_unit_s_file_lets_pass_goes_on(tmp_path: Path) -> None:
    of = unit(tmp_path, 'shape = { missing_column = "go_on" }')
    assert "was it renamed?" in told(tmp_path, of, "Key,Born,Sex,Weight g", rows())


def test_an_empty_column_stops(tmp_path: Path) -> None:
    empty = [line.rpartition(",")[0] + "," for line in rows()]
    with pytest.raises(ExportError, match="column 'Weight' is there and empty"):
        told(tmp_path, unit(tmp_path), HEADER, empty)


def test_a_column_that_is_seldom_filled_may_be_empty_in_a_month() -> None:
    """Forty of a thousand entries, and none of a hundred: chance gives that once in fifty."""
    year = Shape(1000, ["Key", "Detail"], {"Key": 1000, "Detail": 40})
    month = Shape(100, ["Key", "Detail"], {"Key": 100, "Detail": 0})
    assert changes(year, month, ["Key", "Detail"], {}) == []
    often = Shape(1000, ["Key", "Detail"], {"Key": 1000, "Detail": 400})
    assert changes(often, month, ["Key", "Detail"], {}) != []


def test_a_new_column_is_named_and_goes_on_unless_it_shall_stop(tmp_path: Path) -> None:
    header, now = f"{HEADER},Length", rows(more=",50")
    assert "new columns that are not mapped: Length" in told(tmp_path, unit(tmp_path), header, now)
    (tmp_path / "other").mkdir()
    of = unit(tmp_path / "other", 'shape = { new_column = "stop" }')
    with pytest.raises(ExportError, match="Length"):
        told(tmp_path / "other", of, header, now)


def test_a_new_code_is_named_with_the_nearest_listed(tmp_path: Path) -> None:
    said = told(tmp_path, unit(tmp_path), HEADER, rows(sex="Female sex"))
    assert "the word 'Female sex' (12 times) is new and on no list" in said
    assert "nearest" not in said or "'female'" in said


def test_a_word_that_may_be_a_name_is_only_counted(tmp_path: Path) -> None:
    said = told(tmp_path, unit(tmp_path), HEADER, [*rows(), f"K99,2026-03-20 07:00,{NURSE},3400"])
    assert "column 'Sex': entries on no recode list, not said here: 1" in said
    assert NURSE not in said


@pytest.mark.parametrize("weight", [3.4, 7.5, 120])  # kilograms, pounds, ounces
def test_another_unit_of_measurement_stops(tmp_path: Path, weight: float) -> None:
    with pytest.raises(ExportError, match=r"column 'Weight': .* another unit of measurement\?"):
        told(tmp_path, unit(tmp_path), HEADER, rows(weight=weight))


def test_once_the_unit_is_declared_it_goes_on(tmp_path: Path) -> None:
    (tmp_path / "old").mkdir()
    before, now = unit(tmp_path / "old"), unit(tmp_path, measured="kg")
    assert told(tmp_path, now, HEADER, rows(weight=3.4), before) == ""


def test_a_setting_that_is_not_known_is_refused() -> None:
    with pytest.raises(DeclarationError, match=r"\[shape\]: key 'new_colum' is not known"):
        read_shape_lines("fern.toml", {"new_colum": "stop"})
    with pytest.raises(DeclarationError, match=r"new_code: 'halt' is not known"):
        read_shape_lines("fern.toml", {"new_code": "halt"})

"""A draft of a unit's file: what a new user gets from a folder of exports, and completes."""

import tomllib
from pathlib import Path

import pytest

from pipelines.base.errors import DeclarationError
from pipelines.cli import main
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import read_unit
from pipelines.drafts.unit import draft
from synthetic_data.__main__ import main as make_exports

LARKSPUR = Path(__file__).parents[1] / "loading" / "larkspur.toml"
# What a person who knows the export has to write: no content says in which zone clocks hang.
COMPLETED = {'zone = ""': 'zone = "Europe/Berlin"'}


def exports_of(unit: str, folder: Path) -> Path:
    made = ("--months", "3", "--births-per-month", "40", "--start", "2026-01")
    assert make_exports(["--out", str(folder), "--unit", unit, *made]) == 0
    return folder / "exports" / (Path(unit).stem)


@pytest.fixture(scope="module")
def larkspur(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return exports_of(str(LARKSPUR), tmp_path_factory.mktemp("larkspur"))


def test_the_draft_says_how_the_files_are_written(
    larkspur: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "larkspur.toml"
    assert main(["new-unit", "larkspur", "--exports", str(larkspur), "--out", str(out)]) == 0
    assert "--dry-run" in capsys.readouterr().out
    told, known = (tomllib.loads(path.read_text(encoding="utf-8")) for path in (out, LARKSPUR))
    file = told["files"][0]
    assert (file["delimiter"], file["encoding"]) == (";", "cp1252")
    assert told["time"]["formats"] == known["time"]["formats"]
    takes = file["takes"][0]["columns"]
    assert takes["record_id"] == "Schlüssel"
    assert takes["birth_time"] == "Geburt"
    assert takes["weight_g"] == {"from": "Gewicht (kg)", "unit": "kg"}
    assert told["recodes"]["geschlecht"]["weiblich"] == "female"


def test_an_unfinished_draft_is_refused_with_the_key(larkspur: Path, tmp_path: Path) -> None:
    path = tmp_path / "larkspur.toml"
    path.write_text(draft("larkspur", larkspur)[0], encoding="utf-8")
    with pytest.raises(DeclarationError, match=r"zone '' is not in the time zone database"):
        read_unit(path)


def test_a_word_without_a_meaning_is_refused(larkspur: Path, tmp_path: Path) -> None:
    """Of a stillbirth, an empty meaning would be read as a live birth."""
    text, _ = draft("larkspur", larkspur)
    text = text.replace('zone = ""', 'zone = "Europe/Berlin"')
    text = text.replace('"ja" = "true"', '"ja" = ""')
    path = tmp_path / "larkspur.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DeclarationError, match=r"\[recodes\.lebend\] 'ja': no meaning is given"):
        read_unit(path)


def test_a_column_with_few_times_does_not_choose_the_form(tmp_path: Path) -> None:
    """Its few days fit both orders; the others fit one."""
    folder = tmp_path / "in"
    folder.mkdir()
    rows = [
        f"K{n},{'03/04/2026 07:00' if n == 3 else ''},03/{n}/2026 07:00,03/{n}/2026 08:00"
        for n in range(13, 28)
    ]
    rows[0] = "K0,03/04/2026 07:00,03/13/2026 07:00,03/13/2026 08:00"
    (folder / "a.csv").write_text("\n".join(["Key,Rare,Born,Left", *rows]), encoding="utf-8")
    assert tomllib.loads(draft("a", folder)[0])["time"]["formats"] == ["%m/%d/%Y %H:%M"]


@pytest.mark.build
def test_a_completed_draft_builds(
    larkspur: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text, _ = draft("larkspur", larkspur)
    for line, complete in COMPLETED.items():
        assert line in text
        text = text.replace(line, complete, 1)
    path = tmp_path / "larkspur.toml"
    path.write_text(text, encoding="utf-8")
    store = tmp_path / "store.duckdb"
    build = ["build", "--unit", str(path), "--exports", str(larkspur), "--store", str(store)]
    assert main(build) == 0
    said = capsys.readouterr().out
    assert "Look at the unit file" not in said
    assert f"Next: lanugo review --store {store} --unit larkspur\n" in said, "the id, not the file"


def test_every_column_of_the_admission_can_be_filled_in(larkspur: Path) -> None:
    text, _ = draft("larkspur", larkspur)
    for name, column in read_contract()["admission"].columns.items():
        by_minutes = name.startswith("birth_") and column.type in {"month", "integer"}
        assert (f"{name} = " in text) is not by_minutes
        assert all(word in text for word in column.allowed)


@pytest.mark.slow
def test_several_files_and_minutes(tmp_path: Path) -> None:
    """The wide one names columns as the contract does; of the long one every file is there."""
    wide = draft("tansy", exports_of("tansy_ridge", tmp_path / "wide"))[0]
    told = tomllib.loads(wide.replace(' = ""', ' = "x"'))
    assert told["time"] == {"form": "minutes"}
    takes = told["files"][0]["takes"][0]["columns"]
    assert takes["weight_g"] == {"from": "Weight kg", "unit": "kg"}
    assert takes["sex"]["recode"] in told["recodes"]
    kinds = [take["columns"].get("kind") for take in told["files"][0]["takes"][1:]]
    assert {"value": "vitamin_k"} in kinds
    text = draft("quillmere", exports_of("quillmere", tmp_path / "long"))[0]
    for name in ("newborns", "flowsheet", "medication", "care", "examination"):
        assert f'pattern = "{name}' in text
    assert "%m/%d/%Y %H:%M" in text


def test_no_single_value_and_no_markup_of_toml_gets_in(tmp_path: Path) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    rows = [f"K{n},{'girl' if n % 2 else 'boy'},note {n}" for n in range(40)]
    rows[7] = 'K7,"a name, once",note'
    hostile = 'Se"x\\'
    header = f'Key,"{hostile.replace(chr(34), chr(34) * 2)}",Note'
    (folder / "a.csv").write_text("\n".join([header, *rows]), encoding="utf-8")
    text, levels = draft("a", folder)
    takes = tomllib.loads(text)["files"][0]["takes"][0]["columns"]
    assert takes == {"record_id": "Key", "sex": {"from": hostile, "recode": "se_x"}}
    assert tomllib.loads(text)["recodes"]["se_x"] == {"girl": "female", "boy": "male"}
    assert "a name, once" not in text
    assert "note 1" not in text
    assert levels == {"sure": 2}


def test_nothing_is_written_over_and_mistakes_are_said(
    larkspur: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "mine.toml"
    out.write_text("id = 1", encoding="utf-8")
    new = ["new-unit", "mine", "--exports", str(larkspur), "--out", str(out)]
    assert main(new) == 3
    said = capsys.readouterr().err
    assert "there is such a file already, and it is not of unit 'mine'" in said
    assert out.read_text(encoding="utf-8") == "id = 1"
    assert main(["new-unit", "Mine!", "--exports", str(larkspur)]) == 3
    assert "cannot name a unit" in capsys.readouterr().err
    (tmp_path / "sheet.xlsx").write_bytes(b"PK")
    assert main(["new-unit", "mine", "--exports", str(tmp_path), "--out", str(out) + "2"]) == 4
    assert "sheet.xlsx: the workbook cannot be opened" in capsys.readouterr().err

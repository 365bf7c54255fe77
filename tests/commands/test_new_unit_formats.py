"""A draft from every format that is read proposes what that from CSV of the same newborns does."""

import gzip
import json
import tomllib
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from pipelines.definitions.read_units import find_unit, read_unit
from pipelines.drafts.unit import draft, write_draft
from synthetic_data import write_demo
from synthetic_data.fhir import write_fhir
from tests.loading import same_newborns
from tests.once import Once

SECRET = "Zyrquell"


@pytest.fixture(scope="module")
def exports(once: Once) -> Path:
    def make(folder: Path) -> Path:
        written = write_demo(folder, seed=2, units=["quillmere"], n_months=2, births_per_month=60)
        return written.exports["quillmere"]

    return once("new_unit_formats", make)


def packed(exports: Path, out: Path) -> str:
    for path in exports.glob("*.csv"):
        (out / f"{path.name}.gz").write_bytes(gzip.compress(path.read_bytes()))
    return ""


def sources(text: str) -> set[tuple[str, str, str]]:
    """Return (table, canonical column, local column) of every live proposal."""
    found = set()
    for file in tomllib.loads(text)["files"]:
        for take in file["takes"]:
            for name, source in take["columns"].items():
                local = source.get("from") if isinstance(source, dict) else source
                found.add((take["table"], name, str(local)))
    return found


@pytest.mark.slow
@pytest.mark.parametrize(
    ("written", "ending"),
    [
        (same_newborns.as_workbooks, ".xlsx"),
        (same_newborns.as_parquet, ".parquet"),
        (same_newborns.as_json_lines, ".jsonl"),
        (packed, ".csv.gz"),
    ],
    ids=["xlsx", "parquet", "jsonl", "gz"],
)
def test_another_format_gives_the_same_draft(
    exports: Path, tmp_path: Path, written: Callable[[Path, Path], str], ending: str
) -> None:
    written(exports, tmp_path)
    plain, found = draft("mine", exports)[0], draft("mine", tmp_path)[0]
    assert len(sources(plain)) > 30
    assert sources(found) == sources(plain)
    files = tomllib.loads(found)["files"]
    assert all(file["pattern"].endswith(ending) for file in files)
    assert all(("delimiter" in file) is (ending == ".csv.gz") for file in files)
    # The draft is read as a unit's file once a person has said where the clocks hang.
    path = tmp_path / "mine.toml"
    path.write_text(found.replace('zone = ""', 'zone = "America/Chicago"'), encoding="utf-8")
    assert read_unit(path).files[0].format is None


def test_each_sheet_of_a_workbook_is_a_file_of_its_own(exports: Path, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    assert book.active is not None
    book.remove(book.active)
    for name in ("newborns", "medication"):
        (path,) = exports.glob(f"{name}*.csv")
        sheet = book.create_sheet(name.title())
        table = same_newborns.read_table(path)
        sheet.append(list(table[0]))
        for row in table:
            sheet.append(list(row.values()))
    book.create_sheet("Empty")
    book.save(tmp_path / "all.xlsx")
    out = tmp_path / "mine.toml"
    write_draft("mine", tmp_path, out)
    told = tomllib.loads(out.read_text(encoding="utf-8"))["files"]
    assert [(one["pattern"], one["sheet"]) for one in told] == [
        ("all.xlsx", "Newborns"),
        ("all.xlsx", "Medication"),
    ]
    before = out.read_text(encoding="utf-8")
    write_draft("mine", tmp_path, out)
    assert out.read_text(encoding="utf-8") == before, "run again, nothing is new"


def test_a_draft_from_fhir_names_what_is_there(exports: Path, tmp_path: Path) -> None:
    folder = write_fhir(find_unit("quillmere"), exports, tmp_path / "fhir")
    (folder / "Condition.ndjson").unlink()
    out = tmp_path / "mine.toml"
    counts, was_there = write_draft("mine", folder, out)
    assert not was_there
    assert counts == {"sure": 7, "check": 1, "ask": 1}
    text = out.read_text(encoding="utf-8")
    told = tomllib.loads(text)["fhir"]
    assert told["mother"] == "encounter"
    assert "Observation" in told["resources"] and "Condition" not in told["resources"]
    out.write_text(text.replace('zone = ""', 'zone = "America/Chicago"'), encoding="utf-8")
    unit = read_unit(out)
    assert {path.name for file in unit.files for path in folder.glob(file.pattern)} == {
        path.name for path in folder.iterdir()
    }


def test_files_of_fhir_that_are_called_otherwise_get_a_pattern(tmp_path: Path) -> None:
    folder = tmp_path / "fhir"
    folder.mkdir()
    person = {"resourceType": "Patient", "id": "a", "name": [{"family": SECRET}]}
    line = json.dumps(person) + "\n"
    (folder / "export-Patient-1.jsonl").write_text(line, encoding="utf-8")
    (folder / "more.csv").write_text("Key\nK1\n", encoding="utf-8")
    text, _ = draft("mine", folder)
    assert tomllib.loads(text)["fhir"]["patterns"] == {"Patient": "*Patient*"}
    assert "1 more files are no FHIR" in text
    assert SECRET not in text

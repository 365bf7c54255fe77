"""The data: Parquet read by pyarrow, the package checked by the general library frictionless."""

import hashlib
import json
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from frictionless import Package, Resource, Schema

from pipelines.base.errors import LanugoError
from pipelines.definitions.published import public_names
from pipelines.files.tables import spec
from pipelines.files.write import Wanted, plan, write_files
from tests.conftest import Built
from tests.pages.make_store import HOSTILE, UNIT

from .conftest import FORMULA, MARKUP, MONTH, NOW, Out
from .readers import parquet_rows, texts

RECORD_COLUMNS = {"record_id", "newborn_id", "event_id", "row_id", "source_line", "recorded_value"}
# Type of a field (Table Schema 2.0) -> what a column of that type is in Arrow.
ARROW = {
    "string": pa.types.is_string,
    "integer": pa.types.is_integer,
    "number": pa.types.is_floating,
    "boolean": pa.types.is_boolean,
    "date": pa.types.is_date,
    "datetime": pa.types.is_timestamp,
    "array": pa.types.is_list,
}


def package(folder: Path) -> dict[str, Any]:
    told: dict[str, Any] = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    return told


@pytest.fixture(scope="module")
def real(clean: Built, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data of one of two units of a store that was built."""
    folder = tmp_path_factory.mktemp("real") / "out"
    write_files(plan(Wanted(clean.store, "quillmere", None, folder, only=("data",)), NOW))
    return folder / "data"


@pytest.fixture(
    params=[
        pytest.param("fabricated", marks=[pytest.mark.build, pytest.mark.browser]),
        pytest.param("records", marks=pytest.mark.build),
        pytest.param("built", marks=pytest.mark.build),
    ]
)
def folder(request: pytest.FixtureRequest) -> Path:
    if request.param == "built":
        found: Path = request.getfixturevalue("real")
        return found
    name = "out" if request.param == "fabricated" else "with_records"
    made: Out = request.getfixturevalue(name)
    return made.folder / "data"


def test_every_public_view_is_either_written_or_left_out_with_intent() -> None:
    data = spec()["data"]
    named = [*data["counts"], *data["records"], *data["left_out"]]
    assert sorted(named) == sorted(public_names())
    assert {*data["mart"]} <= {*public_names()}


@pytest.mark.build
def test_the_mart_is_written_for_whoever_asks_for_records(clean: Built, tmp_path: Path) -> None:
    """Parquet of newborns, ways and events of the unit alone; never without being asked."""
    asked = {"store": clean.store, "unit": "quillmere", "month": None, "only": ("mart",)}
    with pytest.raises(LanugoError, match="--with-records"):
        plan(Wanted(**asked, out=tmp_path / "refused"))
    assert "mart" not in plan(Wanted(**{**asked, "only": None}, out=tmp_path / "plain")).kinds
    folder = tmp_path / "out"
    write_files(plan(Wanted(**asked, out=folder, with_records=True)))
    told = package(folder / "mart")
    assert list(Package.metadata_validate(told)) == []
    assert [one["name"] for one in told["resources"]] == ["newborn", "way", "event"]
    with duckdb.connect(str(clean.store), read_only=True) as store:
        for name in ("newborn", "event"):
            counted = store.execute(
                f"select count(*) from {name} where unit = 'quillmere'"
            ).fetchone()
            assert counted == (len(parquet_rows(folder / "mart" / f"{name}.parquet")),)
    for one in told["resources"]:
        assert all(len(field["description"]) > 3 for field in one["schema"]["fields"])
    listed = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))["files"]
    assert {one["path"] for one in listed if one["names_records"]} == {
        "mart/newborn.parquet", "mart/way.parquet", "mart/event.parquet",
    }  # fmt: skip


def test_the_package_is_valid_by_the_standard(folder: Path) -> None:
    """Data Package 2.0, by frictionless."""
    assert list(Package.metadata_validate(package(folder))) == []
    assert Package.from_descriptor(package(folder), basepath=str(folder)).resource_names


def test_the_rows_are_valid_by_their_own_schema(folder: Path) -> None:
    """Every value has the type that its field declares: frictionless over rows of pyarrow."""
    for told in package(folder)["resources"]:
        rows = parquet_rows(folder / told["path"])
        assert len(rows) == told["rows"]
        if not rows:
            continue
        schema = Schema.from_descriptor(told["schema"])
        report = Resource(data=rows[:2000], schema=schema).validate()
        assert report.valid, report.flatten(["rowNumber", "fieldName", "message"])[:3]


def test_columns_types_bytes_and_sums_are_those_of_the_files(folder: Path) -> None:
    for told in package(folder)["resources"]:
        path = folder / told["path"]
        columns = pq.read_schema(path)
        fields = told["schema"]["fields"]
        assert [field["name"] for field in fields] == columns.names
        for field in fields:
            assert ARROW[field["type"]](columns.field(field["name"]).type), (told["name"], field)
        content = path.read_bytes()
        assert told["bytes"] == len(content)
        assert told["hash"] == f"sha256:{hashlib.sha256(content).hexdigest()}"


def test_every_field_of_a_built_store_has_a_meaning(real: Path) -> None:
    resources = package(real)["resources"]
    assert {told["name"] for told in resources} == {*spec()["data"]["counts"], "flag_count"}
    for told in resources:
        for field in told["schema"]["fields"]:
            assert len(field["description"]) > 3, (told["name"], field["name"])


def test_the_rows_are_those_of_the_store(out: Out) -> None:
    with duckdb.connect(str(out.store), read_only=True) as store:
        for view in ("result", "measure_info", "change_log", "build_info", "policy"):
            read = store.execute(f"select * from {view}")
            names = [column[0] for column in read.description]
            found = [dict(zip(names, row, strict=True)) for row in read.fetchall()]
            written = parquet_rows(out.folder / "data" / f"{view}.parquet")
            assert sorted(map(str, written)) == sorted(map(str, found)), view
        flags = store.execute("select count(*) from flag where unit = ?", [UNIT]).fetchone()
    assert flags is not None
    counts = parquet_rows(out.folder / "data" / "flag_count.parquet")
    assert sum(row["flags"] for row in counts) == flags[0] > 0


def test_only_the_unit_that_was_asked_for(real: Path, clean: Built) -> None:
    with duckdb.connect(str(clean.store), read_only=True) as store:
        both = store.execute("select unit, count(*) from result group by unit").fetchall()
    assert len(both) == 2
    found = parquet_rows(real / "result.parquet")
    assert len(found) == dict(both)["quillmere"]
    for path in real.glob("*.parquet"):
        assert not [text for text in texts(path) if "tansy" in text.lower()], path.name


def test_no_row_of_a_newborn_unless_asked_for(out: Out, real: Path) -> None:
    for folder in (out.folder / "data", real):
        for told in package(folder)["resources"]:
            names = {field["name"] for field in told["schema"]["fields"]}
            assert not names & RECORD_COLUMNS, told["name"]


def test_no_study_key_in_anything_but_the_pages(out: Out) -> None:
    with duckdb.connect(str(out.store), read_only=True) as store:
        keys = {str(row[0]) for row in store.execute("select record_id from newborn").fetchall()}
    stems = {key[:7] for key in keys}
    assert len(stems) > 1000
    listed = {out.page, out.pdf, out.meeting, out.meeting_pdf}
    for path in out.folder.rglob("*"):
        if path.is_file() and path not in listed and path.suffix != ".png":
            found = {key for text in texts(path) for key in stems if key in text}
            assert found == set(), path.name


def test_records_when_asked_for_come_with_a_warning(with_records: Out) -> None:
    folder = with_records.folder
    told = package(folder / "data")
    names = {one["name"] for one in told["resources"]}
    assert {"newborn", "way", "membership", "flag"} <= names
    assert not {"event", "rejected", "answer"} & names
    assert "Warning: these files hold one row for every newborn" in told["description"]
    assert "Warning" in (folder / "README.txt").read_text(encoding="utf-8")
    rows = parquet_rows(folder / "data" / "newborn.parquet")
    assert any(HOSTILE in row["record_id"] for row in rows)  # inert: a value of a column
    listed = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))["files"]
    records = {one["path"] for one in listed if one["names_records"]}
    assert records == {
        "data/newborn.parquet", "data/way.parquet", "data/membership.parquet", "data/flag.parquet",
        "tables/worklist.csv", f"tables/tables_{UNIT}_{MONTH}.xlsx",
    }  # fmt: skip


def test_each_file_says_unit_month_and_version_itself(out: Out) -> None:
    for path in (out.folder / "data").glob("*.parquet"):
        told = pq.read_schema(path).metadata
        assert told[b"unit"].decode() == UNIT
        assert told[b"month_of_review"].decode() == MONTH
        assert told[b"software"].decode().startswith("lanugo ")
        assert b"stays inside the unit" in told[b"internal"]
    told_of_all = package(out.folder / "data")
    assert told_of_all["unit"] == UNIT
    assert told_of_all["month_of_review"] == MONTH


def test_hostile_texts_are_values(out: Out) -> None:
    rows = {
        row["measure_id"]: row for row in parquet_rows(out.folder / "data" / "measure_info.parquet")
    }
    assert rows["vitamin_k"]["title"] == FORMULA  # data, not a spreadsheet: as it is
    assert rows["first_feed"]["title"] == MARKUP

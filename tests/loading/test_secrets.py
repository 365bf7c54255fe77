"""No value of a newborn is said: secrets in every cell, searched in everything written or printed.

The record key alone is said by design: it is what a unit's worklist calls a newborn by.
"""

import csv
import zipfile
from pathlib import Path

import duckdb
import pytest

from pipelines.cli import main
from pipelines.definitions.read_units import find_unit
from synthetic_data import write_demo

SECRET = "Zyrquell"  # no word of any list, and no text of the program
MAIL = "zyrquell@heimlich.example"
PHONE = "+49 170 5553217"
UNIT = "quillmere"
NUMBERS = ("Weight g", "Result", "Number", "Amount")


def plant(folder: Path) -> int:
    """Put one secret into every column but the key, of every file; return how many.

    One in each: a column that is full of them is refused (test_guard.py).
    """
    planted = 0
    for path in sorted(folder.iterdir()):
        rows = list(csv.reader(path.read_text(encoding="utf-8-sig").splitlines()))
        texts = (f"Frau {SECRET}", f"{SECRET}", f"{SECRET}, seen twice", MAIL, PHONE)
        for place in range(1, len(rows[0])):
            # Never two in one row, so that the rest of it is read as usual.
            at = 3 + place * max(1, (len(rows) - 4) // len(rows[0]))
            rare = texts[place % 3] if rows[0][place] != "Comment" else MAIL
            rows[at][place] = PHONE if rows[0][place] in NUMBERS else rare
            planted += 1
        with path.open("w", encoding="utf-8", newline="") as out:
            csv.writer(out).writerows(rows)
    return planted


@pytest.fixture(scope="module")
def planted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("secrets")
    written = write_demo(folder, seed=3, units=[UNIT], n_months=2, births_per_month=45)
    assert plant(written.exports[UNIT]) > 50
    return written.exports[UNIT]


def texts_in(path: Path) -> str:
    """Return all that a reader of a file could read, packed or not."""
    if path.suffix == ".parquet":
        with duckdb.connect() as connection:
            return str(connection.execute("from read_parquet(?)", [str(path)]).fetchall())
    if path.suffix == ".duckdb":
        return _texts_in_store(path)
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as packed:
            return " ".join(
                packed.read(name).decode("utf-8", "replace") for name in packed.namelist()
            )
    return path.read_bytes().decode("utf-8", "replace")


def _texts_in_store(path: Path) -> str:
    with duckdb.connect(str(path), read_only=True) as store:
        tables = store.execute(
            "select schema_name || '.' || table_name from duckdb_tables() where not internal"
        ).fetchall()
        return " ".join(str(store.execute(f"from {table}").fetchall()) for (table,) in tables)


def leaks(text: str) -> list[str]:
    found = [one for one in (SECRET, SECRET.lower(), MAIL, PHONE, "5553217") if one in text]
    return [f"{one}: ...{text[max(0, text.index(one) - 60) :][:120]}" for one in found]


def run(*words: str) -> int:
    return main([str(word) for word in words])


@pytest.mark.build
@pytest.mark.slow
def test_nothing_that_is_written_or_printed_says_a_cell(
    planted: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    store, out = tmp_path / "store.duckdb", tmp_path / "out"
    build = ("build", "--unit", UNIT, "--exports", str(planted), "--store", str(store))
    assert run(*build, "--dry-run") == 0
    assert run(*build) == 0
    assert (
        run("new-unit", "fresh", "--exports", str(planted), "--out", tmp_path / "fresh.toml") == 0
    )
    of = ("--store", str(store), "--unit", UNIT)
    assert run("pages", *of, "--out", str(out / "pages")) == 0
    assert run("quality", *of, "--out", str(out / "quality.html")) == 0
    assert run("worklist", *of, "--out", str(out / "worklist.csv")) == 0
    assert run("flags", *of, "--out", str(out / "flags.csv")) == 0
    kinds = "page,meeting,mail,tables,data"
    assert run("files", *of, "--out", out / "files", "--only", kinds, "--with-records") == 0
    said = capfd.readouterr()
    assert leaks(said.out + said.err) == []
    files = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert {".duckdb", ".html", ".csv", ".xlsx", ".parquet", ".toml"} <= {p.suffix for p in files}
    found = {path.name: leaks(texts_in(path)) for path in files}
    assert {name: leak for name, leak in found.items() if leak} == {}


def test_the_search_finds_what_is_there(planted: Path, tmp_path: Path) -> None:
    """A search that finds nothing anywhere would prove nothing."""
    assert leaks(texts_in(next(planted.glob("newborns*"))))
    store = tmp_path / "a.duckdb"
    with duckdb.connect(str(store)) as connection:
        connection.execute(f"create table t as select 'Frau {SECRET}' as a")
        connection.execute(f"copy t to '{tmp_path / 'a.parquet'}'")
    assert leaks(texts_in(store))
    assert leaks(texts_in(tmp_path / "a.parquet"))


def without_header(folder: Path, into: Path) -> Path:
    into.mkdir()
    for path in folder.iterdir():
        lines = path.read_text(encoding="utf-8-sig").splitlines()
        (into / path.name).write_text("\n".join(lines[3:]) + "\n", encoding="utf-8")
    return into


@pytest.mark.parametrize("verb", ["build", "new-unit"])
def test_a_file_without_a_header_says_none_of_its_first_record(
    planted: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], verb: str
) -> None:
    folder = without_header(planted, tmp_path / "bare")
    first = {
        cell.strip()
        for path in folder.iterdir()
        for cell in next(csv.reader(path.read_text(encoding="utf-8").splitlines()))
        if len(cell.strip()) > 3
    }
    words = (
        ["build", "--unit", UNIT, "--exports", str(folder), "--dry-run"]
        if verb == "build"
        else ["new-unit", "bare", "--exports", str(folder), "--out", str(tmp_path / "bare.toml")]
    )
    assert main(words) == 4
    said = capsys.readouterr()
    assert [cell for cell in first if cell in (said.err + said.out).replace("newborns", "")] == []
    assert "may be a record" in said.err or "looks like a record" in said.err
    assert not (tmp_path / "bare.toml").exists()


def test_another_export_than_the_unit_knows_says_no_cell(
    planted: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its names are said where they are names: one that the unit's file has is among them."""
    folder = tmp_path / "other"
    folder.mkdir()
    for path in planted.iterdir():
        text = path.read_text(encoding="utf-8-sig")
        (folder / path.name).write_text(text.replace("Study key,", "Baby,", 1), encoding="utf-8")
    assert main(["build", "--unit", UNIT, "--exports", str(folder), "--dry-run"]) == 4
    said = capsys.readouterr().err
    assert "column 'Study key' is missing" in said
    assert leaks(said) == []


def test_something_unforeseen_says_where_and_not_what(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The words of an exception may repeat a cell: duckdb's conversion errors do."""

    def fail(*_: object, **__: object) -> None:
        with duckdb.connect() as connection:
            connection.execute(f"select cast('{SECRET}' as integer)")

    monkeypatch.setattr("pipelines.build.every_stage.build_store", fail)
    folder = Path(find_unit(UNIT).path or "").parent
    assert main(["build", "--unit", UNIT, "--exports", str(folder)]) == 1
    said = capsys.readouterr().err
    assert "something unforeseen (ConversionException)" in said
    assert leaks(said) == []

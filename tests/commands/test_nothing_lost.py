"""Building over a store never loses what it was not asked to: units, months, or another file."""

from pathlib import Path

import pytest

from pipelines.base.store_file import open_store
from synthetic_data import write_demo
from synthetic_data.generate import START
from tests.commands.test_commands import run

pytestmark = [pytest.mark.build, pytest.mark.slow]
SMALL = {"start": START, "births_per_month": 8}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two units' exports of three months in ``three``, the first month alone in ``one``."""
    base = tmp_path_factory.mktemp("lost")
    write_demo(base / "three", n_months=3, **SMALL)
    write_demo(base / "one", n_months=1, **SMALL)
    return base


def build(folder: Path, store: Path, months: str, *units: str) -> list[str | Path]:
    words: list[str | Path] = ["build", "--store", store]
    for unit in units:
        words += ["--unit", unit, "--exports", folder / months / "exports" / unit]
    return words


def newborns(store: Path) -> dict[str, int]:
    with open_store(store) as opened:
        return dict(opened.execute("select unit, count(*) from newborn group by all").fetchall())


@pytest.fixture(scope="module")
def store(folder: Path) -> Path:
    return folder / "unit.duckdb"


def test_a_first_build(folder: Path, store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, *build(folder, store, "three", "quillmere"))
    assert code == 0, err


@pytest.mark.parametrize("dry", [["--dry-run"], []])
@pytest.mark.parametrize(
    "other",
    [
        ("three", "tansy_ridge", "unit 'quillmere' ({n} newborns)"),
        ("one", "quillmere", "2 months from "),
    ],
)
def test_another_unit_or_fewer_months_is_refused_and_told(
    folder: Path,
    store: Path,
    capsys: pytest.CaptureFixture[str],
    other: tuple[str, str, str],
    dry: list[str],
) -> None:
    months, unit, named = other
    before, held = store.read_bytes(), newborns(store)
    code, _, err = run(capsys, *build(folder, store, months, unit), *dry)
    assert code == 5
    assert named.format(n=held["quillmere"]) in err
    assert "--drop" in err
    assert store.read_bytes() == before


def test_with_both_units_named_nothing_is_lost(
    folder: Path, store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    held = newborns(store)
    code, _, err = run(capsys, *build(folder, store, "three", "quillmere", "tansy_ridge"))
    assert code == 0, err
    after = newborns(store)
    assert after["quillmere"] == held["quillmere"]
    assert after["tansy_ridge"] > 0


def test_what_may_be_dropped_is_let_go(
    folder: Path, store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _, err = run(capsys, *build(folder, store, "one", "quillmere"), "--drop")
    assert code == 0, err
    assert set(newborns(store)) == {"quillmere"}


def test_another_file_in_the_store_s_place_is_kept(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = tmp_path / "notes.txt"
    wrong.write_text("not a store", encoding="utf-8")
    code, _, err = run(capsys, *build(folder, wrong, "one", "quillmere"))
    assert code == 5
    assert "not a store that this version can read" in err
    assert "--drop" in err
    assert wrong.read_text(encoding="utf-8") == "not a store"
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]

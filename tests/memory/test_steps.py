"""The verbs of a store with a memory, as a person uses them."""

import datetime as dt
from pathlib import Path

import pytest

from pipelines.base.store_file import open_store
from pipelines.build import deliver
from pipelines.definitions.read_units import UNITS_DIR
from pipelines.memory.kept import memory_of
from tests.commands.test_commands import run
from tests.memory.months import UNIT, WEIGHT, Month, corrected, months_of, unjudged

pytestmark = [pytest.mark.build, pytest.mark.slow]


@pytest.fixture(scope="module")
def months(tmp_path_factory: pytest.TempPathFactory) -> list[Month]:
    return months_of(tmp_path_factory.mktemp("drawn"), 3, births_per_month=4)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, months: list[Month]) -> Path:
    base = tmp_path_factory.mktemp("steps")
    for month in (*months, corrected(months[0]), Month("again", months[1].files, {})):
        month.write(base / "in")
    return base


@pytest.fixture
def fast(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave judging out, where a test asks only what stands."""
    monkeypatch.setattr(deliver, "judge_and_measure", unjudged)
    monkeypatch.setattr("pipelines.build.told.build_words", lambda _: "")


@pytest.fixture
def store(
    folder: Path,
    months: list[Month],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    fast: None,
) -> Path:
    """A store of two months that were added one by one."""
    for month in months[:2]:
        place = folder / "in" / month.name
        code, _, err = run(capsys, "add", UNIT, place, "--store", tmp_path / "my.duckdb")
        assert code == 0, err
    return tmp_path / "my.duckdb"


def newborns(store: Path) -> int:
    with open_store(store) as opened:
        row = opened.execute("select count(*) from typed.admission").fetchone()
    return int(row[0]) if row else -1


def state(store: Path) -> tuple[bytes, list[str]]:
    return store.read_bytes(), sorted(str(path) for path in memory_of(store).rglob("*"))


def test_a_dry_run_says_which_rows_win_and_writes_nothing(
    store: Path, folder: Path, months: list[Month], capsys: pytest.CaptureFixture[str]
) -> None:
    before = state(store)
    again = folder / "in" / f"{months[0].name}_again"
    code, out, err = run(capsys, "add", UNIT, again, "--store", store, "--dry-run")
    assert code == 0, err
    held = len(months[0].births)
    assert f"Stood already and will come from this one: {held} newborns" in out
    at = months[0].files[f"newborns_{months[0].name}.csv"][0].index(WEIGHT)
    lines = months[0].files[f"newborns_{months[0].name}.csv"][1:]
    other = sum(line[at].isdigit() for line in lines)
    assert f"of whom {held - other} say the same and {other} something else" in out
    assert "the newest delivery wins" in out
    assert "Dry run: nothing was written." in out
    assert state(store) == before


def test_the_same_content_under_other_names_is_nothing_new(
    store: Path, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = state(store)
    code, out, _ = run(capsys, "add", UNIT, folder / "in" / "again", "--store", store)
    assert code == 0
    assert "Nothing is new: nothing was written." in out
    assert state(store) == before


def test_what_was_withdrawn_comes_back_by_undo_and_the_undo_can_be_undone(
    store: Path, months: list[Month], capsys: pytest.CaptureFixture[str]
) -> None:
    held = newborns(store)
    name = f"{UNIT}_{months[0].name}"
    assert run(capsys, "withdraw", "--delivery", name, "--store", store)[0] == 0
    assert newborns(store) == held - len(months[0].births)
    code, out, _ = run(capsys, "undo", "--store", store)
    assert code == 0
    assert "undoes step 3" in out
    assert newborns(store) == held
    assert run(capsys, "undo", "4", "--store", store)[0] == 0
    assert newborns(store) == held - len(months[0].births)
    _, out, _ = run(capsys, "deliveries", "--store", store)
    assert "undone step 3" in out
    assert "undone by step 5" in out


def test_what_is_forgotten_leaves_every_byte_that_is_kept(
    store: Path, months: list[Month], capsys: pytest.CaptureFixture[str]
) -> None:
    month, key = months[0].name, min(months[0].births)
    kept = b"".join(p.read_bytes() for p in memory_of(store).rglob("*.parquet"))
    words = ["withdraw", "--unit", UNIT, "--from", month, "--store", store, "--forget"]
    code, _, err = run(capsys, *words)
    assert code == 0, err
    assert newborns(store) == len(months[1].births)
    import duckdb

    with duckdb.connect() as connection:
        for path in memory_of(store).rglob("*.parquet"):
            rows = connection.execute(f"select * from read_parquet('{path}')").fetchall()
            assert key not in {str(cell) for row in rows for cell in row}, path
    left = b"".join(p.read_bytes() for p in memory_of(store).rglob("*.parquet"))
    assert len(left) < len(kept)
    assert key.encode() not in store.read_bytes()
    code, _, err = run(capsys, "undo", "--store", store)
    assert code == 5
    assert "they were forgotten" in err


def test_a_second_unit_is_added_and_the_first_stays(
    store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from synthetic_data import write_demo
    from synthetic_data.generate import START

    write_demo(tmp_path / "two", n_months=1, start=START, births_per_month=4)
    held = newborns(store)
    other = tmp_path / "two" / "exports" / "tansy_ridge"
    assert run(capsys, "add", "tansy_ridge", other, "--store", store)[0] == 0
    assert newborns(store) > held
    code, out, _ = run(capsys, "withdraw", "--unit", "tansy_ridge", "--store", store)
    assert code == 0, out
    assert newborns(store) == held


def test_a_build_takes_the_place_of_its_unit_alone_and_loses_no_month(
    store: Path, folder: Path, months: list[Month], capsys: pytest.CaptureFixture[str]
) -> None:
    before = state(store)
    words = ["build", "--unit", UNIT, "--exports", folder / "in" / months[0].name, "--store", store]
    code, _, err = run(capsys, *words)
    assert code == 5
    assert "holds what these exports do not" in err
    assert state(store) == before
    assert run(capsys, *words, "--drop")[0] == 0
    assert newborns(store) == len(months[0].births)
    assert run(capsys, "undo", "--store", store)[0] == 0
    assert newborns(store) == len(months[0].births) + len(months[1].births)


def test_an_edited_unit_s_file_is_read_again_without_exports(
    store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (UNITS_DIR / f"{UNIT}.toml").read_text(encoding="utf-8")
    edited = tmp_path / "edited.toml"
    edited.write_text(text.replace('"SVD" =', '"Other" ='), encoding="utf-8")
    assert edited.read_text(encoding="utf-8") != text
    held = newborns(store)
    assert run(capsys, "build", "--unit", edited, "--store", store)[0] == 0
    assert newborns(store) == held
    with open_store(store) as opened:
        assert opened.execute(
            "select count(*) from typed.unmapped where column_name = 'mode_of_birth'"
        ).fetchone() != (0,)
    edited.unlink()  # the copy that the step keeps is enough
    assert run(capsys, "undo", "--store", store)[0] == 0


def test_a_store_built_from_folders_is_not_lost_to_a_first_delivery(
    folder: Path,
    months: list[Month],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    store = tmp_path / "plain.duckdb"
    first, second = (folder / "in" / month.name for month in months[:2])
    assert run(capsys, "build", "--unit", UNIT, "--exports", first, "--store", store)[0] == 0
    before = store.read_bytes()
    code, _, err = run(capsys, "add", UNIT, second, "--store", store)
    assert code == 5
    assert "keeps no deliveries" in err
    assert store.read_bytes() == before
    assert not memory_of(store).exists()
    code, _, err = run(capsys, "build", "--unit", UNIT, "--store", store)
    assert "give --exports" in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["withdraw", "--delivery", "quillmere_2024-1"], "Did you mean 'quillmere_2024-1"),
        (["withdraw", "--unit", "quilmere"], "remembers no unit 'quilmere'"),
        (["withdraw", "--unit", UNIT], "no newborn would stand any more"),
        (["withdraw", "--unit", UNIT, "--to", "2024-11"], "give --from"),
        (["undo", "9"], "There is no step 9"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_words(
    store: Path, words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = state(store)
    code, _, err = run(capsys, *words, "--store", store)
    assert code in {2, 5}
    assert said in err
    assert state(store) == before


def test_two_steps_at_a_time_are_refused(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import os

    lock = memory_of(store) / "lock"
    lock.write_text(str(os.getpid()), encoding="utf-8")
    code, _, err = run(capsys, "undo", "--store", store)
    assert code == 5
    assert "another step is being taken" in err
    lock.write_text("999999999", encoding="utf-8")  # its process is gone
    assert run(capsys, "undo", "--store", store)[0] == 0


def test_a_store_without_its_deliveries_is_told_and_they_are_not_lost(
    store: Path, folder: Path, months: list[Month], capsys: pytest.CaptureFixture[str]
) -> None:
    memory, away = memory_of(store), store.with_name("away")
    memory.rename(away)
    code, _, err = run(capsys, "undo", "--store", store)
    assert code == 5
    assert "are missing or damaged; bring the folder of deliveries back" in err
    away.rename(memory)
    store.rename(store.with_name("other.duckdb"))  # and the other way round
    held = sorted(memory.rglob("*"))
    code, _, err = run(capsys, "add", UNIT, folder / "in" / months[2].name, "--store", store)
    assert code == 5
    assert "holds deliveries, and the store beside it names none of them" in err
    assert sorted(memory.rglob("*")) == held


def test_the_store_itself_holds_no_clock_time(store: Path, months: list[Month]) -> None:
    """The folder of deliveries holds clock times, as the exports do; the store never does."""
    born = months[0].files[f"newborns_{months[0].name}.csv"][1][1]
    assert dt.datetime.strptime(born[:10], "%m/%d/%Y")
    assert born.encode() not in store.read_bytes()

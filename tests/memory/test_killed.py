"""A step that is cut off at any point leaves the store as it was, and taken again ends the same.

A process of its own is ended (SIGKILL: nothing can be tidied up) where it begins a part of the
step; the step is then taken again. Judging is left out: a test below ends one there for real.
"""

import hashlib
import multiprocessing
import os
import shutil
import signal
from pathlib import Path

import duckdb
import pytest

from pipelines.build import deliver
from pipelines.build.deliver import Order, remembered, take_step
from pipelines.definitions.read_units import find_unit
from pipelines.memory.kept import memory_of
from pipelines.memory.steps import read_steps
from tests.memory.months import UNIT, corrected, months_of, unjudged

pytestmark = [pytest.mark.build, pytest.mark.slow]
# The parts of a step, in order; the last two come after the new store is in its place.
BEFORE = (
    *("new_store", "copy_unit", "open_exports", "write_delivery", "fill_standing", "prepare"),
    *("judge_and_measure", "write_steps", "settle"),
)
if os.name != "posix":
    pytest.skip("SIGKILL is asked for", allow_module_level=True)


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two months in a store (not judged), and a correction of the first beside it."""
    folder = tmp_path_factory.mktemp("killed")
    months = months_of(folder / "drawn", 2)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(deliver, "judge_and_measure", unjudged)
        for month in months:
            order = Order("add", unit=find_unit(UNIT), exports=month.write(folder / "in"))
            take_step(folder / "store.duckdb", order)
    corrected(months[0], without=1).write(folder / "in")
    return folder


def correction(base: Path) -> Order:
    exports = next(path for path in (base / "in").iterdir() if path.name.endswith("_again"))
    return Order("replace", unit=find_unit(UNIT), exports=exports)


def _end_at(part: str, store: Path, base: Path, is_judged: bool) -> None:
    """Take the step and end the process where it comes to ``part``."""

    def end(*_: object, **__: object) -> None:
        os.kill(os.getpid(), signal.SIGKILL)

    if not is_judged:
        deliver.judge_and_measure = unjudged  # type: ignore[assignment]
    if part == "judging":
        from pipelines.build import every_stage

        every_stage.run_measures = end  # type: ignore[assignment]
    elif part == "clearing up":
        seen = deliver._clear

        def second(memory: Path, steps: list[deliver.Step]) -> None:
            if len(steps) > 2:
                end()
            seen(memory, steps)

        deliver._clear = second  # type: ignore[assignment]
    else:
        setattr(deliver, part, end)
    take_step(store, correction(base))


def told(store: Path) -> tuple[object, ...]:
    """Return what stands: rows of every typed table, and the log without times."""
    steps, won = remembered(store)
    with duckdb.connect(str(store), read_only=True) as opened:
        rows = [
            opened.execute(
                f"select unit, record_id, source_file, source_line from typed.{table} order by all"
            ).fetchall()
            for table in ("admission", "care", "dose", "observation")
        ]
    log = [(step.verb, step.delivery, step.folder, step.newborns) for step in steps]
    return rows, log, won


def copy(base: Path, folder: Path) -> Path:
    shutil.copy(base / "store.duckdb", folder / "store.duckdb")
    shutil.copytree(memory_of(base / "store.duckdb"), memory_of(folder / "store.duckdb"))
    return folder / "store.duckdb"


@pytest.fixture(scope="module")
def whole(base: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[object, ...]:
    """What stands where the step is taken without a cut."""
    store = copy(base, tmp_path_factory.mktemp("whole"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(deliver, "judge_and_measure", unjudged)
        take_step(store, correction(base))
    return told(store)


def ended(part: str, store: Path, base: Path, is_judged: bool = False) -> int | None:
    process = multiprocessing.get_context("fork").Process(
        target=_end_at, args=(part, store, base, is_judged)
    )
    process.start()
    process.join()
    return process.exitcode


@pytest.mark.parametrize("part", BEFORE)
def test_a_cut_leaves_the_old_store_and_the_step_can_be_taken_again(
    part: str,
    base: Path,
    whole: tuple[object, ...],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    store = copy(base, tmp_path)
    before, digest = told(store), hashlib.sha256(store.read_bytes()).digest()
    assert ended(part, store, base) == -signal.SIGKILL
    assert hashlib.sha256(store.read_bytes()).digest() == digest
    assert told(store) == before
    monkeypatch.setattr(deliver, "judge_and_measure", unjudged)
    take_step(store, correction(base))
    assert told(store) == whole
    assert told(store) != before
    names = {step.folder for step in read_steps(store)} | {"units"}
    assert {path.name for path in memory_of(store).iterdir()} == names
    assert {path.name for path in tmp_path.iterdir()} == {"store.duckdb", "store.duckdb.deliveries"}


def test_a_cut_after_the_new_store_is_in_place_leaves_the_new_one(
    base: Path, whole: tuple[object, ...], tmp_path: Path
) -> None:
    store = copy(base, tmp_path)
    assert ended("clearing up", store, base) == -signal.SIGKILL
    assert told(store) == whole


def test_a_cut_among_the_measures_leaves_the_old_store(base: Path, tmp_path: Path) -> None:
    store = copy(base, tmp_path)
    before = store.read_bytes()
    assert ended("judging", store, base, is_judged=True) == -signal.SIGKILL
    assert store.read_bytes() == before

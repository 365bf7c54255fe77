"""Sixty months in any order, with corrections and withdrawals, equal one load of what stands."""

import random
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from pipelines.build import deliver
from pipelines.build.deliver import Order, take_step
from pipelines.build.every_stage import BuildSummary, build_store
from pipelines.build.from_memory import in_force_copies
from pipelines.definitions.read_units import find_unit
from pipelines.memory.kept import memory_of
from pipelines.memory.steps import live, read_steps
from tests.memory.months import UNIT, Heap, Month, corrected, differing, months_of, unjudged

pytestmark = [pytest.mark.build, pytest.mark.slow, pytest.mark.long]
EVERY = 30  # of the steps one in so many also judges and measures, as the last one does


def first_of(month: str) -> "deliver.dt.date":
    return deliver.dt.date.fromisoformat(f"{month}-01")


@pytest.fixture(scope="module")
def laid(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Return the store of sixty months, step by step, and one that was built from what stands."""
    base = tmp_path_factory.mktemp("sixty")
    months = months_of(base / "drawn", 60)
    draw = random.Random(16)
    order: list[tuple[str, Month]] = [("add", month) for month in months]
    draw.shuffle(order)
    for at, verb in enumerate(("add", "replace") * 4):
        place = draw.randrange(10, len(order))
        named = draw.choice([month for word, month in order[:place] if word == "add"])
        if f"{named.name}_again" not in {month.name for _, month in order}:
            order.insert(place, (verb, corrected(named, without=at % 2)))
    for verb in ("withdraw month", "withdraw delivery", "withdraw and undo"):
        place = draw.randrange(20, len(order))
        order.insert(
            place,
            (
                verb,
                draw.choice(
                    [
                        month
                        for word, month in order[:place]
                        if word == "add" and "again" not in month.name
                    ]
                ),
            ),
        )
    store, unit, heap = base / "steps.duckdb", find_unit(UNIT), Heap()
    with pytest.MonkeyPatch.context() as patch:
        judge = partial(alone, deliver.judge_and_measure)
        for number, (verb, month) in enumerate(order):
            is_judged = number % EVERY == EVERY - 1 or number == len(order) - 1
            patch.setattr(deliver, "judge_and_measure", judge if is_judged else unjudged)
            take(store, heap, base / "in", verb, month)
        patch.setattr(deliver, "judge_and_measure", judge)
        take_step(store, Order("build", unit=unit))
    one = base / "one.duckdb"
    build_store([(unit, heap.write(base / "one"))], one)
    return store, one


def alone(judge: Callable[..., BuildSummary], *given: object, is_compared: bool) -> BuildSummary:
    """Judge without a comparison: the store before was not judged."""
    return judge(*given, is_compared=False)


def take(store: Path, heap: Heap, folder: Path, verb: str, month: Month) -> None:
    span = (first_of(month.name[:7]),) * 2
    if verb == "withdraw month":
        take_step(store, Order("withdraw", unit_id=UNIT, months=span))
        heap.take(birth_month=month.name)
    elif verb == "withdraw delivery":
        take_step(store, Order("withdraw", delivery=month.name))
        heap.take(delivery=month.name)
    elif verb == "withdraw and undo":
        take_step(store, Order("withdraw", delivery=month.name))
        take_step(store, Order("undo"))
    else:
        exports = month.write(folder)
        months = span if verb == "replace" else None
        taken = take_step(
            store,
            Order(verb, unit=find_unit(UNIT), exports=exports, name=month.name, months=months),
        )
        assert taken.step is not None, taken.words
        if verb == "replace":
            heap.take(birth_month=month.name[:7])
        heap.lay(month)


def test_step_by_step_equals_one_load_of_what_stands(laid: tuple[Path, Path]) -> None:
    store, one = laid
    assert differing(store, one) == dict.fromkeys(differing(store, store), 0)


def test_nothing_lies_about_that_no_step_names(laid: tuple[Path, Path]) -> None:
    store, _ = laid
    steps = read_steps(store)
    assert len(live(steps)) > 60
    assert set(in_force_copies(steps)) == {UNIT}
    lying = {path.name for path in memory_of(store).iterdir()}
    assert lying == {"units", *(step.folder for step in steps if step.folder)}

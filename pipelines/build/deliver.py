"""A step of a store with a memory: add, replace, withdraw, build again, undo.

Whatever the step, the store is built from all rows that stand after it, in a new file that takes
the old one's place: a step that is cut off leaves the store as it was.
"""

import contextlib
import datetime as dt
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import duckdb

from pipelines.base.errors import StoreError
from pipelines.base.store_file import new_store, open_store
from pipelines.build.every_stage import (
    BuildSummary,
    Progress,
    checked_definitions,
    judge_and_measure,
    open_exports,
    prepare,
    read_guarded,
)
from pipelines.build.from_memory import Reading, in_force_copies
from pipelines.build.since_last import refuse_to_drop
from pipelines.build.step_words import plan_words
from pipelines.definitions.read_units import Unit
from pipelines.memory.kept import (
    NEWBORNS,
    clear_unnamed,
    forget_rows,
    kept_files,
    memory_of,
    one_at_a_time,
    settle,
    taking,
    write_delivery,
)
from pipelines.memory.shape import compare_shapes, shape_of
from pipelines.memory.standing import (
    Difference,
    difference,
    fill_forgotten,
    fill_standing,
    months_of,
    newborns_won,
)
from pipelines.memory.steps import (
    Step,
    delivery_named,
    live,
    new_name,
    read_steps,
    to_undo,
    write_steps,
)
from pipelines.memory.unit_copies import UNITS, copy_unit, read_copy
from pipelines.stages.raw.kept_rows import (
    create_raw_tables,
    is_admission_file,
    keep_first_records,
    reject_unusable_rows,
)
from pipelines.stages.typed.misread_times import refuse_misread_times
from pipelines.stages.typed.written_back import write_back, write_back_words

_ADVICE = (
    "It was built from folders and keeps no deliveries. Begin with a delivery that holds all of "
    "it, or choose another --store."
)


@dataclass(frozen=True)
class Order:
    """What is asked of a store.

    ``verb``: add, replace, withdraw, build or undo. ``unit``: of add, replace and build; of the
    others ``unit_id``. ``exports``: None builds again from what stands. ``name`` of the new
    delivery (None: made from unit and months). The scope of replace and withdraw: a ``delivery``
    by its name, or the births of ``months`` (first days of two months; None: of replace those
    that the delivery holds, of withdraw all). ``step``: what is undone (None: the last).
    ``may_drop``: a build may let go of months that its exports do not hold.
    """

    verb: str
    unit: Unit | None = None
    exports: Path | None = None
    name: str | None = None
    unit_id: str | None = None
    delivery: str | None = None
    months: tuple[dt.date, dt.date] | None = None
    step: int | None = None
    is_forgetting: bool = False
    may_drop: bool = False


@dataclass(frozen=True)
class Taken:
    """What a step did: in words, and the summary of the build (None: nothing was built)."""

    words: list[str]
    summary: BuildSummary | None = None
    step: Step | None = None


@dataclass
class _Work:
    """What one step works with: where things lie, and the log with the step."""

    store: Path
    order: Order
    memory: Path
    brought: Path  # the folder for what the step brings
    steps: list[Step]
    is_dry: bool
    progress: Progress
    say: Callable[[str], None]

    def folder_of(self, step: Step) -> Path:
        new = self.brought / str(step.folder)
        return new if new.is_dir() else self.memory / str(step.folder)

    def copy_of(self, name: str) -> Path:
        new = self.brought / UNITS / name
        return new if new.is_dir() else self.memory / UNITS / name


def take_step(
    store: Path,
    order: Order,
    progress: Progress = lambda _: None,
    say: Callable[[str], None] = lambda _: None,
    *,
    is_dry: bool = False,
) -> Taken:
    """Take one step of a store, or say what it would do.

    ``say`` is told what the step changes before anything is written. Raises LanugoError in words;
    the store is then as it was.
    """
    memory = memory_of(store)
    with contextlib.ExitStack() as stack:
        place = store
        if is_dry:
            away = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="lanugo-")))
            place, kept_in = away / "dry_run.duckdb", away
        else:
            stack.enter_context(one_at_a_time(memory))
            kept_in = memory
        steps = read_steps(store)
        if not is_dry:
            _clear(memory, steps)
        brought = stack.enter_context(taking(kept_in))
        work = _Work(store, order, memory, brought, steps, is_dry, progress, say)
        taken = _step_in(work, place)
        if not is_dry and taken.step is not None:
            _clear(memory, read_steps(store))
        return taken


def _clear(memory: Path, steps: Sequence[Step]) -> None:
    folders = {str(step.folder) for step in steps if step.folder and not step.is_forgotten}
    clear_unnamed(memory, folders, {step.unit_copy for step in steps if step.unit_copy})


def _step_in(work: _Work, place: Path) -> Taken:
    try:
        with new_store(place, _readable(work), before=work.store) as connection:
            return _take(connection, work)
    except _NothingNewError as nothing:  # raised through new_store, so that the store stays
        return Taken(nothing.words)


class _NothingNewError(Exception):
    """Ends a step before anything is written: nothing would change."""

    def __init__(self, words: list[str]) -> None:
        super().__init__()
        self.words = words


def _readable(work: _Work) -> list[Path]:
    kept = [work.memory / str(step.folder) for step in live(work.steps) if step.folder]
    exports = [work.order.exports] if work.order.exports is not None else []
    return [*exports, work.brought, work.memory, *kept]


def _take(connection: duckdb.DuckDBPyConnection, work: _Work) -> Taken:
    before = work.steps
    fill_standing(connection, before, work.folder_of, "stood")
    step = _new_step(connection, work)
    after = [*before, step]
    fill_standing(connection, after, work.folder_of)
    changed = difference(connection, "stood", "standing", step.number)
    is_same_unit = step.unit_copy is None or step.unit_copy in in_force_copies(before).values()
    words = plan_words(step, after, changed)
    if step.verb not in {"undo", "build"} and changed.is_nothing and is_same_unit and before:
        raise _NothingNewError([*words, "Nothing is new: nothing was written."])
    _refuse_nothing_left(changed, work.store)
    for line in words:
        work.say(line)
    if work.order.is_forgetting:
        after = _forget(connection, work, after, step)
    summary = _rebuilt(connection, work, after, step)
    write_steps(connection, after)
    if not work.is_dry:
        settle(work.brought, work.memory)
    return Taken(words, summary, step)


def _refuse_nothing_left(changed: Difference, store: Path) -> None:
    if changed.newborns == 0:
        raise StoreError(
            f"{store.name}: no newborn would stand any more. A store of nothing is not built: "
            f"delete {store.name} and {memory_of(store).name} if that is meant."
        )


def _rebuilt(
    connection: duckdb.DuckDBPyConnection, work: _Work, steps: Sequence[Step], step: Step
) -> BuildSummary:
    """Build every stage from the rows that stand."""
    reading = Reading(connection, steps, work.folder_of, work.copy_of)
    units = reading.units()
    definitions = checked_definitions(units)
    prepare(connection, units, definitions)
    raws = reading.load(definitions, step, work.progress)
    if not work.steps and not work.order.may_drop:
        refuse_to_drop(connection, work.store.name, _ADVICE)
    if step.verb == "build" and step.folder and not work.order.may_drop:
        refuse_to_drop(connection, work.store.name)
    back = write_back(connection, raws) if work.is_dry and step.folder else []
    summary = judge_and_measure(
        connection, work.store, units, definitions, work.progress, is_compared=not work.is_dry
    )
    names = {unit.id: unit.file_name for unit in units}
    return replace(summary, written_back=write_back_words(back, names))


def _new_step(connection: duckdb.DuckDBPyConnection, work: _Work) -> Step:
    order, number = work.order, len(work.steps) + 1
    taken_at = dt.datetime.now(dt.UTC).replace(tzinfo=None, microsecond=0)
    if order.verb == "undo":
        undoes = to_undo(work.steps, order.step)
        return Step(number, taken_at, "undo", undoes.unit, undoes=undoes.number)
    if order.verb == "withdraw":
        return _withdrawing(work, Step(number, taken_at, "withdraw", order.unit_id or ""))
    unit = order.unit
    if unit is None:
        raise AssertionError(f"{order.verb} needs a unit")
    step = Step(number, taken_at, order.verb, unit.id, unit_copy=copy_unit(unit, work.brought))
    if order.exports is None:
        return step
    return _scoped(work, _brought(connection, work, unit, order.exports, step))


def _withdrawing(work: _Work, step: Step) -> Step:
    order = work.order
    if order.delivery is not None:
        of = delivery_named(work.steps, order.delivery)
        return replace(step, unit=of.unit, of_step=of.number)
    known = {one.unit for one in live(work.steps)}
    if step.unit not in known:
        listed = ", ".join(sorted(known)) or "none"
        raise StoreError(f"The store remembers no unit '{step.unit}'. Units: {listed}.")
    first, last = order.months or (None, None)
    return replace(step, month_from=first, month_to=last)


def _scoped(work: _Work, step: Step) -> Step:
    """Say what a replacing delivery lets go of: a delivery, the months asked for, or its own."""
    order = work.order
    if order.verb != "replace":
        return step
    if order.delivery is not None:
        of = delivery_named(work.steps, order.delivery)
        if of.unit != step.unit:
            raise StoreError(f"Delivery '{order.delivery}' is of unit '{of.unit}'.")
        return replace(step, of_step=of.number)
    first, last = order.months or (step.first_month, step.last_month)
    if first is None:
        raise StoreError("The delivery holds no month of birth: say --from and --to.")
    return replace(step, month_from=first, month_to=last)


def _brought(
    connection: duckdb.DuckDBPyConnection, work: _Work, unit: Unit, exports: Path, step: Step
) -> Step:
    """Read a delivery's exports, guard them, and keep their rows in the folder of the step."""
    if work.order.name is not None and work.order.name in {one.delivery for one in work.steps}:
        raise StoreError(f"There is a delivery '{work.order.name}' already; choose another --name.")
    create_raw_tables(connection)
    raws = open_exports(unit, exports)
    for raw in raws:
        work.progress(f"reading {unit.id}: {raw.name}")
        read_guarded(connection, raw)
        reject_unusable_rows(connection, raw)
        refuse_misread_times(connection, unit, raw, is_typed=False)
    keep_first_records(connection, [raw for raw in raws if is_admission_file(raw)])
    shapes = [shape_of(connection, raw) for raw in raws]
    for words in compare_shapes(raws, shapes, _last_shapes(work, unit.id)):
        work.say(f"Changed since the last delivery: {words}")
    place = work.brought / "new"
    write_delivery(connection, raws, shapes, place)
    for raw in raws:
        connection.execute(f"drop table {raw.table}")
    newborns, rows, first, last, content = months_of(connection, place / NEWBORNS)
    folder = f"{step.number:04d}-{content[:12]}"
    place.rename(work.brought / folder)
    return replace(
        step,
        delivery=work.order.name or new_name(work.steps, unit.id, first, last),
        folder=folder,
        newborns=newborns,
        row_count=rows,
        first_month=first,
        last_month=last,
    )


def _last_shapes(work: _Work, unit: str) -> dict[str, list[dict[str, Any]]]:
    """Return by pattern the form of the files of a unit's last delivery."""
    found = [
        step
        for step in live(work.steps)
        if step.unit == unit and step.folder and not step.is_forgotten
    ]
    shapes: dict[str, list[dict[str, Any]]] = {}
    for kept in kept_files(work.folder_of(found[-1])) if found else ():
        shapes.setdefault(kept.pattern, []).append(kept.shape)
    return shapes


def _forget(
    connection: duckdb.DuckDBPyConnection, work: _Work, steps: Sequence[Step], step: Step
) -> list[Step]:
    """Keep every delivery anew without what the withdrawing step let go; return the new log."""
    counts = fill_forgotten(connection, steps, work.folder_of, step)
    log = []
    for one in steps:
        held, gone = counts.get(one.number, (0, 0))
        if one.number == step.number or (gone and gone == held):
            log.append(replace(one, is_forgotten=True))
        elif gone:
            unit = read_copy(work.copy_of(str(one.unit_copy)))
            folder = f"{one.number:04d}-{step.number:04d}"
            old = work.folder_of(one)
            forget_rows(connection, old, unit, one.number, work.brought / folder)
            log.append(replace(one, folder=folder))
        else:
            log.append(one)
    return log


def remembered(store: Path) -> tuple[list[Step], dict[int, tuple[int, int]]]:
    """Return the steps of a store, and of each delivery the newborns and late rows that stand.

    Raises StoreError where there is no store.
    """
    open_store(store).close()
    steps, memory = read_steps(store), memory_of(store)
    with duckdb.connect() as connection:
        fill_standing(connection, steps, lambda step: memory / str(step.folder))
        return steps, newborns_won(connection)

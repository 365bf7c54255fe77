"""The log of a store's steps: what was added, replaced, withdrawn, built again, undone.

A step is never taken out of the log: it is undone by another step, which can be undone itself.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import astuple, dataclass
from pathlib import Path
from typing import Final

import duckdb

from pipelines.base.errors import StoreError, nearest
from pipelines.base.store_file import open_store

# Verb of a step -> how the list says it.
VERBS: Final = {
    "add": "added",
    "replace": "replaced",
    "withdraw": "withdrawn",
    "build": "built",
    "undo": "undone",
}
_COLUMNS: Final = (
    "number integer, taken_at timestamp, verb varchar, unit varchar, delivery varchar, "
    "of_step integer, month_from date, month_to date, undoes integer, folder varchar, "
    "unit_copy varchar, newborns integer, row_count bigint, first_month date, last_month date, "
    "is_forgotten boolean"
)


@dataclass(frozen=True)
class Step:
    """One step. ``number`` from 1; times in UTC.

    ``delivery``: the name of what it brought; ``folder``: where its rows are kept. What it lets
    go of everything earlier: ``of_step`` (one delivery), or the births of ``month_from`` to
    ``month_to`` (first days of months, both inclusive; None: all) of its unit.
    """

    number: int
    taken_at: dt.datetime
    verb: str
    unit: str
    delivery: str | None = None
    of_step: int | None = None
    month_from: dt.date | None = None
    month_to: dt.date | None = None
    undoes: int | None = None
    folder: str | None = None
    unit_copy: str | None = None
    newborns: int = 0
    row_count: int = 0
    first_month: dt.date | None = None
    last_month: dt.date | None = None
    is_forgotten: bool = False

    @property
    def lets_go(self) -> bool:
        """Whether something earlier may no longer stand because of it."""
        is_rebuilt = self.verb == "build" and self.folder is not None
        return self.verb in {"replace", "withdraw"} or is_rebuilt


def read_steps(store: Path) -> list[Step]:
    """Return the steps of a store, oldest first; none where there is no store, or no memory.

    Raises StoreError where the store cannot be read.
    """
    if not store.exists():
        return []
    with open_store(store) as connection:
        found = connection.execute(
            "select count(*) from information_schema.tables "
            "where table_schema = 'memory' and table_catalog = current_database()"
        ).fetchone()
        if not found or not found[0]:
            return []
        rows = connection.execute("select * from memory.step order by number").fetchall()
    return [Step(*row) for row in rows]


def write_steps(connection: duckdb.DuckDBPyConnection, steps: Sequence[Step]) -> None:
    """Write the log into the store that is being built."""
    connection.execute("create schema memory")
    connection.execute(f"create table memory.step ({_COLUMNS})")
    rows = [astuple(step) for step in steps]
    marks = f"({', '.join('?' * len(rows[0]))})"
    values = [value for row in rows for value in row]
    connection.execute(f"insert into memory.step values {', '.join([marks] * len(rows))}", values)


def live(steps: Sequence[Step]) -> list[Step]:
    """Return the steps that are not undone, without the undoing itself.

    An undo comes after what it undoes: read from the last, each is decided when it is met.
    """
    undone: set[int] = set()
    for step in reversed(steps):
        if step.verb == "undo" and step.number not in undone and step.undoes is not None:
            undone.add(step.undoes)
    return [step for step in steps if step.number not in undone and step.verb != "undo"]


def undone_by(steps: Sequence[Step]) -> dict[int, int]:
    """Return of every step that is undone the number of the step that undid it."""
    found: dict[int, int] = {}
    for step in reversed(steps):
        if step.verb == "undo" and step.number not in found and step.undoes is not None:
            found[step.undoes] = step.number
    return found


def to_undo(steps: Sequence[Step], number: int | None) -> Step:
    """Return the step that is to be undone: the one named, else the last that is not undone.

    Raises StoreError where there is none, it is undone already, or its rows were forgotten.
    """
    undone = undone_by(steps)
    if number is None:
        left = live(steps)
        if not left:
            raise StoreError("No step is left to undo.")
        found = left[-1]
    else:
        by_number = {step.number: step for step in steps}
        if number not in by_number:
            known = ", ".join(str(one) for one in by_number) or "none"
            raise StoreError(f"There is no step {number}. Steps: {known}.")
        found = by_number[number]
    if found.number in undone:
        raise StoreError(
            f"Step {found.number} is undone already, by step {undone[found.number]}; undo that "
            "one to have it back."
        )
    if found.is_forgotten and found.verb == "withdraw":
        raise StoreError(
            f"Step {found.number} withdrew rows and they were forgotten; they cannot come back. "
            "Add their exports again."
        )
    return found


def delivery_named(steps: Sequence[Step], name: str) -> Step:
    """Return the step that brought a delivery, which is not undone. Raises StoreError."""
    named = {step.delivery: step for step in live(steps) if step.delivery and step.folder}
    if name not in named:
        raise StoreError(f"There is no delivery '{name}'.{nearest(name, list(map(str, named)))}")
    return named[name]


def new_name(steps: Sequence[Step], unit: str, first: dt.date | None, last: dt.date | None) -> str:
    """Return a name for a delivery that none has had: its unit and its months of birth."""
    months = [f"{month:%Y-%m}" for month in (first, last) if month]
    name = "_".join([unit, *dict.fromkeys(months)])
    taken = {step.delivery for step in steps}
    place = 2
    found = name
    while found in taken:
        found, place = f"{name}.{place}", place + 1
    return found

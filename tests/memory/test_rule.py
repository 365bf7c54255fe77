"""The one rule of what stands, held to a second telling of it, newborn by newborn in plain Python.

Sequences of steps are drawn at random (hypothesis); deliveries are a few newborns, whole or with
late entries alone. No published source: the rule is the project's own, as README.md says it.
"""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import duckdb
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.base.errors import StoreError
from pipelines.memory.kept import NEWBORNS
from pipelines.memory.standing import difference, fill_standing, newborns_won
from pipelines.memory.steps import Step, live, new_name, to_undo

AT = dt.datetime(2026, 1, 1)
MONTHS = [dt.date(2025, month, 1) for month in (1, 2, 3)]
Held = dict[str, tuple[bool, dt.date | None, str]]  # newborn -> whole, month, content
Drawn = tuple[list[Step], dict[int, Held]]


@st.composite
def sequences(draw: st.DrawFn) -> Drawn:
    steps: list[Step] = []
    held: dict[int, Held] = {}
    for number in range(1, draw(st.integers(2, 9)) + 1):
        verb = draw(st.sampled_from(["add", "add", "add", "replace", "withdraw", "undo", "build"]))
        unit = draw(st.sampled_from(["a", "a", "b"]))
        brought = [step for step in steps if step.folder]
        step = Step(number, AT, verb, unit)
        if verb == "undo":
            undone = [one for one in steps if one in live(steps)] + [
                one for one in steps if one.verb == "undo"
            ]
            if not undone:
                continue
            target = draw(st.sampled_from(undone))
            steps.append(replace(step, unit=target.unit, undoes=target.number))
            continue
        if verb in {"replace", "withdraw"}:
            if brought and draw(st.booleans()):
                of = draw(st.sampled_from(brought))
                step = replace(step, unit=of.unit, of_step=of.number)
            elif verb == "replace" or draw(st.booleans()):
                months = sorted(draw(st.lists(st.sampled_from(MONTHS), min_size=2, max_size=2)))
                step = replace(step, month_from=months[0], month_to=months[1])
        if verb != "withdraw":
            step = replace(step, folder=f"{number}", delivery=f"d{number}")
            names = draw(st.lists(st.sampled_from("pqrs"), min_size=1, max_size=4, unique=True))
            held[number] = {}
            for name in names:
                is_whole = draw(st.booleans()) or draw(st.booleans())
                month = draw(st.sampled_from([*MONTHS, None])) if is_whole else None
                held[number][name] = (is_whole, month, draw(st.sampled_from("xy")))
        steps.append(step)
    return steps, held


def told(steps: list[Step], held: dict[int, Held]) -> set[tuple[int, str, str]]:
    """Return (step, unit, newborn) of what stands, by asking of each newborn what became of it."""
    is_live = {step.number: True for step in steps}
    for step in sorted(steps, key=lambda one: -one.number):
        if step.verb == "undo" and is_live[step.number]:
            is_live[int(step.undoes or 0)] = False
    acting = [step for step in steps if is_live[step.number] and step.verb != "undo"]
    stand = set()
    for unit in ("a", "b"):
        for name in "pqrs":
            rows: list[tuple[int, bool, dt.date | None]] = []
            known: list[tuple[int, dt.date | None]] = []  # months of its admission rows, in order
            for step in (one for one in acting if one.unit == unit):
                if step.verb in {"replace", "withdraw", "build"}:
                    rows = [row for row in rows if not _reached(step, row, known)]
                if step.folder and name in held[step.number]:
                    is_whole, month, _ = held[step.number][name]
                    rows.append((step.number, is_whole, month))
                    if is_whole:
                        known.append((step.number, month))
            whole = [number for number, is_whole, _ in rows if is_whole]
            stand |= {
                (number, unit, name)
                for number, is_whole, _ in rows
                if not is_whole or number == max(whole)
            }
    return stand


def _reached(
    step: Step, row: tuple[int, bool, dt.date | None], known: list[tuple[int, dt.date | None]]
) -> bool:
    number, _, month = row
    if step.of_step is not None and step.of_step != number:
        return False
    if step.month_from is None or step.month_to is None:
        return True
    if month is None:  # late entries, and admission rows whose birth time cannot be read
        dated = [one for _, one in known if one is not None]
        month = dated[-1] if dated else None
    return month is not None and step.month_from <= month <= step.month_to


def lay(folder: Path, held: dict[int, Held]) -> None:
    with duckdb.connect() as connection:
        for number, newborns in held.items():
            place = folder / str(number)
            place.mkdir()
            rows = ", ".join(
                f"('{name}', {f'date {chr(39)}{month}{chr(39)}' if month else 'null::date'}, "
                f"{whole}, 1::bigint, '{content}')"
                for name, (whole, month, content) in newborns.items()
            )
            connection.execute(
                f"copy (select * from (values {rows}) as newborn "
                "(record_id, birth_month, is_whole, row_count, content)) "
                f"to '{place / NEWBORNS}' (format parquet)"
            )


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(sequences())
def test_what_stands_is_what_the_rule_says(
    tmp_path_factory: pytest.TempPathFactory, drawn: Drawn
) -> None:
    steps, held = drawn
    folder = tmp_path_factory.mktemp("rule")
    lay(folder, held)
    with duckdb.connect() as connection:
        fill_standing(connection, steps, lambda step: folder / str(step.folder))
        found = connection.execute("select step, unit, record_id from standing").fetchall()
    assert len(found) == len(set(found))
    assert set(found) == told(steps, held)


@settings(max_examples=25, deadline=None)
@given(sequences())
def test_an_undo_gives_back_what_stood(
    tmp_path_factory: pytest.TempPathFactory, drawn: Drawn
) -> None:
    steps, held = drawn
    if not live(steps):
        return
    folder = tmp_path_factory.mktemp("undo")
    lay(folder, held)
    last = to_undo(steps, None)
    without = [step for step in live(steps) if step.number != last.number]
    number = max(step.number for step in steps) + 1
    undone = [*steps, Step(number, AT, "undo", last.unit, undoes=last.number)]
    again = [*undone, Step(number + 1, AT, "undo", last.unit, undoes=number)]
    with duckdb.connect() as connection:
        for name, log in (("want", without), ("stand", undone), ("before", steps), ("redo", again)):
            fill_standing(connection, log, lambda step: folder / str(step.folder), name)
        for one, other in (("stand", "want"), ("redo", "before")):
            assert connection.execute(f"from {one} except from {other}").fetchall() == []
            assert connection.execute(f"from {other} except from {one}").fetchall() == []


def test_a_difference_counts_what_a_correction_changes(tmp_path: Path) -> None:
    """Three newborns stood; one is corrected, one said again, one new, one late entry."""
    held: dict[int, Held] = {
        1: dict.fromkeys("pqr", (True, MONTHS[0], "x")),
        2: {
            "p": (True, MONTHS[0], "y"), "q": (True, MONTHS[0], "x"), "s": (True, MONTHS[0], "x"),
            "t": (False, None, "x"), "r": (False, None, "z"),
        },
    }  # fmt: skip
    lay(tmp_path, held)
    steps = [Step(1, AT, "add", "a", "d1", folder="1"), Step(2, AT, "add", "a", "d2", folder="2")]
    with duckdb.connect() as connection:
        fill_standing(connection, steps[:1], lambda step: tmp_path / str(step.folder), "stood")
        fill_standing(connection, steps, lambda step: tmp_path / str(step.folder))
        found = difference(connection, "stood", "standing", 2)
        assert newborns_won(connection) == {1: (1, 0), 2: (3, 2)}
    assert (found.new, found.same, found.other, found.gone, found.late) == (1, 1, 1, 0, 2)
    assert (found.unknown, found.stay, found.newborns) == (1, 1, 4)


def test_steps_that_cannot_be_undone_are_refused_in_words() -> None:
    gone = Step(2, AT, "withdraw", "a", is_forgotten=True)
    steps = [Step(1, AT, "add", "a", "d1", folder="1"), gone]
    with pytest.raises(StoreError, match="Step 2 withdrew rows and they were forgotten"):
        to_undo(steps, None)
    with pytest.raises(StoreError, match=r"There is no step 7\. Steps: 1, 2\."):
        to_undo(steps, 7)
    undone = [*steps, Step(3, AT, "undo", "a", undoes=1)]
    with pytest.raises(StoreError, match="Step 1 is undone already, by step 3"):
        to_undo(undone, 1)


def test_a_name_is_given_once() -> None:
    steps = [Step(1, AT, "add", "a", "a_2025-01", folder="1")]
    assert new_name(steps, "a", MONTHS[0], MONTHS[0]) == "a_2025-01.2"
    assert new_name(steps, "a", MONTHS[0], MONTHS[2]) == "a_2025-01_2025-03"

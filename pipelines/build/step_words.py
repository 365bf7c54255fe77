"""What a step changes of what stands, and what a store remembers, in words.

Said beforehand in a dry run and before anything is written, and afterwards; counts alone.
"""

import datetime as dt
from collections.abc import Sequence
from typing import Final

from pipelines.memory.standing import Difference
from pipelines.memory.steps import VERBS, Step, undone_by

_RULE: Final = (
    "Of a newborn that several deliveries hold, the newest delivery wins, with its whole record."
)


def plan_words(step: Step, steps: Sequence[Step], changed: Difference) -> list[str]:
    """Say what ``step`` does and which rows win after it."""
    lines = [_first(step, steps)]
    if changed.new:
        come = "Back again" if step.verb in {"undo", "withdraw"} else "New"
        lines.append(f"  {come}: {_newborns(changed.new)}.")
    if changed.same or changed.other:
        fewer = f", {changed.fewer:,} of them in fewer rows than before" if changed.fewer else ""
        from_where = "an earlier delivery" if step.verb in {"undo", "withdraw"} else "this one"
        lines.append(
            f"  Stood already and will come from {from_where}: "
            f"{_newborns(changed.same + changed.other)}, of whom {changed.same:,} say the same and "
            f"{changed.other:,} something else{fewer}."
        )
    if changed.gone:
        lines.append(f"  No longer standing: {_newborns(changed.gone)}.")
    lines += _late(changed)
    if step.verb == "add" and changed.stay:
        lines.append(
            f"  Of the same months, but not in this delivery: {_newborns(changed.stay)}, who stay "
            "as they were ('lanugo replace' lets them go)."
        )
    lines.append(f"  After it: {_newborns(changed.newborns)}. {_RULE}")
    return lines


def _first(step: Step, steps: Sequence[Step]) -> str:
    number = f"Step {step.number}"
    if step.verb == "undo":
        undone = next(one for one in steps if one.number == step.undoes)
        return f"{number} undoes step {undone.number} ({_said(undone, steps)})."
    if step.verb == "build" and step.folder is None:
        return f"{number} builds unit '{step.unit}' again from what stands, by its file of now."
    return f"{number}: {_said(step, steps)}."


def _said(step: Step, steps: Sequence[Step]) -> str:
    """Say in one phrase what a step did."""
    if step.verb == "undo":
        return f"undid step {step.undoes}"
    if step.verb == "withdraw":
        return f"withdrawn is {_scope(step, steps)}"
    if step.folder is None:
        return f"unit '{step.unit}' was built again"
    words = (
        f"delivery {step.delivery} with {_newborns(step.newborns)} "
        f"({_rows(step.row_count)}{_born(step)})"
    )
    if step.verb == "replace":
        return f"{words} in place of {_scope(step, steps)}"
    if step.verb == "build":
        return f"{words} in place of all of unit '{step.unit}'"
    return f"{words} is added"


def _scope(step: Step, steps: Sequence[Step]) -> str:
    if step.of_step is not None:
        named = next(one for one in steps if one.number == step.of_step)
        return f"delivery {named.delivery}"
    if step.month_from is None:
        return f"all of unit '{step.unit}'"
    return f"all births of unit '{step.unit}' in {_span(step.month_from, step.month_to)}"


def _late(changed: Difference) -> list[str]:
    lines = []
    if changed.late:
        lines.append(
            f"  {_rows(changed.late)} of newborns whose admission row is not in the same delivery "
            "(late entries): added to what stands of them."
        )
    if changed.unknown:
        lines.append(
            f"  {_newborns(changed.unknown)} of late entries: no delivery holds the admission row "
            "yet; what is here of them is set aside until one does."
        )
    if changed.late_gone:
        lines.append(f"  Late entries that no longer stand: {_rows(changed.late_gone)}.")
    return lines


def deliveries_words(steps: Sequence[Step], won: dict[int, tuple[int, int]]) -> list[str]:
    """List every step, and of every delivery how many of its newborns stand."""
    if not steps:
        return [
            "This store remembers no deliveries: it was built from folders. 'lanugo add' begins "
            "a store with a memory."
        ]
    undone = undone_by(steps)
    head = ("step", "when (UTC)", "what", "delivery", "births", "newborns", "stand", "")
    rows: list[tuple[str, ...]] = [head]
    rows += [_row(step, steps, won, undone.get(step.number)) for step in steps]
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]))]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
    return [*lines, "", _RULE]


def _row(
    step: Step, steps: Sequence[Step], won: dict[int, tuple[int, int]], undone: int | None
) -> tuple[str, ...]:
    stand, late = won.get(step.number, (0, 0))
    has_rows = step.folder is not None
    notes = [f"undone by step {undone}"] if undone else []
    if step.is_forgotten:
        notes.append("forgotten")
    if late:
        notes.append(f"late entries: {_rows(late)}")
    if step.lets_go and step.verb != "build":
        notes.append(f"lets go of {_scope(step, steps)}")
    return (
        str(step.number),
        f"{step.taken_at:%Y-%m-%d %H:%M}",
        f"{VERBS[step.verb]}" + (f" step {step.undoes}" if step.undoes else ""),
        step.delivery or f"({step.unit})",
        _born(step).removeprefix(", born ") if has_rows else "",
        f"{step.newborns:,}" if has_rows else "",
        f"{stand:,}" if has_rows else "",
        "; ".join(notes),
    )


def _born(step: Step) -> str:
    if step.first_month is None:
        return ""
    return f", born {_span(step.first_month, step.last_month)}"


def _span(first: dt.date, last: dt.date | None) -> str:
    if last is None or last == first:
        return f"{first:%Y-%m}"
    return f"{first:%Y-%m} to {last:%Y-%m}"


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count:,} rows"


def _newborns(count: int) -> str:
    return "1 newborn" if count == 1 else f"{count:,} newborns"

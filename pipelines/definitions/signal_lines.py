"""The life of a signal, as the unit writes it down: dated lines under [[signals]] of its file.

    [[signals]]
    measure = "warm_excess"
    on = 2026-08-12
    step = "explained"
    role = "unit educator"
    reason = "heater of room 3 stuck at 28 degrees"

The steps. ``opened``: someone has taken it up; nothing is answered yet. ``explained``: what is
behind it is known. ``accepted``: a new level, better or worse, which holds from ``level_from``
on; the one step that begins new limits. ``settled``: it is over, and nothing more is to be done.
"""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.spec_checks import as_date, need, refuse_unknown

OPENED: Final = "opened"
EXPLAINED: Final = "explained"
ACCEPTED: Final = "accepted"
SETTLED: Final = "settled"
STEPS: Final = (OPENED, EXPLAINED, ACCEPTED, SETTLED)
_KEYS: Final = ("measure", "on", "step", "level_from", "role", "reason")


@dataclass(frozen=True)
class SignalLine:
    """One dated line: what someone, named by role, said of a signal of one measure."""

    measure: str
    on: dt.date
    step: str
    role: str
    reason: str
    level_from: dt.date | None = None


def read_signal_lines(where: str, specs: Sequence[Mapping[str, Any]]) -> tuple[SignalLine, ...]:
    """Read the lines in the order of the file.

    Raises DeclarationError naming the file, the line's place and the key.
    """
    lines: list[SignalLine] = []
    latest: dict[str, dt.date] = {}
    for place, spec in enumerate(specs, start=1):
        here = f"{where} signals[{place}]"
        line = _line(here, spec)
        before = latest.get(line.measure, line.on)
        if line.on < before:
            raise DeclarationError(
                f"{here}: on = {line.on} comes after a line of '{line.measure}' of {before}; "
                "write the lines of a measure in the order of their dates."
            )
        latest[line.measure] = line.on
        lines.append(line)
    return tuple(lines)


def _line(where: str, spec: Mapping[str, Any]) -> SignalLine:
    refuse_unknown(where, spec, _KEYS)
    need(where, spec, "measure", "on", "step", "role", "reason")
    for key in ("measure", "step", "role", "reason"):
        if not isinstance(spec[key], str) or not spec[key].strip():
            raise DeclarationError(f"{where}: '{key}' must be words in quotes.")
    if spec["step"] not in STEPS:
        raise DeclarationError(
            f"{where}: step '{spec['step']}' is not known; the steps are {', '.join(STEPS)}."
            f"{nearest(spec['step'], STEPS)}"
        )
    on = as_date(f"{where} on", spec["on"])
    level_from = _level_from(where, spec, on)
    return SignalLine(
        spec["measure"], on, spec["step"], spec["role"].strip(), spec["reason"].strip(), level_from
    )


def _level_from(where: str, spec: Mapping[str, Any], on: dt.date) -> dt.date | None:
    """Return the month from which an accepted level holds; None for the other steps."""
    if spec["step"] != ACCEPTED:
        if "level_from" in spec:
            raise DeclarationError(
                f"{where}: 'level_from' belongs to step = \"{ACCEPTED}\" alone; take it out."
            )
        return None
    if "level_from" not in spec:
        raise DeclarationError(
            f"{where}: key 'level_from' is missing; write the first day of the month from which "
            "the accepted level holds."
        )
    level_from = as_date(f"{where} level_from", spec["level_from"])
    if level_from.day != 1:
        raise DeclarationError(
            f"{where}: level_from = {level_from} is not the first of a month; write "
            f"{level_from.replace(day=1)}."
        )
    if level_from > on:
        raise DeclarationError(
            f"{where}: level_from = {level_from} lies after on = {on}; a level can only be "
            "accepted once it is there."
        )
    return level_from


def by_result(
    lines: Sequence[SignalLine], results: Mapping[str, Sequence[str]]
) -> Iterator[tuple[str, SignalLine]]:
    """Yield (result id, line); the name of a file of bands stands for each of its bands."""
    for line in lines:
        for name in results.get(line.measure, (line.measure,)):
            yield name, line

"""What a draft proposes: for each canonical column a source, how sure, and why.

``sure``: the name says it and the content can be nothing else. ``check``: one of the two.
``ask``: several things are possible, and a person has to say which. The evidence is counts and
ranges, never a value of one newborn.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

from pipelines.definitions.local_words import phrases
from pipelines.definitions.read_contract import Column, Table, read_contract
from pipelines.drafts.export_columns import Local, Shape
from pipelines.drafts.fits import Fit, dated, fit
from pipelines.drafts.name_match import Match, matches, without_units

Level = Literal["sure", "check", "ask"]
LEVELS: Final = ("sure", "check", "ask")
_ENOUGH_ROWS: Final = 30  # below that nothing that content says is sure


@dataclass(frozen=True)
class Proposal:
    """A source of one canonical column: local columns or a constant, and how sure it is."""

    column: str
    locals: tuple[str, ...]
    level: Level
    why: str
    value: str | None = None
    unit: str | Mapping[str, str] | None = None
    unit_from: str | None = None
    form: str | None = None
    # Word of the list -> its code (or several columns at once), None where it is to be asked.
    words: Mapping[str, str | Mapping[str, str] | None] = field(default_factory=dict)


@dataclass
class TakeDraft:
    """A canonical table taken from a file: one kind of it in a wide file, many in a long one."""

    table: str
    kind: str | None
    proposals: list[Proposal] = field(default_factory=list)

    def has(self, column: str) -> bool:
        return any(one.column == column for one in self.proposals)


@dataclass
class FileDraft:
    shape: Shape
    takes: list[TakeDraft] = field(default_factory=list)


def worst(*levels: Level) -> Level:
    return max(levels, key=LEVELS.index)


def is_wanted(column: Column, *, is_clock: bool) -> bool:
    """Whether the unit's form of time leaves a column to be mapped."""
    if column.name == "record_id":
        return False
    if is_clock:
        return not (column.name.startswith("birth_") and column.type in {"month", "integer"})
    return column.type != "instant"


def _level(match: Match, seen: Fit, rows: int) -> Level:
    if seen.fits is False:
        return "ask"
    if match.is_said and seen.fits and rows >= _ENOUGH_ROWS:
        return "sure"
    return "check" if match.is_said or seen.fits else "ask"


def _filled(local: Local) -> str:
    return f"{len(local.texts):,} of {len(local.cells):,} filled"


def source(column: Column, local: Local, match: Match, seen: Fit, level: Level) -> Proposal:
    form = seen.form
    return Proposal(
        column.name,
        local.names,
        level,
        f"{match.in_words}; {_filled(local)}, {seen.why}",
        unit=seen.unit,
        form=form,
        words=dict(seen.words),
    )


def admission(
    shape: Shape, locals_: Sequence[Local], *, is_clock: bool
) -> tuple[list[Proposal], set[tuple[str, ...]]]:
    """Return what is proposed for the admission, and the names of the columns that it uses."""
    table = read_contract()["admission"]
    wanted = {
        name: column
        for name, column in table.columns.items()
        if is_wanted(column, is_clock=is_clock)
    }
    rated = [
        one
        for local in locals_
        for one in _candidates(shape, local, table, wanted, is_clock=is_clock)
    ]
    rated.sort(key=lambda one: (LEVELS.index(one[1].level), -one[0]))
    return _without_rivals(rated)


def _candidates(
    shape: Shape, local: Local, table: Table, wanted: Mapping[str, Column], *, is_clock: bool
) -> list[tuple[float, Proposal]]:
    of = {name: one for name, one in phrases("admission").items() if name in wanted}
    words = without_units(local.words)
    found: dict[str, Match] = {}
    for tried in dict.fromkeys((local.words, words, dated(words))):
        for match in matches(tried, of):
            if match.score > found.get(match.name, Match("", 0.0, ())).score:
                found[match.name] = match
    rated = []
    for name, match in found.items():
        column = wanted[name]
        seen = fit(shape, local, column, table.name, is_clock=is_clock)
        if seen.fits is not False or match.is_said:
            level = _level(match, seen, shape.rows)
            rated.append((match.score, source(column, local, match, seen, level)))
    return rated


def _without_rivals(
    rated: Sequence[tuple[float, Proposal]],
) -> tuple[list[Proposal], set[tuple[str, ...]]]:
    """Keep the best for each column; where two are as good, ask."""
    kept: dict[str, tuple[float, Proposal]] = {}
    used: dict[tuple[str, ...], tuple[float, Proposal]] = {}
    doubtful: set[str] = set()
    for score, one in rated:
        if one.column in kept:
            best, first = kept[one.column]
            if (score, one.level) == (best, first.level) and one.locals != first.locals:
                doubtful.add(one.column)
            continue
        if one.locals in used:
            best, first = used[one.locals]
            if (score, one.level) == (best, first.level):
                doubtful |= {first.column}
            continue
        kept[one.column] = used[one.locals] = (score, one)
    proposals = [
        _asked(one, "another column or meaning fits as well") if name in doubtful else one
        for name, (_, one) in kept.items()
    ]
    return proposals, {one.locals for one in proposals if one.level != "ask"}


def _asked(one: Proposal, why: str) -> Proposal:
    return Proposal(
        one.column, one.locals, "ask", f"{one.why}; {why}", one.value, one.unit, one.unit_from,
        one.form, one.words,
    )  # fmt: skip

"""Events in exports: columns of a wide file that name a kind, long files with a row for each."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from pipelines.base.measuring_units import conversions
from pipelines.definitions.local_words import phrases, plain
from pipelines.definitions.read_contract import Table, read_contract
from pipelines.drafts.export_columns import Local, Shape
from pipelines.drafts.fits import RANGES, Fit, fit, measured
from pipelines.drafts.name_match import (
    Match,
    marks,
    one_of,
    said,
    unit_of,
    within,
    without,
    without_units,
)
from pipelines.drafts.proposals import Level, Proposal, TakeDraft, source, worst

_TABLES: Final = ("observation", "dose", "care", "finding")
_KNOWN_KINDS: Final = 0.4  # share of a long file's rows whose item is a known kind
# Columns of an event by what its texts are, where the name says no more than the kind.
_BY_WORDS: Final = {"dose": "status", "care": "status", "finding": "as_expected"}


# ---- wide files -----------------------------------------------------------------------------


def _kind_of(local: Local) -> list[tuple[str, Match]]:
    """Return (table, kind) that a column's name holds, the longest phrase alone."""
    words = local.words
    found = [
        (table, match) for table in _TABLES for match in within(words, phrases("kinds", table))
    ]
    shortest = min((len(match.rest) for _, match in found), default=0)
    return [(table, match) for table, match in found if len(match.rest) == shortest]


def _place(rest: tuple[str, ...]) -> tuple[str, tuple[str, ...]]:
    """Return which of several readings a name means, and the words that are left."""
    numbers = [one for one in rest if one.isdigit() or one in marks("ordinal")]
    left = tuple(one for one in rest if one not in numbers)
    return " ".join(numbers), left


def _role(table: Table, left: tuple[str, ...]) -> tuple[list[str], bool]:
    """Return the columns that the words beside a kind say, and whether they say one at all."""
    bare = without_units(("", *left))[1:]
    bare = tuple(one for one in bare if one and one not in marks("filler")) or bare
    if not bare:
        return [], True
    names = [match.name for match in said(bare, phrases("roles"))]
    return [name for name in names if name in table.columns], bool(names)


def _by_content(table: str, local: Local, *, is_clock: bool) -> list[str]:
    """Return the columns that a column can be whose name says the kind and no more."""
    if local.is_time:
        return ["minutes"]
    if local.is_number:
        if table == "observation":
            return ["value"]
        if table == "dose":
            return ["amount"] if is_clock or unit_of(("x", *local.words)) else []
        return ["minutes"] if table in {"care", "finding"} and not is_clock else ["quantity"]
    return [_BY_WORDS[table]] if table in _BY_WORDS and local.is_choice else []


def wide_events(
    shape: Shape, locals_: Sequence[Local], used: set[tuple[str, ...]], *, is_clock: bool
) -> list[TakeDraft]:
    """Return a take for each kind (and reading of it) that columns of a wide file are about."""
    takes: dict[tuple[str, str, str], TakeDraft] = {}
    for local in locals_:
        if local.names in used or local.identifies:
            continue
        for proposal, key in _of_wide(shape, local, is_clock=is_clock):
            take = takes.setdefault(key, TakeDraft(key[0], key[1]))
            take.proposals.append(proposal)
    _settle_care_and_finding(takes)
    return [_settled(take) for take in takes.values() if _says_when_or_what(take)]


def _of_wide(
    shape: Shape, local: Local, *, is_clock: bool
) -> list[tuple[Proposal, tuple[str, str, str]]]:
    found = []
    kinds = _kind_of(local)
    for table_name, match in kinds:
        table = read_contract()[table_name]
        number, left = _place(match.rest)
        site = said(left, phrases("codes", "observation_site")) if left else []
        left = () if site and table_name == "observation" else left
        roles, is_named = _role(table, left)
        roles = roles or (_by_content(table_name, local, is_clock=is_clock) if is_named else [])
        place = f"{number} {site[0].name if site else ''}".strip()
        rated = [_rated(shape, local, match, table, role, is_clock=is_clock) for role in roles]
        fitting = [one for one in rated if one is not None]
        for proposal in fitting:
            is_one = len(fitting) == 1 and len(kinds) == 1
            settled = (
                proposal if is_one else replace(proposal, level=worst(proposal.level, "check"))
            )
            found.append((settled, (table_name, match.name, place)))
    return found


def _rated(
    shape: Shape, local: Local, match: Match, table: Table, role: str, *, is_clock: bool
) -> Proposal | None:
    column = table.columns[role]
    if role == "value" and match.name in table.kinds:
        kind = table.kinds[match.name]
        seen = measured(local, match.name, kind.unit, kind.substance)
    else:
        seen = fit(shape, local, column, table.name, is_clock=is_clock)
    if seen.fits is False and role != "value":
        return None
    level: Level = "sure" if seen.fits else "ask" if seen.fits is False else "check"
    if role in {"status", "reason", "detail", "amount", "quantity"}:
        level = worst(level, "check" if role != "status" else level)
    if any(code == "held" for code in seen.words.values()) and table.name == "dose":
        seen = replace(seen, why=f"{seen.why}; whether 'no' means held is to be checked")
    return source(column, local, match, seen, level)


def _settle_care_and_finding(takes: dict[tuple[str, str, str], TakeDraft]) -> None:
    """One name may be a care item and a finding: the one with more columns is meant."""
    for key in [key for key in takes if key[0] == "care"]:
        other = ("finding", key[1], key[2])
        if other in takes:
            fewer = min((key, other), key=lambda one: len(takes[one].proposals))
            takes.pop(fewer)


def _says_when_or_what(take: TakeDraft) -> bool:
    return any(take.has(name) for name in ("minutes", "value", "status", "as_expected"))


def _settled(take: TakeDraft) -> TakeDraft:
    """Where two columns of one reading claim one place, both are asked."""
    counted: dict[str, list[Proposal]] = defaultdict(list)
    for one in take.proposals:
        counted[one.column].append(one)
    kept = []
    for same in counted.values():
        first = same[0]
        if len(same) > 1:
            others = " or ".join(f"'{name}'" for one in same[1:] for name in one.locals)
            first = replace(first, level="ask", why=f"{first.why}; or is it {others}?")
        kept.append(first)
    return TakeDraft(take.table, take.kind, kept)


# ---- long files -----------------------------------------------------------------------------


def _item(word: str, table: str) -> dict[str, str] | None:
    """Return what a word of an item column means: its kind, and site or food beside it."""
    words = plain(word)
    whole = said(words, phrases("kinds", table))
    if len(whole) == 1:
        return {"kind": whole[0].name}
    beside = {"observation": ("site", "observation_site"), "care": ("feed", "feed")}.get(table)
    found = within(words, phrases("kinds", table))
    if len(found) == 1 and beside and found[0].rest:
        more = said(found[0].rest, phrases("codes", beside[1]))
        if len(more) == 1:
            return {"kind": found[0].name, beside[0]: more[0].name}
    return None


def _items(
    shape: Shape, local: Local, table: str
) -> tuple[float, dict[str, dict[str, str] | None]]:
    """Return on what share of the rows the item is a known kind, and word -> its meaning."""
    words = shape.words_of(local)
    means = {word: _item(word, table) for word in words}
    rows: dict[str, int] = defaultdict(int)
    for text in local.texts:
        rows[text.casefold()] += 1
    known = sum(rows[word.casefold()] for word, one in means.items() if one)
    return (known / len(local.texts) if local.texts else 0.0), means


def long_events(shape: Shape, locals_: Sequence[Local], *, is_clock: bool) -> TakeDraft | None:
    """Return the take of a long file: its item column says which table it is."""
    best: tuple[float, Local, str, dict[str, dict[str, str] | None]] | None = None
    for local in locals_:
        if not local.is_choice or local.names == (shape.key.names if shape.key else ()):
            continue
        for table in _TABLES:
            share, means = _items(shape, local, table)
            if share >= _KNOWN_KINDS and (best is None or share > best[0]):
                best = (share, local, table, means)
    if best is None:
        return None
    share, item, table_name, means = best
    level: Level = "sure" if share >= 0.7 else "check"
    why = f"{share:.0%} of its rows have a known item"
    kind = Proposal("kind", item.names, level, why, words=dict(means))
    take = TakeDraft(table_name, None, [kind])
    rest = [one for one in locals_ if one.names != item.names and one is not shape.key]
    take.proposals += _roles(shape, rest, read_contract()[table_name], item, is_clock=is_clock)
    return take


def _roles(
    shape: Shape, rest: Sequence[Local], table: Table, item: Local, *, is_clock: bool
) -> list[Proposal]:
    """Return what the other columns of a long file hold, by their whole names."""
    kept: dict[str, list[Proposal]] = defaultdict(list)
    units = next((one for one in rest if _says_role(one, "unit_from", table)), None)
    for local in rest:
        if local.identifies:
            continue
        for match in _matches_role(local, table):
            proposal = _of_role(shape, local, match, table, item, is_clock=is_clock)
            if proposal is not None:
                kept[match.name].append(proposal)
    settled = [_one_of(same) for same in kept.values()]
    return [_with_unit_column(one, units, table) for one in settled]


def _matches_role(local: Local, table: Table) -> list[Match]:
    of = {name: one for name, one in phrases("roles").items() if name in table.columns}
    words = without_units(local.words)
    tried = dict.fromkeys((local.words, words, without(words, "filler")))
    for one in tried:
        found = said(one, of)
        if found:
            return [match for match in found if match.name != "kind"]
    times = ("minutes",) if local.is_time and one_of(local.words, "date", "clock") else ()
    return [Match(name, 0.6, ("en",)) for name in times if name in of]


def _says_role(local: Local, role: str, table: Table) -> bool:
    return (
        role not in table.columns
        and bool(phrases("roles")[role].languages(local.words))
        and local.is_choice
    )


def _of_role(
    shape: Shape, local: Local, match: Match, table: Table, item: Local, *, is_clock: bool
) -> Proposal | None:
    column = table.columns[match.name]
    if match.name == "value":
        return _values(shape, local, match, table, item)
    seen = fit(shape, local, column, table.name, is_clock=is_clock)
    if seen.fits is False:
        return None
    level: Level = "sure" if seen.fits and match.is_said else "check"
    if match.name in {"detail", "told_role", "quantity"}:
        level = worst(level, "check")
    return source(column, local, match, seen, level)


def _values(shape: Shape, local: Local, match: Match, table: Table, item: Local) -> Proposal | None:
    """The readings of a long file: the unit of each kind by its own range."""
    if not local.is_number:
        return None
    units: dict[str, str] = {}
    doubts = []
    for kind, cells in _cells_by_kind(shape, local, item, table).items():
        canonical, substance = table.kinds[kind].unit, table.kinds[kind].substance
        if kind not in RANGES or len(conversions(canonical, substance)) < 2:
            continue
        seen = measured(Local(("value",), cells), kind, canonical, substance)
        if not seen.fits or seen.unit is None:
            doubts.append(kind)
        elif seen.unit != canonical:
            units[kind] = seen.unit
    why = "numbers; units by the range of each kind"
    if doubts:
        why += f"; the unit of {', '.join(doubts)} cannot be told"
    level: Level = "check" if doubts else "sure"
    seen = Fit(True, why)
    return replace(source(table.columns["value"], local, match, seen, level), unit=units or None)


def _cells_by_kind(
    shape: Shape, local: Local, item: Local, table: Table
) -> Mapping[str, list[str]]:
    found: dict[str, list[str]] = defaultdict(list)
    means = {
        word.casefold(): one["kind"]
        for word, one in _items(shape, item, table.name)[1].items()
        if one
    }
    for word, cell in zip(item.cells, local.cells, strict=True):
        kind = means.get(word.casefold())
        if kind in table.kinds and cell:
            found[str(kind)].append(cell)
    return found


def _one_of(same: Sequence[Proposal]) -> Proposal:
    sure = [one for one in same if one.level == "sure"]
    if len(same) == 1 or len(sure) == 1:
        return sure[0] if sure else same[0]
    others = " or ".join(f"'{name}'" for one in same[1:] for name in one.locals)
    return replace(same[0], level="ask", why=f"{same[0].why}; or is it {others}?")


def _with_unit_column(one: Proposal, units: Local | None, table: Table) -> Proposal:
    if one.column == "value" and units is not None and table.kinds:
        why = f"{one.why}; the unit stands in '{units.names[0]}'"
        return replace(one, unit=None, unit_from=units.names[0], why=why)
    return one

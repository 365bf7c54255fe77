"""From the shapes of a folder of exports to a whole draft: files, takes, lists of words, times."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from pipelines.definitions.identifiers import looks_like_record_numbers
from pipelines.definitions.local_words import phrases, plain
from pipelines.drafts.event_proposals import long_events, wide_events
from pipelines.drafts.export_columns import Local, Shape, read_shapes
from pipelines.drafts.fits import dated
from pipelines.drafts.joined_columns import (
    choose_key,
    key_candidates,
    key_of_events,
    weeks_and_days,
    with_pairs,
)
from pipelines.drafts.name_match import matches, within, without_units
from pipelines.drafts.proposals import FileDraft, Proposal, TakeDraft, admission


@dataclass
class UnitDraft:
    """Everything a draft says. ``lists``: (pattern, column) -> name of its recode list."""

    is_clock: bool
    forms: list[str]
    # Forms of which the exports cannot tell the right one: a day before the 13th fits both orders.
    either: list[str]
    has_offset: bool
    has_comma: bool
    files: list[FileDraft] = field(default_factory=list)
    lists: dict[tuple[str, str], str] = field(default_factory=dict)
    key_looks: str | None = None

    @property
    def proposals(self) -> Iterator[tuple[FileDraft, TakeDraft, Proposal]]:
        for file in self.files:
            for take in file.takes:
                for one in take.proposals:
                    yield file, take, one


def _said_names(shape: Shape) -> int:
    """Return how many columns of a file are called what the admission has."""
    of = phrases("admission")
    found = 0
    for local in shape.columns:
        tried = (local.words, without_units(local.words), dated(local.words))
        found += any(match.is_said for words in tried for match in matches(words, of)[:1])
    return found


def _admission_first(shapes: list[Shape]) -> list[Shape]:
    """The file with one row per newborn comes first: its key is unique, its names are ours."""
    return sorted(
        shapes,
        key=lambda shape: (not key_candidates(shape), -_said_names(shape), -len(shape.header)),
    )


def _times(locals_: list[Local]) -> tuple[list[str], list[str]]:
    """Return the forms of time, the most frequent first, and those between which nothing tells."""
    fitting = Counter(form for one in locals_ for form in one.forms)
    if not fitting:
        return [], []
    most = max(fitting.values())
    either = [form for form, n in fitting.items() if n == most]
    # By columns: one with few entries fits a day before the month and a month before the day.
    return [form for form, _ in fitting.most_common()], either if len(either) > 1 else []


def _anchored(local: tuple[str, ...]) -> bool:
    return bool(within(plain(" ".join(local)), {"anchor": phrases("marks")["anchor"]}))


def _ask_anchors(take: TakeDraft) -> None:
    """Minutes counted from something other than birth would be read as minutes after birth."""
    for place, one in enumerate(take.proposals):
        if one.column.endswith("minutes") and _anchored(one.locals):
            why = f"{one.why}; the name says that they are not counted from birth"
            take.proposals[place] = replace(one, level="ask", why=why)


def read_draft(folder: Path) -> UnitDraft:
    """Read the exports of a folder and propose what every column is.

    Raises ExportError where the folder holds no export that can be read.
    """
    shapes = _admission_first(read_shapes(folder))
    columns = {id(shape): with_pairs(shape) for shape in shapes}
    every = [one for found in columns.values() for one in found]
    forms, either = _times(every)
    draft = UnitDraft(
        is_clock=any(one.is_time for one in every),
        forms=forms,
        either=either,
        has_offset=any(one.has_offset for one in every),
        has_comma=any(one.has_comma for one in every),
    )
    first, *others = shapes
    key = choose_key(first, others)
    first.key = _local(first, key)
    draft.files.append(_admission_file(first, columns[id(first)], key, draft))
    if first.key:
        draft.key_looks = looks_like_record_numbers(first.key.names[0], first.key.distinct)
    for shape in others:
        draft.files.append(_event_file(shape, columns[id(shape)], first.key, draft))
    _name_lists(draft)
    return draft


def _local(shape: Shape, key: Proposal | None) -> Local | None:
    return next((one for one in shape.columns if key and one.names == key.locals), None)


def _admission_file(
    shape: Shape, locals_: list[Local], key: Proposal | None, draft: UnitDraft
) -> FileDraft:
    free = [one for one in locals_ if one is not shape.key]
    proposals, used = admission(shape, free, is_clock=draft.is_clock)
    joined = weeks_and_days(shape.columns)
    if joined is not None:
        proposals = [one for one in proposals if not set(one.locals) & set(joined.locals)]
        proposals = [one for one in proposals if one.column != joined.column] + [joined]
        used |= {(name,) for name in joined.locals}
    take = TakeDraft("admission", None, ([key] if key else []) + proposals)
    events = wide_events(shape, free, used, is_clock=draft.is_clock)
    for one in (take, *events):
        _ask_anchors(one)
    if key:
        events = [TakeDraft(one.table, one.kind, [key, *one.proposals]) for one in events]
    return FileDraft(shape, [take, *events])


def _event_file(
    shape: Shape, locals_: list[Local], key: Local | None, draft: UnitDraft
) -> FileDraft:
    found = key_of_events(key, shape) if key else None
    shape.key = _local(shape, found)
    free = [one for one in locals_ if one is not shape.key]
    take = long_events(shape, free, is_clock=draft.is_clock) if found else None
    if take is not None and found is not None:
        _ask_anchors(take)
        take.proposals.insert(0, found)
        return FileDraft(shape, [take])
    return FileDraft(shape)


def list_name(names: tuple[str, ...]) -> str:
    return "_".join(plain(" ".join(names))) or "list"


def _name_lists(draft: UnitDraft) -> None:
    """Give every list of words a name of its own, by its column and, where needed, its file."""
    taken: set[str] = set()
    for file, _, one in draft.proposals:
        place = (file.shape.name, one.locals[0] if one.locals else "")
        if not one.words or place in draft.lists:
            continue
        name = list_name(one.locals)
        if name in taken:
            name = f"{name}_{list_name((file.shape.pattern.split('.')[0],))}"
        taken.add(name)
        draft.lists[place] = name

"""A draft held against the unit's file that wrote the exports: what was proposed, and how well."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pipelines.definitions.read_units import Unit
from pipelines.definitions.unit_takes import Source
from pipelines.drafts.proposals import Proposal, TakeDraft
from pipelines.drafts.unit_draft import UnitDraft

Place = tuple[str, str, str]  # table, kind ("" where the file has many), canonical column


@dataclass(frozen=True)
class Score:
    """Of the sources that the unit's file needs: how many were proposed rightly.

    ``wrong``: proposed otherwise than the truth, with the level that the draft gave it.
    """

    needed: int
    right: int
    missing: list[Place]
    wrong: list[tuple[Place, str, tuple[str, ...]]]

    @property
    def share(self) -> float:
        return self.right / self.needed

    @property
    def surely_wrong(self) -> list[tuple[Place, str, tuple[str, ...]]]:
        return [one for one in self.wrong if one[1] == "sure"]


def _needed(unit: Unit) -> Iterator[tuple[Place, Source]]:
    """Every source that names a column of the export; a constant is no column of it."""
    for file in unit.files:
        for take in file.takes:
            kind = take.sources.get("kind")
            name = kind.value if kind is not None and kind.value else ""
            for column, source in take.sources.items():
                if source.columns:
                    yield (take.table, name, column), source


def _proposed(draft: UnitDraft) -> Iterator[tuple[Place, TakeDraft, Proposal]]:
    for _, take, one in draft.proposals:
        yield (take.table, take.kind or "", one.column), take, one


def _same(source: Source, one: Proposal) -> bool:
    """The same columns, read in the same unit and form."""
    unit = (source.unit or None) == (one.unit or None) or _canonical(source, one)
    return source.columns == one.locals and source.form == one.form and unit


def _canonical(source: Source, one: Proposal) -> bool:
    """A canonical unit may be said or left out."""
    said = {str(source.unit or ""), str(one.unit or "")}
    return said <= {"", "g", "cm", "Cel", "mg/dL", "/min", "%", "{'temperature': 'Cel'}"}


def score(unit: Unit, draft: UnitDraft) -> Score:
    """Hold every proposal of a draft against the truth. What is only asked is not proposed."""
    truth: dict[Place, list[Source]] = {}
    for place, source in _needed(unit):
        truth.setdefault(place, []).append(source)
    needed = {(place, source.columns) for place, sources in truth.items() for source in sources}
    found: set[tuple[Place, tuple[str, ...]]] = set()
    wrong = []
    for place, _, one in _proposed(draft):
        if one.level == "ask":
            continue
        if any(_same(source, one) for source in truth.get(place, [])):
            found.add((place, one.locals))
        else:
            wrong.append((place, one.level, one.locals))
    missing = sorted(place for place, _ in needed - found)
    return Score(len(needed), len(needed & found), missing, wrong)


def wrong_words(unit: Unit, draft: UnitDraft) -> list[tuple[str, str, object]]:
    """Return every word of a list whose proposed meaning is not the truth's."""
    truth: dict[tuple[str, str], dict[str, dict[str, str]]] = {}
    for file in unit.files:
        for take in file.takes:
            for column, source in take.sources.items():
                if source.recode:
                    truth[column, source.columns[0]] = {
                        word.casefold(): {target or column: code for target, code in row.items()}
                        for word, row in unit.recodes[source.recode].items()
                    }
    wrong = []
    for _, _, one in draft.proposals:
        for word, means in one.words.items():
            expected = truth.get((one.column, one.locals[0]), {}).get(word.casefold())
            said = {one.column: means} if isinstance(means, str) else means
            # A site that the draft leaves out is not wrong; another is.
            if said is not None and expected is not None and not said.items() <= expected.items():
                wrong.append((one.column, word, means))
    return wrong


def read_truth(path: Path) -> Unit:
    from pipelines.definitions.read_units import read_unit

    return read_unit(path)

"""A draft laid over a unit's file that is there: what is new is added, nothing of it is changed.

Every line that a person (or an earlier draft) wrote stays, in its order. Added are sources of
columns that have none, takes, files and words of lists. What stands as a comment was declined or
waits for an answer, and is not proposed again.
"""

import re
import tomllib
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fnmatch import fnmatch
from pathlib import Path
from typing import Any, Final

from pipelines.base.errors import DeclarationError
from pipelines.drafts.proposals import FileDraft, Proposal, TakeDraft
from pipelines.drafts.unit_draft import UnitDraft
from pipelines.drafts.unit_text import (
    file_lines,
    is_live,
    lists_of,
    meaning_line,
    proposal_line,
    take_lines,
    text,
)

_HEAD: Final = re.compile(r"\s*\[\[?\s*([^\[\]]+?)\s*\]\]?\s*(#.*)?$")
# A line that an earlier draft left open: nothing is proposed there yet.
_OPEN: Final = re.compile(r'#\s*\w+ = (""|\{ from = "")')
_ADDED: Final = "# added by lanugo new-unit: "


@dataclass
class _Section:
    """A table of the file: its head's line, the last line before the next head, its place."""

    name: str
    head: int
    end: int
    file: int = -1
    take: int = -1


@dataclass
class _Text:
    """The lines of the file, what is parsed of them, and what will be put after which line."""

    lines: list[str]
    spec: Mapping[str, Any]
    sections: list[_Section] = field(default_factory=list)
    added: dict[int, list[str]] = field(default_factory=lambda: defaultdict(list))

    def joined(self) -> str:
        out: list[str] = []
        for place, line in enumerate(self.lines):
            out += [line, *self.added.get(place, [])]
        return "\n".join(out) + "\n"

    def columns_of(self, file: int, take: int) -> _Section | None:
        """The section of the columns of a take, None where they are written in another way."""
        return next(
            (
                one
                for one in self.sections
                if (one.name, one.file, one.take) == ("files.takes.columns", file, take)
            ),
            None,
        )

    def end_of_file(self, file: int) -> int:
        return max(one.end for one in self.sections if one.file == file)

    def commented(self, section: _Section) -> set[str]:
        """Columns that stand in a section as a comment with something in it."""
        inside = self.lines[section.head + 1 : section.end + 1]
        asked = [line for line in inside if line.startswith("#") and not _OPEN.match(line)]
        return {found[1] for line in asked if (found := re.match(r"#\s*(\w+) = ", line))}


def _read(unit_id: str, path: Path) -> _Text:
    written = path.read_text(encoding="utf-8")
    try:
        spec = tomllib.loads(written)
    except tomllib.TOMLDecodeError as error:
        raise DeclarationError(
            f"{path.name}: there is such a file already, and it is not valid TOML: {error}. "
            "Put it right, then run this again; nothing was written."
        ) from None
    if spec.get("id") != unit_id:
        raise DeclarationError(
            f"{path}: there is such a file already, and it is not of unit '{unit_id}'; choose "
            "another with --out."
        )
    found = _Text(written.splitlines(), spec)
    found.sections = _sections(found.lines)
    return found


def _sections(lines: list[str]) -> list[_Section]:
    found: list[_Section] = []
    file = take = -1
    for place, line in enumerate(lines):
        head = _HEAD.match(line)
        if head is None:
            continue
        name = head[1]
        if name == "files":
            file, take = file + 1, -1
        take += name == "files.takes"
        inside = name.split(".")[0] == "files"
        if found:
            found[-1].end = place - 1
        found.append(_Section(name, place, place, file if inside else -1, take if inside else -1))
    if found:
        found[-1].end = len(lines) - 1
    return found


def completed(unit_id: str, path: Path, draft: UnitDraft) -> str:
    """Return the text of the file at ``path`` with what the draft has and it has not.

    Raises DeclarationError where it is no valid TOML or the file of another unit.
    """
    there = _read(unit_id, path)
    _own_list_names(there, draft)
    for file in draft.files:
        at = _same_file(there, file)
        if at is not None:
            _add_to_file(there, draft, file, at)
        elif not _is_mentioned(there, file):
            there.added[len(there.lines) - 1] += file_lines(draft, file)
    _add_words(there, draft)
    return there.joined()


def _files(there: _Text) -> list[Mapping[str, Any]]:
    return list(there.spec.get("files", ()))


def _same_file(there: _Text, file: FileDraft) -> int | None:
    names = [path.name for path in file.shape.paths]
    for place, one in enumerate(_files(there)):
        pattern = str(one.get("pattern", ""))
        if one.get("sheet") != file.shape.sheet and file.shape.sheet:
            continue
        if pattern == file.shape.pattern or any(fnmatch(name, pattern) for name in names):
            return place
    return None


def _is_mentioned(there: _Text, file: FileDraft) -> bool:
    """Whether a file stands there already, as a comment that waits for an answer."""
    named = [f"pattern = {text(file.shape.pattern)}"]
    named += [f"sheet = {text(file.shape.sheet)}"] if file.shape.sheet else []
    return all(any(one in line for line in there.lines) for one in named)


def _locals_of(source: Any) -> tuple[str, ...]:
    origin = source.get("from", ()) if isinstance(source, Mapping) else source
    return (origin,) if isinstance(origin, str) else tuple(origin)


def _used(takes: Iterable[Mapping[str, Any]]) -> set[str]:
    return {
        name
        for take in takes
        for column, source in take.get("columns", {}).items()
        if column != "record_id"
        for name in _locals_of(source)
    }


def _add_to_file(there: _Text, draft: UnitDraft, file: FileDraft, at: int) -> None:
    takes = list(_files(there)[at].get("takes", ()))
    used = _used(takes)
    for take in file.takes:
        place = _same_take(takes, take)
        section = there.columns_of(at, place) if place is not None else None
        if place is not None and section is not None:
            _add_columns(there, draft, file, take, takes[place], section, used)
        elif place is None and is_live(take) and not _locals(take) & used:
            _add_take(there, draft, file, take, at)


def _locals(take: TakeDraft) -> set[str]:
    return {name for one in take.proposals if one.column != "record_id" for name in one.locals}


def _same_take(takes: list[Mapping[str, Any]], take: TakeDraft) -> int | None:
    """Return the take that is about the same: its table and kind, and a column of it."""
    for place, one in enumerate(takes):
        columns = one.get("columns", {})
        kind = columns.get("kind")
        constant = kind.get("value") if isinstance(kind, Mapping) else None
        if one.get("table") != take.table or constant != take.kind:
            continue
        if take.kind is None or _used([one]) & _locals(take):
            return place
    return None


def _add_columns(  # noqa: PLR0917 - one line of a take, and all that says whether it is new
    there: _Text,
    draft: UnitDraft,
    file: FileDraft,
    take: TakeDraft,
    known: Mapping[str, Any],
    section: _Section,
    used: set[str],
) -> None:
    commented = there.commented(section)
    for one in take.proposals:
        if one.column in known.get("columns", {}) or one.column in commented:
            continue
        if not set(one.locals) & used:
            there.added[section.head].append(proposal_line(draft, file, take, one))


def _add_take(there: _Text, draft: UnitDraft, file: FileDraft, take: TakeDraft, at: int) -> None:
    lines = list(take_lines(draft, file, take))
    end = there.end_of_file(at)
    inside = there.lines[: end + 1]
    declined = {line.removeprefix("# ").split("  #")[0] for line in inside if line[:2] == "# "}
    if not any(line.split("  #")[0] in declined for line in lines if " = { from" in line):
        there.added[end] += lines


# ---- words of lists ---------------------------------------------------------------------------


def _list_in(there: _Text, file: FileDraft, one: Proposal) -> str | None:
    """Return the list that the file already uses for this column."""
    at = _same_file(there, file)
    takes = _files(there)[at].get("takes", ()) if at is not None else ()
    for take in takes:
        for source in take.get("columns", {}).values():
            if isinstance(source, Mapping) and _locals_of(source) == one.locals:
                name = source.get("recode")
                if name is not None:
                    return str(name)
    return None


def _own_list_names(there: _Text, draft: UnitDraft) -> None:
    """Take the list that the file uses for a column; never one that it uses for another."""
    taken = {
        str(source["recode"])
        for one in _files(there)
        for take in one.get("takes", ())
        for source in take.get("columns", {}).values()
        if isinstance(source, Mapping) and "recode" in source
    }
    for file, _, one in draft.proposals:
        place = (file.shape.name, one.locals[0] if one.locals else "")
        if place not in draft.lists:
            continue
        own = _list_in(there, file, one)
        if own is not None:
            draft.lists[place] = own
        elif draft.lists[place] in taken:
            draft.lists[place] += "_2"


def _add_words(there: _Text, draft: UnitDraft) -> None:
    for name, local, one, live in lists_of(draft):
        words = {
            word: means for word, means in one.words.items() if not _has_word(there, name, word)
        }
        section = next((s for s in there.sections if s.name == f"recodes.{name}"), None)
        if section is not None:
            there.added[section.head] += [
                f"{meaning_line(word, means)}  # check: new in the exports"
                for word, means in words.items()
                if means is not None or f"# {text(word)}" not in "\n".join(there.lines)
            ]
        elif live and any(f'recode = "{name}"' in line for line in _new_lines(there)):
            lines = [meaning_line(word, means) for word, means in one.words.items()]
            there.added[len(there.lines) - 1] += [
                "", f"# column {text(local.names[0])}: check what each word means",
                f"[recodes.{name}]", *lines,
            ]  # fmt: skip


def _new_lines(there: _Text) -> list[str]:
    return [line for lines in there.added.values() for line in lines]


def _has_word(there: _Text, name: str, word: str) -> bool:
    known = there.spec.get("recodes", {}).get(name, {})
    asked = f"# {text(word)} = "
    return word.casefold() in {one.casefold() for one in known} or any(
        line.startswith(asked) for line in there.lines
    )

"""The text of a draft: TOML that a person completes, every source with how sure it is and why."""

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Final

from pipelines.base.measuring_units import CONVERSIONS
from pipelines.definitions.identifiers import RULES
from pipelines.definitions.read_contract import Column, read_contract
from pipelines.drafts.export_columns import Local
from pipelines.drafts.proposals import FileDraft, Proposal, TakeDraft, is_wanted
from pipelines.drafts.unit_draft import UnitDraft, list_name

HEAD: Final = (
    "# Complete it with someone who knows the exports. After each source: 'sure', where its name",
    "# says it and its content can be nothing else; 'check', where one of the two does; 'ask',",
    "# where a person has to say it (take the # away in front). Run lanugo new-unit again after",
    "# new files or words came: what you wrote stays. A proposal that you do not want: leave it",
    "# with a # in front, then it is not made again. Then:",
    "# lanugo build --unit THIS_FILE --exports FOLDER --dry-run",
    "# Columns, words: pipelines/definitions/dictionary.md. Full examples: units/ beside it.",
)


def text(value: str) -> str:
    """Return a TOML string; line breaks and quotes in a name cannot leave it."""
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    return (
        '"' + "".join(one if one.isprintable() else f"\\u{ord(one):04x}" for one in escaped) + '"'
    )


def _comment(value: str) -> str:
    return "".join(one if one.isprintable() else " " for one in value)


def _is_measured(column: Column) -> bool:
    """Whether an export may give it in several units: not a score, a count or a time."""
    return len(CONVERSIONS.get(column.unit or "", {})) > 1 and column.type == "decimal"


def _empty(column: Column) -> str:
    """Return the form of a source to fill in."""
    if column.name == "gestational_age_days":
        return '{ from = "", form = "weeks_and_days" }'
    if _is_measured(column):
        return f'{{ from = "", unit = "{column.unit}" }}'
    return '{ from = "", recode = "" }' if column.type in {"code", "boolean"} else '""'


def _about(column: Column) -> str:
    about = " ".join(column.description.split())
    return f"{about} One of: {', '.join(column.allowed)}." if column.allowed else about


def _unit(unit: str | Mapping[str, str]) -> str:
    if isinstance(unit, str):
        return text(unit)
    return "{ " + ", ".join(f"{kind} = {text(one)}" for kind, one in unit.items()) + " }"


def source_text(one: Proposal, recode: str | None) -> str:
    """Return the source of a proposal as TOML."""
    if one.value is not None:
        return f"{{ value = {text(one.value)} }}"
    names = [text(name) for name in one.locals]
    origin = names[0] if len(names) == 1 else f"[{', '.join(names)}]"
    more = [f"unit = {_unit(one.unit)}"] if one.unit else []
    more += [f"unit_from = {text(one.unit_from)}"] if one.unit_from else []
    more += [f'form = "{one.form}"'] if one.form else []
    more += [f'recode = "{recode}"'] if one.words and recode else []
    if not more and len(names) == 1:
        return origin
    return f"{{ {', '.join([f'from = {origin}', *more])} }}"


def proposal_line(draft: UnitDraft, file: FileDraft, take: TakeDraft, one: Proposal) -> str:
    """Return the line of a proposal: its source, how sure it is, and why."""
    recode = draft.lists.get((file.shape.name, one.locals[0])) if one.locals else None
    column = read_contract()[take.table].columns[one.column]
    mark = "# " if one.level == "ask" else ""
    choice = f" One of: {', '.join(column.allowed)}." if column.allowed else ""
    why = _comment(one.why)
    return f"{mark}{one.column} = {source_text(one, recode)}  # {one.level}: {why}.{choice}"


def kind_line(take: TakeDraft) -> str:
    return f"kind = {{ value = {text(take.kind or '')} }}"


def is_live(take: TakeDraft) -> bool:
    """Whether a take says when or what without anybody being asked; else it stays a comment."""
    found = {one.column for one in take.proposals if one.level != "ask"}
    if take.kind is None:
        return take.table == "admission" or {"record_id", "kind"} <= found
    return "record_id" in found and bool(found - {"record_id"})


def take_lines(draft: UnitDraft, file: FileDraft, take: TakeDraft) -> Iterator[str]:
    mark = "" if is_live(take) else "# "
    yield ""
    yield f"{mark}[[files.takes]]"
    yield f'{mark}table = "{take.table}"'
    yield f"{mark}[files.takes.columns]"
    lines = [proposal_line(draft, file, take, one) for one in take.proposals]
    if take.kind is not None:
        lines.insert(1, kind_line(take))
    yield from (f"{mark}{line}" if not line.startswith("# ") else line for line in lines)
    if take.table == "admission":
        yield from _open(draft, take)


def _open(draft: UnitDraft, take: TakeDraft) -> Iterator[str]:
    """The columns of the admission for which nothing was found."""
    for column in read_contract()["admission"].columns.values():
        is_key = column.name == "record_id"
        wanted = is_key or is_wanted(column, is_clock=draft.is_clock)
        if wanted and not take.has(column.name):
            yield f"# {column.name} = {_empty(column)}  # {_about(column)}"


def file_lines(draft: UnitDraft, file: FileDraft) -> Iterator[str]:
    shape = file.shape
    mark = "" if any(is_live(take) for take in file.takes) else "# "
    yield ""
    if mark:
        yield "# Nothing in this file is known: take the # away from these lines and add its takes."
    yield f"{mark}[[files]]"
    yield f"{mark}pattern = {text(shape.pattern)}"
    if shape.sheet:
        yield f"{mark}sheet = {text(shape.sheet)}"
    if shape.delimiter:
        yield f"{mark}delimiter = {text(shape.delimiter)}"
        yield f'{mark}encoding = "{shape.encoding}"'
    yield "# What its columns hold:"
    used = {name for take in file.takes for one in take.proposals for name in one.locals}
    for local in shape.columns:
        free = "" if set(local.names) <= used else " (no use for it is known)"
        yield f"#   {text(local.names[0])}: {_comment(shape.looks(local))}{free}"
    for take in file.takes:
        yield from take_lines(draft, file, take)


def templates(key: str) -> Iterator[str]:
    """A commented take of each kind of table, to be copied for what was not found."""
    for table in read_contract().values():
        if not table.is_event:
            continue
        allowed = ", ".join(table.columns["kind"].allowed)
        yield ""
        yield f"# {table.title}: {' '.join(table.description.split())}"
        yield "# [[files.takes]]"
        yield f'# table = "{table.name}"'
        yield "# [files.takes.columns]"
        yield f"# record_id = {text(key)}"
        yield f'# kind = {{ value = "" }}  # {f"one of: {allowed}" if allowed else "its name"}'
        for column in table.columns.values():
            if column.name not in {"record_id", "kind"}:
                yield f'# {column.name} = ""  # {" ".join(column.description.split())}'


def time_lines(draft: UnitDraft) -> Iterator[str]:
    yield "[time]"
    yield f'form = "{"clock" if draft.is_clock else "minutes"}"'
    if not draft.is_clock:
        return
    yield 'zone = ""  # where the clocks hang, as Area/City'
    if draft.either:
        both = ", ".join(text(form) for form in draft.either)
        yield f"# formats = [{both}]  # ask: all of these fit every time; leave the right one"
    elif draft.forms:
        yield f"formats = [{text(draft.forms[0])}]"
        yield from (f"# Some columns fit this as well: {form}" for form in draft.forms[1:])
    if draft.has_offset and not draft.forms:
        yield '# formats = ["%Y-%m-%dT%H:%M:%S%z"]  # ask: times carry an offset, read by %z'


def meaning_line(word: str, means: str | Mapping[str, str] | None) -> str:
    """Return a line of a recode list; a word whose meaning is not known waits as a comment."""
    if means is None:
        return f'# {text(word)} = ""  # ask'
    if isinstance(means, str):
        return f"{text(word)} = {text(means)}"
    if list(means) == ["kind"]:
        return f"{text(word)} = {text(means['kind'])}"
    inside = ", ".join(f"{name} = {text(code)}" for name, code in means.items())
    return f"{text(word)} = {{ {inside} }}"


def lists_of(draft: UnitDraft) -> Iterator[tuple[str, Local, Proposal, bool]]:
    """Yield (list, its column, the proposal, whether it is live), each list once."""
    done: set[str] = set()
    for file, take, one in draft.proposals:
        name = draft.lists.get((file.shape.name, one.locals[0])) if one.locals else None
        if not one.words or name is None or name in done:
            continue
        done.add(name)
        local = next(local for local in file.shape.columns if local.names == one.locals)
        yield name, local, one, one.level != "ask" and is_live(take)


def list_lines(draft: UnitDraft) -> Iterator[str]:
    for name, local, one, live in lists_of(draft):
        mark = "" if live else "# "
        rare = len({text.casefold() for text in local.distinct}) - len(one.words)
        more = f"; {rare} more, rare or not known here, are not copied" if rare > 0 else ""
        yield ""
        yield f"# column {text(local.names[0])}: check what each word means{more}"
        yield f"{mark}[recodes.{name}]"
        lines = [meaning_line(word, means) for word, means in one.words.items()]
        yield from (line if line.startswith("# ") else f"{mark}{line}" for line in lines)
    yield from _free_lists(draft)


def _free_lists(draft: UnitDraft) -> Iterator[str]:
    """A list for every column of words that no proposal uses, as comments."""
    taken = set(draft.lists.values())
    for file in draft.files:
        for local in file.shape.columns:
            name = list_name(local.names)
            words = [] if local.identifies else file.shape.words_of(local)
            if not words or name in taken or (file.shape.name, local.names[0]) in draft.lists:
                continue
            taken.add(name)
            yield ""
            yield f"# column {text(local.names[0])}: write what each word means"
            yield f"# [recodes.{name}]"
            yield from (f'# {text(word)} = ""' for word in words)


def _settings(draft: UnitDraft) -> Iterator[str]:
    if draft.has_comma:
        yield ""
        yield "# Numbers are written with a decimal comma:"
        yield "# [locale]"
        yield '# decimal = ","'
    if draft.key_looks:
        yield ""
        yield f"# The record key looks like {RULES[draft.key_looks]}. Export a study key instead,"
        yield "# or have it replaced at load by a keyed hash: a file with a secret of 16 letters or"
        yield "# more, kept elsewhere."
        yield "# [identifiers]"
        yield '# key_file = ""'


def draft_text(unit_id: str, draft: UnitDraft) -> str:
    """Return a whole unit file."""
    lines = [
        f"# A draft, written on {dt.date.today()} from the names and contents of the exports.",
        *HEAD,
        f'id = "{unit_id}"',
        f'title = "{unit_id.replace("_", " ").title()}"',
        "",
        *time_lines(draft),
    ]
    for place, file in enumerate(draft.files):
        lines += file_lines(draft, file)
        if place == 0:
            lines += templates(file.shape.key.names[0] if file.shape.key else "")
    lines += list_lines(draft)
    lines += _settings(draft)
    return "\n".join(lines) + "\n"

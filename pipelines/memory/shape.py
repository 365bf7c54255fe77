"""What changed in the form of a unit's exports since its last delivery, in words.

A column that is renamed, added, dropped or empty, a word on no recode list, numbers that look
like another unit of measurement. Names and words are said where they may be; of values only
where most of them lie, and never where fewer than ten are there.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any, Final

import duckdb

from pipelines.base.errors import ExportError
from pipelines.base.sql import quote
from pipelines.definitions.safe_to_say import is_known, safe_names
from pipelines.definitions.shape_lines import STOP
from pipelines.definitions.unit_takes import Source, Take
from pipelines.stages.raw.export_text import folded, recorded_text
from pipelines.stages.raw.raw_file import RawFile
from pipelines.stages.typed.texts import number_of

LEAST: Final = 10  # values of a column before anything is said of where they lie
# Beyond nine of ten values of the last delivery by a quarter: degrees Fahrenheit for Celsius,
# pounds for kilograms, inches for centimetres all lie farther, no month does. Local decision.
_BEYOND: Final = 1.25
_READ_AS: Final = "\x1f"
_NUMBERS: Final = {"integer", "decimal"}


@dataclass(frozen=True)
class Shape:
    """The form of the files of one pattern of one delivery.

    ``names``: columns that may be said. ``filled``: entries by mapped column. ``words``: by coded
    column the words on no recode list that may be said, under "" how many others there are.
    ``numbers``: by column (of an item), and how the unit's file reads it, 5th, 50th and 95th
    centile: numbers that are declared otherwise are not compared.
    """

    rows: int = 0
    names: list[str] = field(default_factory=list)
    filled: dict[str, int] = field(default_factory=dict)
    words: dict[str, dict[str, int]] = field(default_factory=dict)
    numbers: dict[str, list[float]] = field(default_factory=dict)


def shape_of(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> dict[str, Any]:
    """Return the form of one file that was read, as ``Shape`` says it."""
    mapped = [name for name in raw.header if name in raw.spec.local_columns]
    counts = ", ".join(f"count(nullif(trim({raw.column(name)}), ''))" for name in mapped)
    found = connection.execute(f"select count(*), {counts} from {raw.table}").fetchone() or (0,)
    return {
        "rows": found[0],
        "names": safe_names(raw.header, raw.spec.local_columns),
        "filled": dict(zip(mapped, found[1:], strict=True)),
        "words": dict(_words(connection, raw)),
        "numbers": dict(_numbers(connection, raw)),
    }


def _sources(raw: RawFile) -> Iterator[tuple[Take, str, Source]]:
    for take in raw.spec.takes:
        for name, source in take.sources.items():
            if source.columns and all(raw.column(local) for local in source.columns):
                yield take, name, source


def _words(
    connection: duckdb.DuckDBPyConnection, raw: RawFile
) -> Iterator[tuple[str, dict[str, int]]]:
    """Yield of every coded column the words that stand on no list, where there are any."""
    for take, name, source in _sources(raw):
        column = raw.unit.contract[take.table].columns[name]
        listed = raw.unit.recodes.get(source.recode or "", {})
        known = list(listed) or list(column.allowed)
        if column.type != "code" or not known:
            continue
        text = recorded_text(raw, source)
        ignored = [*known, *raw.unit.ignored.get(take.table, ())]
        rows = connection.execute(
            f"select {text} as word, count(*) from {raw.table} where {text} is not null and "
            f"lower({text}) not in ({', '.join(folded(one) for one in ignored)}) group by word"
        ).fetchall()
        if rows:
            said = {str(word): int(count) for word, count in rows if is_known(str(word))}
            hidden = sum(int(count) for word, count in rows if str(word) not in said)
            yield ", ".join(source.columns), {**said, **({"": hidden} if hidden else {})}


def _numbers(
    connection: duckdb.DuckDBPyConnection, raw: RawFile
) -> Iterator[tuple[str, list[float]]]:
    """Yield where most numbers of a column lie; of a long file, of each of its items."""
    for take, name, source in _sources(raw):
        column = raw.unit.contract[take.table].columns[name]
        is_plain = not (source.unit_from or source.units or source.either or source.recode)
        if column.type not in _NUMBERS or source.form or not is_plain:
            continue
        number = number_of(recorded_text(raw, source), source.marks)
        kind = take.sources.get("kind")
        items = raw.unit.recodes.get(kind.recode or "", {}) if kind and kind.columns else {}
        item = recorded_text(raw, kind) if kind and items else quote("")
        rows = connection.execute(
            f"select lower({item}) as item, count({number}), "
            f"quantile_cont({number}, [0.05, 0.5, 0.95]) from {raw.table} group by all"
        ).fetchall()
        by_fold = {word.lower(): word for word in items}
        for word, count, where in rows:
            if count >= LEAST and (not items or word in by_fold):
                of = f" of {by_fold[word]}" if items else ""
                read_as = f"{_READ_AS}{source.unit!r} {source.marks!r}"
                yield f"{', '.join(source.columns)}{of}{read_as}", [float(one) for one in where]


def together(shapes: Sequence[Mapping[str, Any]]) -> Shape:
    """Return the form of several files of one pattern; of numbers the first file's."""
    names: dict[str, None] = {}
    filled: dict[str, int] = {}
    words: dict[str, dict[str, int]] = {}
    numbers: dict[str, list[float]] = {}
    for shape in shapes:
        names.update(dict.fromkeys(shape["names"]))
        for name, count in shape["filled"].items():
            filled[name] = filled.get(name, 0) + count
        for name, counts in shape["words"].items():
            own = words.setdefault(name, {})
            for word, count in counts.items():
                own[word] = own.get(word, 0) + count
        numbers = {**shape["numbers"], **numbers}
    return Shape(sum(shape["rows"] for shape in shapes), list(names), filled, words, numbers)


def changes(
    old: Shape, new: Shape, mapped: Sequence[str], known: Mapping[str, Sequence[str]]
) -> list[tuple[str, str]]:
    """Return (kind, words) of every change of form.

    ``mapped``: the columns that the unit's file names now; ``known``: by coded column its words.

    >>> old = Shape(20, ["Key", "Temp"], {"Key": 20, "Temp": 19})
    >>> changes(old, Shape(20, ["Key", "Temp C"], {"Key": 20}), ["Key", "Temp"], {})[0]
    ('missing_column', "column 'Temp' is not there; 'Temp C' is new: was it renamed?")
    """
    return [
        *_of_columns(old, new, mapped),
        *_of_codes(old, new, known),
        *_of_numbers(old, new),
    ]


def _of_columns(old: Shape, new: Shape, mapped: Sequence[str]) -> list[tuple[str, str]]:
    added = [name for name in new.names if name not in old.names]
    told = []
    # An empty column tells something only where ten entries were to be expected by its share.
    for name in (one for one in old.filled if one in mapped):
        if name not in new.filled:
            near = get_close_matches(name, added, n=1, cutoff=0.5)
            meant = f"; '{near[0]}' is new: was it renamed?" if near else ""
            told.append(("missing_column", f"column '{name}' is not there{meant}"))
        elif new.filled[name] == 0 and old.filled[name] * new.rows >= LEAST * old.rows > 0:
            told.append(("missing_column", f"column '{name}' is there and empty"))
    unused = [name for name in added if name not in new.filled]
    if unused:
        told.append(("new_column", f"new columns that are not mapped: {', '.join(unused)}"))
    gone = [name for name in old.names if name not in new.names and name not in mapped]
    if gone:
        told.append(("new_column", f"columns no longer there, and not mapped: {', '.join(gone)}"))
    return told


def _of_codes(old: Shape, new: Shape, known: Mapping[str, Sequence[str]]) -> list[tuple[str, str]]:
    told = []
    for name, counts in new.words.items():
        fresh = [word for word in counts if word and word not in old.words.get(name, {})]
        told += [("new_code", _of_word(name, word, counts[word], known)) for word in fresh]
        hidden = counts.get("", 0)
        if hidden and not old.words.get(name, {}).get(""):
            told.append(
                (
                    "new_code",
                    f"column '{name}': entries on no recode list, not said here: {hidden:,}",
                )
            )
    return told


def _of_numbers(old: Shape, new: Shape) -> list[tuple[str, str]]:
    told = []
    for name, was in old.numbers.items():
        now = new.numbers.get(name)
        if now and was[0] > 0 and not was[0] / _BEYOND <= now[1] <= was[2] * _BEYOND:
            told.append(
                (
                    "changed_unit",
                    f"column '{name.split(_READ_AS)[0]}': the middle value is {now[1]:.4g}, and "
                    f"nine of ten lay from {was[0]:.4g} to {was[2]:.4g} before: is it another unit "
                    "of measurement?",
                )
            )
    return told


def _of_word(name: str, word: str, count: int, known: Mapping[str, Sequence[str]]) -> str:
    near = get_close_matches(word, known.get(name, ()), n=1, cutoff=0.6)
    meant = f"; the nearest that is listed is '{near[0]}'" if near else ""
    return f"column '{name}': the word '{word}' ({count:,} times) is new and on no list{meant}"


def compare_shapes(
    raws: Sequence[RawFile],
    shapes: Sequence[Mapping[str, Any]],
    last: Mapping[str, Sequence[Mapping[str, Any]]],
) -> list[str]:
    """Note what changed since the last delivery with each file, and return it in words.

    ``last``: pattern -> what ``shape_of`` said of its files. Raises ExportError where the
    unit's file says that such a change stops the step.
    """
    told, stopped = [], []
    for pattern in dict.fromkeys(raw.spec.pattern for raw in raws):
        if pattern not in last:
            continue
        own = [at for at, raw in enumerate(raws) if raw.spec.pattern == pattern]
        first = raws[own[0]]
        new = together([shapes[at] for at in own])
        for kind, words in _changed(last[pattern], new, first):
            told.append(f"{first.name}: {words}.")
            first.notes.append(f"since the last delivery: {words}")
            if first.unit.shape[kind] == STOP:
                stopped.append((kind, told[-1]))
    if stopped:
        raise ExportError(_stop_words(first.unit.file_name, stopped))
    return told


def _changed(last: Sequence[Mapping[str, Any]], new: Shape, raw: RawFile) -> list[tuple[str, str]]:
    return changes(together(last), new, raw.spec.local_columns, _known(raw))


def _known(raw: RawFile) -> dict[str, list[str]]:
    return {
        ", ".join(source.columns): list(raw.unit.recodes.get(source.recode, {}))
        for _, _, source in _sources(raw)
        if source.recode
    }


def _stop_words(file_name: str, stopped: Sequence[tuple[str, str]]) -> str:
    lines = "\n  ".join(words for _, words in stopped)
    meant = " and ".join(f'{kind} = "go_on"' for kind in dict.fromkeys(kind for kind, _ in stopped))
    return (
        "the form of the exports has changed since the unit's last delivery. Nothing was stored.\n"
        f"  {lines}\nPut {file_name} right for what changed (a new name, another unit). If it is "
        f"right as it is, write {meant} under [shape] there."
    )

"""Words of a category that say who a newborn is: on fewer than ten, said by nobody else.

Worked out again in plain Python: words of our own list, of the unit's file and of the findings
stay; of all else what stands on ten newborns or more.
"""

import re
import tomllib
import unicodedata
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

DEFINITIONS = Path(__file__).parents[2] / "pipelines" / "definitions"
ENOUGH, RARE = 10, "rare word"


def _texts(of: Any) -> Iterator[str]:
    """Every name and text of a table, at any depth."""
    if isinstance(of, Mapping):
        for name, one in of.items():
            yield str(name)
            yield from _texts(one)
    elif isinstance(of, str):
        yield of


def _letters(text: str) -> list[str]:
    bare = unicodedata.normalize("NFKD", text.casefold()).encode("ascii", "ignore").decode()
    for spelt, short in (("ae", "a"), ("oe", "o"), ("ue", "u")):
        bare = bare.replace(spelt, short)
    return re.findall(r"[a-z]+|\d+", bare)


@cache
def _our_words() -> frozenset[str]:
    said = tomllib.loads((DEFINITIONS / "local_words.toml").read_text(encoding="utf-8"))
    values = [
        text for name, one in said.items() if name != "identifiers" for text in _phrases_of(one)
    ]
    return frozenset(word for text in values for word in _letters(text))


def _phrases_of(of: Any) -> Iterator[str]:
    if isinstance(of, Mapping):
        for one in of.values():
            yield from _phrases_of(one)
    else:
        yield str(of)


def _said_by_files(spec: Mapping[str, Any], contract: Mapping[str, Any]) -> set[str]:
    tiers = tomllib.loads((DEFINITIONS / "findings.toml").read_text(encoding="utf-8"))["tiers"]
    constants = [
        source["value"]
        for file in spec["files"]
        for take in file["takes"]
        for source in take["columns"].values()
        if isinstance(source, Mapping) and "value" in source
    ]
    codes = [
        code
        for table in contract.values()
        for column in table["columns"].values()
        for code in column.get("allowed", ())
    ]
    named = [*_texts(spec.get("recodes", {})), *_texts(tiers), *_texts(spec.get("findings", {}))]
    return {word.casefold() for word in [*constants, *codes, *named]}


def hide(rows: Sequence[Any], spec: Mapping[str, Any], contract: Mapping[str, Any]) -> None:
    """Put RARE in the place of every such word, in place."""
    said = _said_by_files(spec, contract)
    for table, about in contract.items():
        for column, one in about["columns"].items():
            if one["type"] != "category":
                continue
            on = defaultdict(set)
            here = [row for row in rows if row.table == table and row.get(column) is not None]
            for row in here:
                on[row.get(column)].add(row.record_id)
            for row in here:
                word = row.get(column)
                parts = _letters(word)
                is_ours = bool(parts) and all(part in _our_words() for part in parts)
                if len(on[word]) < ENOUGH and word.casefold() not in said and not is_ours:
                    row.cells[column] = RARE

"""``local_words.toml``: the words by which exports, in several languages, name what we have."""

import re
import tomllib
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from pipelines.base.sql import ROOMS

LANGUAGES: Final = {"en": "English", "de": "German", "fr": "French", "es": "Spanish"}


def plain(text: str) -> tuple[str, ...]:
    """Return the words of a text in plain lower-case letters, numbers apart.

    An umlaut and its spelling with e are one, so are capitals within a word and a new word.

    >>> plain("Länge (cm)"), plain("Laenge cm"), plain("BirthTime1")
    (('lange', 'cm'), ('lange', 'cm'), ('birth', 'time', '1'))
    """
    apart = re.sub(r"(?<=[a-zà-ÿ])(?=[A-ZÀ-Þ][a-zà-ÿ])", " ", text.replace("µ", "u"))
    letters = unicodedata.normalize("NFKD", apart.casefold()).encode("ascii", "ignore").decode()
    for spelt, short in (("ae", "a"), ("oe", "o"), ("ue", "u")):
        letters = letters.replace(spelt, short)
    return tuple(re.findall(r"[a-z]+|\d+", letters))


@dataclass(frozen=True)
class Phrases:
    """What may stand for one thing: phrase in plain words -> the languages it is of."""

    by_words: Mapping[tuple[str, ...], tuple[str, ...]]

    def languages(self, words: tuple[str, ...]) -> tuple[str, ...]:
        """Return the languages in which these words, in any order, stand for it."""
        wanted, joined = sorted(words), "".join(words)
        found = [
            of
            for phrase, of in self.by_words.items()
            if sorted(phrase) == wanted or "".join(phrase) == joined
        ]
        return tuple(dict.fromkeys(one for of in found for one in of))


def _phrases(spec: Mapping[str, str]) -> Phrases:
    found: dict[tuple[str, ...], list[str]] = {}
    for language, phrases in spec.items():
        for phrase in phrases.split(";"):
            found.setdefault(plain(phrase), []).append(language)
    return Phrases({words: tuple(of) for words, of in found.items()})


@cache
def _spec() -> dict[str, Any]:
    path = ROOMS / "definitions" / "local_words.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


@cache
def phrases(*place: str) -> dict[str, Phrases]:
    """Return a section, such as ``phrases("kinds", "dose")``: name -> its phrases."""
    spec = _spec()
    for key in place:
        spec = spec.get(key, {})
    return {name: _phrases(one) for name, one in spec.items()}


def _leaves(spec: Mapping[str, Any]) -> Iterator[str]:
    for one in spec.values():
        if isinstance(one, str):
            yield one
        else:
            yield from _leaves(one)


@cache
def vocabulary() -> frozenset[str]:
    """Return every single word of the file, but for those that only name identifiers."""
    spec = {name: one for name, one in _spec().items() if name != "identifiers"}
    return frozenset(word for text in _leaves(spec) for word in plain(text))

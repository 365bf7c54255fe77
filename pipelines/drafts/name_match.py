"""How well the words of a column's name, or of a list, say what we call something."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache
from typing import Final

from pipelines.definitions.local_words import LANGUAGES, Phrases, phrases

SAID: Final = 0.95  # from here on a name says it; below, it only sounds like it
_SOUNDS: Final = 0.5
# Words of a name that say in what it is measured, not what it is -> the UCUM unit.
UNIT_WORDS: Final[Mapping[tuple[str, ...], str]] = {
    ("g",): "g", ("gr",): "g", ("gramm",): "g", ("grams",): "g", ("grammes",): "g",
    ("gramos",): "g", ("kg",): "kg", ("lb",): "[lb_av]", ("lbs",): "[lb_av]", ("oz",): "[oz_av]",
    ("cm",): "cm", ("mm",): "mm", ("in",): "[in_i]", ("inches",): "[in_i]", ("c",): "Cel",
    ("celsius",): "Cel", ("f",): "[degF]", ("fahrenheit",): "[degF]", ("mg", "dl"): "mg/dL",
    ("mmol", "l"): "mmol/L", ("umol", "l"): "umol/L", ("bpm",): "/min",
}  # fmt: skip


@dataclass(frozen=True)
class Match:
    """What a name says: the thing, how well, in which languages, and which words were left."""

    name: str
    score: float
    languages: tuple[str, ...]
    rest: tuple[str, ...] = ()

    @property
    def is_said(self) -> bool:
        return self.score >= SAID

    @property
    def in_words(self) -> str:
        of = " or ".join(LANGUAGES[one] for one in self.languages)
        return f"the name says it ({of})" if self.is_said else f"the name sounds like it ({of})"


def unit_of(words: tuple[str, ...]) -> str | None:
    """Return the unit that a name's words say, where they say one.

    >>> unit_of(("lange", "cm")), unit_of(("bili", "mg", "dl")), unit_of(("apgar", "1"))
    ('cm', 'mg/dL', None)
    """
    found = [
        unit
        for phrase, unit in UNIT_WORDS.items()
        if any(words[at : at + len(phrase)] == phrase for at in range(1, len(words)))
    ]
    return found[0] if len(set(found)) == 1 else None


def without_units(words: tuple[str, ...]) -> tuple[str, ...]:
    """Return the words of a name without those of its unit; a name is never left empty."""
    for phrase in sorted(UNIT_WORDS, key=len, reverse=True):
        for at in range(1, len(words) - len(phrase) + 1):
            if words[at : at + len(phrase)] == phrase:
                words = words[:at] + words[at + len(phrase) :]
    return words


@cache
def marks(name: str) -> frozenset[str]:
    """Return the single words of a line of ``[marks]``."""
    return frozenset(word for phrase in phrases("marks")[name].by_words for word in phrase)


def without(words: tuple[str, ...], *names: str) -> tuple[str, ...]:
    """Return the words but for those of some ``[marks]``; all of them where none would be left."""
    gone = frozenset(word for name in names for word in marks(name))
    return tuple(word for word in words if word not in gone) or words


def _alike(words: tuple[str, ...], phrase: tuple[str, ...]) -> float:
    if sorted(words) == sorted(phrase) or "".join(words) == "".join(phrase):
        return 1.0
    if sorted(without(words, "filler")) == sorted(without(phrase, "filler")):
        return 0.98
    if len(words) == len(phrase) and all(map(_is_short_for, words, phrase)):
        return 0.8
    one, other = "".join(words), "".join(phrase)
    near = min(len(one), len(other)) >= max(6, 0.78 * max(len(one), len(other)))
    if near and SequenceMatcher(None, one, other).ratio() >= 0.88:
        return 0.7
    if set(phrase) < set(words) and len("".join(phrase)) >= 4:
        return 0.6
    return 0.0


def _is_short_for(word: str, full: str) -> bool:
    short, long = sorted((word, full), key=len)
    return word == full or (len(short) >= 3 and not short.isdigit() and long.startswith(short))


def best_of(words: tuple[str, ...], name: str, of: Phrases) -> Match:
    """Return how well ``words`` say the thing called ``name``."""
    scores = {phrase: _alike(words, phrase) for phrase in of.by_words}
    top = max(scores.values(), default=0.0)
    languages = [one for phrase, at in scores.items() if at == top for one in of.by_words[phrase]]
    return Match(name, top if top >= _SOUNDS else 0.0, tuple(dict.fromkeys(languages)))


def matches(words: tuple[str, ...], of: Mapping[str, Phrases]) -> list[Match]:
    """Return everything in ``of`` that ``words`` say or sound like, the best first."""
    found = [best_of(words, name, one) for name, one in of.items()]
    return sorted((one for one in found if one.score), key=lambda one: -one.score)


def said(words: tuple[str, ...], of: Mapping[str, Phrases]) -> list[Match]:
    """Return what the words say outright: every name whose phrase they are."""
    return [
        Match(name, 1.0, languages)
        for name, one in of.items()
        if (languages := one.languages(words))
    ]


def within(words: tuple[str, ...], of: Mapping[str, Phrases]) -> list[Match]:
    """Return the things whose phrase stands in ``words`` in one piece, the longest alone.

    ``rest`` are the other words. Several are returned where phrases of one length are of
    several things.
    """
    found: list[tuple[int, Match]] = []
    for name, one in of.items():
        for phrase, languages in one.by_words.items():
            n = len(phrase)
            for at in range(len(words) - n + 1):
                if words[at : at + n] == phrase:
                    rest = words[:at] + words[at + n :]
                    found.append((n, Match(name, 1.0, languages, rest)))
                    break
    longest = max((n for n, _ in found), default=0)
    best: dict[str, Match] = {}
    for n, match in found:
        if n == longest:
            best.setdefault(match.name, match)
    return list(best.values())


def one_of(words: Sequence[str], *names: str) -> bool:
    """Whether any of the words stands in one of some ``[marks]``."""
    return any(word in marks(name) for word in words for name in names)

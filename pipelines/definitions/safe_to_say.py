"""What of an export's texts may be said: in a message, a log, an exception, a draft, on a page.

A cell may hold a name, a number of a record or a sentence about a family, in any column, and the
first line of a file without a header is a newborn's. So a text is repeated only where all its
words are known words (``local_words.toml``, or what the unit's file says itself) or where it is a
short number; of all else the shape is said.
"""

import re
from collections.abc import Collection, Iterable, Sequence
from typing import Final

from pipelines.definitions.local_words import plain, vocabulary

# 3,400 and 36.75 are readings; seven digits and more are numbers of something.
_NUMBER: Final = re.compile(r"[-+<>=≤≥]{0,2}\s?\d{1,6}([.,]\d{1,3})?\s?\D{0,6}")
_GESTATION: Final = re.compile(r"\d{1,2}\s?(\+|/|w|\s)\s?\d{1,2}\s?(/7|d)?")
_DATE: Final = re.compile(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}|\d{1,2}:\d{2}")
_LONGEST: Final = 40
_LEAST_DIGITS: Final = 3  # "Apgar 10" is a name of a column; "3410" is a cell


def shape(text: str) -> str:
    """Return a text with every digit as 9 and every letter as x, cut where it is long.

    >>> shape("01/03/2026 07:05 PM")
    '99/99/9999 99:99 xx'
    """
    masked = re.sub(r"[^\W\d_]", "x", re.sub(r"\d", "9", text))
    return masked if len(masked) <= _LONGEST else f"{masked[:_LONGEST]}..."


def is_known(text: str, declared: Collection[str] = ()) -> bool:
    """Whether a text is one that the unit's file says, or made of known words alone.

    >>> is_known("vor Ankunft"), is_known("Anna"), is_known("Apgar 10"), is_known("12345678")
    (True, False, True, False)
    """
    if text in declared or text.strip().casefold() in declared:
        return True
    words = plain(text)
    numbers = [word for word in words if word.isdigit()]
    long = max(map(len, numbers), default=0) >= _LEAST_DIGITS or sum(map(len, numbers)) > 4
    if not words or long or _DATE.search(text) or not _is_latin(text):
        return False
    spelt = "".join(words)  # i.m. is a word of one letter each
    return spelt in vocabulary() or all(word in vocabulary() or word.isdigit() for word in words)


def _is_latin(text: str) -> bool:
    """Whether folding loses no letter: what is written in other letters is not compared."""
    return all(not one.isalpha() or ord(one) < 0x250 for one in text)


def safe_to_say(text: str, declared: Collection[str] = ()) -> str:
    """Return a text of an export where it may be said, else its shape.

    >>> safe_to_say("36.7"), safe_to_say("weiblich"), safe_to_say("A. Muster"), safe_to_say("39+6")
    ('36.7', 'weiblich', 'x. xxxxxx', '39+6')
    """
    if is_known(text, declared):
        return text
    bare = text.strip()
    reads = _NUMBER.fullmatch(bare) or _GESTATION.fullmatch(bare)
    if reads and not _DATE.search(bare):
        rest = plain(re.sub(r"\d", " ", bare))
        if all(word in vocabulary() for word in rest):
            return text
    return shape(text)


def looks_like_a_cell(name: str) -> bool:
    """Whether what stands where a column's name should is a date, a time or a number.

    >>> [looks_like_a_cell(one) for one in ("3410", "12.03.2026 07:05", "Apgar 5")]
    [True, True, False]
    """
    bare = name.strip()
    return bool(_DATE.search(bare) or re.fullmatch(r"[-+]?\d+([.,]\d+)?", bare)) or bool(
        re.search(r"\d{5,}|\S@\S+\.\w", bare)
    )


def safe_names(header: Sequence[str], declared: Iterable[str] = ()) -> list[str]:
    """Return which cells of a file's first line may be said as names of columns.

    Where one of them is a name that the unit's file declares, and none looks like a cell, the
    line is a header, and its names are names. Where it is the other way round it is a record, of
    which nothing is said. Else known words are said.
    """
    known = set(declared)
    names = [name for name in header if name.strip()]
    has_names = any(name in known for name in names)
    has_cells = any(looks_like_a_cell(name) for name in names if name not in known)
    if has_cells and not has_names:
        return []  # a record: even its known words are what a newborn has
    if has_names and not has_cells:
        return [name for name in names if len(name) <= 2 * _LONGEST]
    return [name for name in names if is_known(name, known) and not looks_like_a_cell(name)]


def names_said(names: Sequence[str], header: Sequence[str], declared: Iterable[str]) -> str:
    """List names of a first line for a message; those that may be values are only counted."""
    safe = set(safe_names(header, declared))
    said = [name for name in names if name in safe]
    hidden = len(names) - len(said)
    more = [f"{hidden} more, not said here, for they may be values"] if hidden else []
    return ", ".join([*said, *more])

"""The month as a text to paste into a mail: the first lines of the review, and no study key."""

import textwrap
from collections.abc import Sequence
from typing import Final

from pipelines.pages.meeting.read import read_now
from pipelines.pages.review.head import head
from pipelines.pages.review.read import ReviewData
from pipelines.pages.review.record_list import now_count
from pipelines.pages.shell.page import Line
from pipelines.words.caution import CLOSING, UNMASKED

LETTERS: Final = 77  # in a line; plain text in a mail has 78 at most (RFC 5322, 2.1.1)
MOST: Final = 28  # lines; a mail is read without scrolling
_PLAIN: Final = str.maketrans({"\N{NO-BREAK SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " "})


def sentence(line: Line) -> str:
    """Return a line as the mail says it: subject, fact and next step; luck stays on the pages."""
    told = f"{line.subject}: {line.fact}"
    return f"{told} Next: {line.step}" if line.step else told


def _wrapped(text: str, first: str = "") -> list[str]:
    """Wrap a text to the letters of a mail; what follows a number is drawn in."""
    wrapped = textwrap.wrap(
        text, LETTERS, initial_indent=first, subsequent_indent=" " * len(first)
    )  # a number and its sign, joined by a space of their own kind, stay together
    return [line.translate(_PLAIN) for line in wrapped]


def _numbered(lines: Sequence[Line]) -> list[str]:
    each = [_wrapped(sentence(line), f"{place}. ") for place, line in enumerate(lines, start=1)]
    return [text for one in each for text in one]


def _fitting(lines: Sequence[Line], room: int) -> list[str]:
    """Return the lines that fit: the gravest, and the last, which says what to trust."""
    kept, more = list(lines), list[str]()
    while len(kept) > 2 and len(_numbered(kept)) + len(more) > room:
        del kept[-2]
        more = [f"{len(lines) - len(kept)} more on the first screen of the review."]
    return [*_numbered(kept), *more]


def mail(data: ReviewData, files: Sequence[str]) -> str:
    """Return the text; ``files``: the names of the files in which the pages are.

    No line has 78 letters or more, no record is named.
    """
    told = head(data)
    assert told.since is not None  # a review always says what is new
    before, now = _wrapped(f"{told.title}, {told.when}"), len(read_now(data))
    which = " Which they are stands in the review." if now else ""
    after = [
        "",
        *_wrapped(told.since[0]),
        *_wrapped(f"{now_count(data, now)}{which}"),
        *(_wrapped(f"Pages, in the unit's own folder: {', '.join(files)}.") if files else []),
        "",
        *_wrapped(f"{UNMASKED} {CLOSING}"),
    ]
    lines = _fitting(told.lines, MOST - len(before) - len(after) - 1)
    return "\n".join([*before, "", *lines, *after]) + "\n"

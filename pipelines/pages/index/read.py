"""The pages that a store can have: their kinds, and which ones its units give."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pipelines.base.frames import rows_of
from pipelines.base.store_file import open_store
from pipelines.pages.change.page import open_change, write_change
from pipelines.pages.change.read import read_log
from pipelines.pages.fair.page import open_fair, write_fair
from pipelines.pages.meeting.page import write_meeting
from pipelines.pages.quality.page import open_quality, write_quality
from pipelines.pages.review.page import open_review, write_review
from pipelines.pages.shell.page import Head, Opened, Other
from pipelines.pages.shell.render import Say
from pipelines.reading.frames import LogRow, UnitTitleRow
from pipelines.reading.queries import query

INDEX: Final = "index.html"


@dataclass(frozen=True)
class Kind:
    """A kind of page: its words, what it answers, how it is read and written.

    ``open``: store, unit, and which month (a review) or change (a study) in; ``write``: the page
    that was read, the file, what says each step. ``weight``: how long that takes, beside the
    other kinds. ``is_of_a_month``: its page is of one month.
    """

    words: str
    answers: str
    open: Callable[[Path, str, str | None], Opened[Any]]
    write: Callable[[Opened[Any], Path, Say], Path]
    weight: int
    is_of_a_month: bool = False


REVIEW, MEETING, QUALITY, FAIR, CHANGE = "review", "meeting", "quality", "fair", "change"
KINDS: Final[Mapping[str, Kind]] = {
    REVIEW: Kind(
        "Monthly review",
        "What needs attention, what moved, which records to read",
        open_review,
        write_review,
        weight=5,
        is_of_a_month=True,
    ),
    MEETING: Kind(
        "Meeting sheet",
        "What to carry into the meeting: two sheets of paper, and a text for a mail",
        open_review,
        write_meeting,
        weight=1,
        is_of_a_month=True,
    ),
    CHANGE: Kind(
        "Change",
        "What a change did, and whether it did harm",
        open_change,
        write_change,
        weight=4,
    ),
    QUALITY: Kind(
        "Data quality",
        "Whether the figures can be trusted, and where charting has gaps",
        lambda store, unit, _: open_quality(store, unit),
        write_quality,
        weight=3,
    ),
    FAIR: Kind(
        "Fair care",
        "How care differs between groups of families",
        lambda store, unit, _: open_fair(store, unit),
        write_fair,
        weight=9,
    ),
}


@dataclass(frozen=True)
class Planned:
    """A page to be written: its kind, its unit, which month or change, its file and words."""

    kind: str
    unit: str
    which: str | None
    file: str
    words: str


@dataclass(frozen=True)
class Written:
    """A page that was written: what its first screen says, or why there is nothing to say."""

    page: Planned
    head: Head | None
    why_not: str = ""


def units_of(store: Path) -> dict[str, str]:
    """Return the units of a store (id -> title), in the order of their ids."""
    with open_store(store) as opened:
        rows = rows_of(query(opened, "reading/units", UnitTitleRow), UnitTitleRow)
    return {row["unit"]: row["title"] for row in rows}


def planned(
    store: Path, units: Sequence[str], month: str | None = None, kinds: Sequence[str] = tuple(KINDS)
) -> list[Planned]:
    """Return the pages of these units in the order of the index.

    ``month``: of the reviews ('2026-04'; None: each unit's last full month). A study for each
    change of a unit's log. Raises StoreError where the store or a unit is not there.
    """
    found = []
    for unit in units:
        log = rows_of(read_log(store, unit), LogRow)
        for kind in (name for name in KINDS if name in kinds):
            words = KINDS[kind].words
            if kind == CHANGE:
                found += [_study(unit, row) for row in log]
            else:
                which = month if KINDS[kind].is_of_a_month else None
                found.append(Planned(kind, unit, which, f"{kind}_{unit}.html", words))
    return found


def _study(unit: str, row: LogRow) -> Planned:
    change = row["change_id"]
    words = f"{KINDS[CHANGE].words}: {row['title']}"
    return Planned(CHANGE, unit, change, f"{CHANGE}_{unit}_{change}.html", words)


def others_of(page: Planned, every: Sequence[Planned]) -> list[Other]:
    """Return the pages that one leads to: the index, then its unit's others in their order."""
    own = [one for one in every if one.unit == page.unit and one != page]
    return [Other(INDEX, "All pages"), *(Other(one.file, one.words) for one in own)]

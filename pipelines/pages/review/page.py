"""The monthly review as a page, and writing it."""

from pathlib import Path
from typing import Final

from pipelines.pages.review.discuss import DISCUSS
from pipelines.pages.review.harm.sections import RARE
from pipelines.pages.review.head import head
from pipelines.pages.review.read import ReviewData, read_review
from pipelines.pages.review.sections import (
    ABOUT,
    MEASURES,
    OVER_TIME,
    QUALITY,
    RECORDS,
    RESTATED,
    SIGNALS,
)
from pipelines.pages.review.spread.sections import MEASURED
from pipelines.pages.review.timing.sections import HOW_LONG
from pipelines.pages.review.why.sections import COLD, WHY
from pipelines.pages.shell.page import Opened, Page
from pipelines.pages.shell.render import NOTEBOOKS, Say, write_page
from pipelines.words.of_numbers import month_name

REVIEW: Final = Page(
    notebook="monthly_review.ipynb",
    head=head,
    sections=(
        MEASURES,
        SIGNALS,
        RARE,
        RECORDS,
        DISCUSS,
        OVER_TIME,
        HOW_LONG,
        MEASURED,
        WHY,
        COLD,
        RESTATED,
        QUALITY,
        ABOUT,
    ),
)
NOTEBOOK: Final = NOTEBOOKS / REVIEW.notebook


def open_review(store: Path | str, unit: str, month: str | None = None) -> Opened[ReviewData]:
    """Read the review of one unit and month ('2026-04'; None: the last full month).

    Raises StoreError where the store, unit or month is not there.
    """
    return Opened(REVIEW, Path(store), read_review(Path(store), unit, month))


def write_review(page: Opened[ReviewData], out: Path, say: Say) -> Path:
    """Write a review that was read as one self-contained HTML file; return ``out``."""
    data = page.data
    parameters = {
        "store": str(page.store.resolve()),
        "unit": data.unit,
        "month": f"{data.month:%Y-%m}",
    }
    say(f"running the review notebook for {parameters['month']}")
    return write_page(page, parameters, f"{data.title}: {month_name(data.month)}", out, say)


def render_review(
    store: Path, unit: str, month: str | None, out: Path, progress: Say | None = None
) -> Path:
    """Write the monthly review of one unit as one self-contained HTML file.

    ``month`` is '2026-04', or None for the last full month in the store. Returns ``out``.
    Raises StoreError where the store, unit or month is not there, or the page cannot be
    written.
    """
    say = progress or (lambda _: None)
    say(f"reading the store for {unit}")
    return write_review(open_review(store, unit, month), out, say)

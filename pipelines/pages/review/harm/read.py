"""What the section shows: the sums that the page has read (:mod:`pipelines.reading.harms`)."""

from pathlib import Path

from pipelines.pages.review.read import ReviewData
from pipelines.reading.harms import HarmData


def read_harm(_: Path, data: ReviewData) -> HarmData:
    """Return what the first screen has read already: both say the same."""
    return data.harms

"""Writing the monthly review."""

from collections.abc import Callable
from pathlib import Path

from pipelines.pages.review.read import find_month
from pipelines.pages.shell.render import ROOT, write_page
from pipelines.words.of_numbers import month_name

NOTEBOOK = ROOT / "notebooks" / "monthly_review.ipynb"


def render_review(
    store: Path,
    unit: str,
    month: str | None,
    out: Path,
    progress: Callable[[str], None] | None = None,
) -> Path:
    """Write the monthly review of one unit as one self-contained HTML file.

    ``month`` is '2026-04', or None for the last full month in the store. Returns ``out``.
    Raises StoreError where the store, unit or month is not there, or the page cannot be
    written.
    """
    say = progress or (lambda _: None)
    say(f"reading the store for {unit}")
    title, found = find_month(store, unit, month)  # errors in words, before a kernel starts
    parameters = {"store": str(store.resolve()), "unit": unit, "month": f"{found:%Y-%m}"}
    say(f"running the review notebook for {parameters['month']}")
    return write_page(NOTEBOOK, parameters, f"{title}: {month_name(found)}", out, say)

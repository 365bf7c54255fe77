"""Writing the fair care page."""

from collections.abc import Callable
from pathlib import Path

from pipelines.pages.fair.read import read_fair
from pipelines.pages.shell.render import ROOT, write_page

NOTEBOOK = ROOT / "notebooks" / "fair_care.ipynb"


def render_fair_care(
    store: Path, unit: str, out: Path, progress: Callable[[str], None] | None = None
) -> Path:
    """Write one unit's measures by group of newborns as one self-contained HTML file.

    Returns ``out``. Raises StoreError where the store or unit is not there, or the page cannot
    be written.
    """
    say = progress or (lambda _: None)
    say(f"reading the store for {unit}")
    data = read_fair(store, unit)  # errors in words, before a kernel starts
    parameters = {"store": str(store.resolve()), "unit": unit}
    say("running the fair care notebook")
    return write_page(NOTEBOOK, parameters, f"{data.title}: fair care", out, say)

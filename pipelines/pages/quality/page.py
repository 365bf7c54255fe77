"""Writing the data quality page."""

from collections.abc import Callable
from pathlib import Path

from pipelines.pages.quality.read import read_quality
from pipelines.pages.shell.render import ROOT, write_page

NOTEBOOK = ROOT / "notebooks" / "data_quality.ipynb"


def render_quality(
    store: Path, unit: str, out: Path, progress: Callable[[str], None] | None = None
) -> Path:
    """Write the data quality of one unit as one self-contained HTML file. Returns ``out``.

    Raises StoreError where the store or unit is not there, or the page cannot be written.
    """
    say = progress or (lambda _: None)
    say(f"reading the store for {unit}")
    data = read_quality(store, unit)  # errors in words, before a kernel starts
    parameters = {"store": str(store.resolve()), "unit": unit}
    say("running the data quality notebook")
    return write_page(NOTEBOOK, parameters, f"{data.title}: data quality", out, say)

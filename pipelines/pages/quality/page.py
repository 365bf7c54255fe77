"""The data quality page, and writing it."""

from pathlib import Path
from typing import Final

from pipelines.pages.quality.read import QualityData, read_quality
from pipelines.pages.quality.sections import SECTIONS, head
from pipelines.pages.shell.page import Opened, Page
from pipelines.pages.shell.render import NOTEBOOKS, Say, write_page

QUALITY: Final = Page(notebook="data_quality.ipynb", head=head, sections=SECTIONS)
NOTEBOOK: Final = NOTEBOOKS / QUALITY.notebook


def open_quality(store: Path | str, unit: str) -> Opened[QualityData]:
    """Read the data quality of one unit; raises StoreError where store or unit is not there."""
    return Opened(QUALITY, Path(store), read_quality(Path(store), unit))


def write_quality(page: Opened[QualityData], out: Path, say: Say) -> Path:
    """Write a page that was read as one self-contained HTML file; return ``out``."""
    say("running the data quality notebook")
    parameters = {"store": str(page.store.resolve()), "unit": page.data.unit}
    return write_page(page, parameters, f"{page.data.title}: data quality", out, say)


def render_quality(store: Path, unit: str, out: Path, progress: Say | None = None) -> Path:
    """Write the data quality of one unit as one self-contained HTML file. Returns ``out``.

    Raises StoreError where the store or unit is not there, or the page cannot be written.
    """
    say = progress or (lambda _: None)
    say(f"reading the store for {unit}")
    return write_quality(open_quality(store, unit), out, say)

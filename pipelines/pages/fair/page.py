"""The fair care page, and writing it."""

from pathlib import Path
from typing import Final

from pipelines.pages.fair.compare.sections import BESIDE
from pipelines.pages.fair.read import FairData, read_fair
from pipelines.pages.fair.sections import ABOUT, BIRTHS, CONSENT, EACH, FAMILIES, head
from pipelines.pages.shell.page import Opened, Page
from pipelines.pages.shell.render import NOTEBOOKS, Say, write_page

FAIR: Final = Page(
    notebook="fair_care.ipynb",
    head=head,
    sections=(FAMILIES, CONSENT, BIRTHS, EACH, BESIDE, ABOUT),
)
NOTEBOOK: Final = NOTEBOOKS / FAIR.notebook


def open_fair(store: Path | str, unit: str) -> Opened[FairData]:
    """Read one unit's measures by group; raises StoreError where store or unit is not there."""
    return Opened(FAIR, Path(store), read_fair(store, unit))


def write_fair(page: Opened[FairData], out: Path, say: Say) -> Path:
    """Write a page that was read as one self-contained HTML file; return ``out``."""
    say("running the fair care notebook")
    parameters = {"store": str(page.store.resolve()), "unit": page.data.unit}
    return write_page(page, parameters, f"{page.data.title}: fair care", out, say)


def render_fair_care(store: Path, unit: str, out: Path, progress: Say | None = None) -> Path:
    """Write one unit's measures by group of newborns as one self-contained HTML file.

    Returns ``out``. Raises StoreError where the store or unit is not there, or the page cannot
    be written.
    """
    say = progress or (lambda _: None)
    say(f"reading the store for {unit}")
    return write_fair(open_fair(store, unit), out, say)

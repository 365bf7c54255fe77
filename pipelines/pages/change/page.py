"""The change study as a page, and writing it."""

from pathlib import Path
from typing import Final

from pipelines.pages.change.read import NO_UNIT, ChangeData, read_change
from pipelines.pages.change.sections import SECTIONS, head
from pipelines.pages.shell.page import Opened, Page
from pipelines.pages.shell.render import NOTEBOOKS, Say, write_page

CHANGE: Final = Page(notebook="change_study.ipynb", head=head, sections=SECTIONS)
NOTEBOOK: Final = NOTEBOOKS / CHANGE.notebook


def open_change(
    store: Path | str,
    unit: str,
    change: str | None = None,
    *,
    measure: str | None = None,
    compare_unit: str | None = None,
) -> Opened[ChangeData]:
    """Read what one change of a unit's log did; values and errors as in ``read_change``."""
    data = read_change(store, unit, change, measure=measure, compare_unit=compare_unit)
    return Opened(CHANGE, Path(store), data)


def write_change(page: Opened[ChangeData], out: Path, say: Say) -> Path:
    """Write a study that was read as one self-contained HTML file; return ``out``."""
    data = page.data
    parameters = {
        "store": str(page.store.resolve()),
        "unit": data.unit,
        "change": data.change_id,
        "measure": str(data.main.row["measure_id"]),
        "compare_unit": data.comparison.unit if data.comparison else NO_UNIT,
    }
    say(f"running the change notebook for {data.change_id}")
    return write_page(page, parameters, f"{data.title}: {data.change_title}", out, say)


def render_change(
    store: Path,
    unit: str,
    out: Path,
    *,
    change: str | None = None,
    measure: str | None = None,
    compare_unit: str | None = None,
    progress: Say | None = None,
) -> Path:
    """Write what one change of the unit's log did as one self-contained HTML file.

    ``change``, ``measure``, ``compare_unit`` as in ``change.read_change``. Returns ``out``.
    Raises StoreError where something named is not there, or the page cannot be written.
    """
    say = progress or (lambda _: None)
    say(f"reading the store for {unit}")
    page = open_change(store, unit, change, measure=measure, compare_unit=compare_unit)
    return write_change(page, out, say)

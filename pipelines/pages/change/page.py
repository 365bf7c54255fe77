"""Writing the change study."""

from collections.abc import Callable
from pathlib import Path

from pipelines.pages.change.read import NO_UNIT, read_change
from pipelines.pages.shell.render import ROOT, write_page

NOTEBOOK = ROOT / "notebooks" / "change_study.ipynb"


def render_change(
    store: Path,
    unit: str,
    out: Path,
    *,
    change: str | None = None,
    measure: str | None = None,
    compare_unit: str | None = None,
    progress: Callable[[str], None] | None = None,
) -> Path:
    """Write what one change of the unit's log did as one self-contained HTML file.

    ``change``, ``measure``, ``compare_unit`` as in ``change.read_change``. Returns ``out``.
    Raises StoreError where something named is not there, or the page cannot be written.
    """
    say = progress or (lambda _: None)
    say(f"reading the store for {unit}")
    data = read_change(
        store, unit, change, measure=measure, compare_unit=compare_unit
    )  # errors in words, before a kernel starts
    parameters = {
        "store": str(store.resolve()),
        "unit": unit,
        "change": data.change_id,
        "measure": str(data.main.row["measure_id"]),
        "compare_unit": data.comparison.unit if data.comparison else NO_UNIT,
    }
    say(f"running the change notebook for {data.change_id}")
    return write_page(NOTEBOOK, parameters, f"{data.title}: {data.change_title}", out, say)

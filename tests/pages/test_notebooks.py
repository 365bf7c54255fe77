"""Every notebook runs from top to bottom, as a reader would run it."""

import re
from pathlib import Path
from typing import Any

import nbformat
import pytest

from pipelines.pages.shell import render
from tests.conftest import Built
from tests.notebooks.in_kernel import run_in_kernel

FOLDER = Path(render.ROOT) / "notebooks"
OF_A_STORE = sorted(
    path.name for path in FOLDER.glob("*.ipynb") if "= open_" in path.read_text(encoding="utf-8")
)


def texts(notebook: Any) -> list[str]:
    return [
        output["data"]["text/plain"]
        for cell in notebook.cells
        if cell.cell_type == "code"
        for output in cell.outputs
        if "data" in output
    ]


def test_adding_a_measure_shows_the_slip_and_the_place() -> None:
    notebook = nbformat.read(FOLDER / "extend_measures.ipynb", as_version=4)
    before = sorted((Path(render.ROOT) / "pipelines" / "definitions" / "measures").glob("*.sql"))
    said = "\n".join(texts(run_in_kernel(notebook)))
    assert re.search(r"^ok +minute 360 counts", said, re.M)
    assert "expected state not_met, got met" in said
    assert "key 'directon' is not known. Did you mean 'direction'?" in said
    assert "contact and feeding\n  first_bath" in said
    assert (
        sorted((Path(render.ROOT) / "pipelines" / "definitions" / "measures").glob("*.sql"))
        == before
    )


@pytest.mark.parametrize("name", OF_A_STORE)
def test_every_notebook_runs_on_a_small_store(name: str, clean: Built) -> None:
    """With the notebook's own renderer, as in JupyterLab; a page is made elsewhere."""
    notebook = nbformat.read(FOLDER / name, as_version=4)
    for cell in notebook.cells:
        if "parameters" in cell.metadata.get("tags", []):
            cell.source = f"store, unit, month = {str(clean.store)!r}, 'quillmere', None"
    done = run_in_kernel(notebook)
    assert sum(cell.cell_type == "code" and bool(cell.outputs) for cell in done.cells) > 4

"""Every notebook runs from top to bottom, as a reader would run it."""

import re
from pathlib import Path
from typing import Any

import nbformat
import pytest

from pipelines.pages.shell import render
from tests.notebooks.in_kernel import run_in_kernel

from .conftest import notebook_of

FOLDER = Path(render.ROOT) / "notebooks"
OF_A_STORE = sorted(
    path.name for path in FOLDER.glob("*.ipynb") if "= open_" in path.read_text(encoding="utf-8")
)
# notebook -> the fixture of its page of a store with every measure
PAGE_OF = {
    "monthly_review.ipynb": "whole_review",
    "data_quality.ipynb": "whole_quality",
    "fair_care.ipynb": "whole_fair",
    "change_study.ipynb": "change_study",
}


def texts(notebook: Any) -> list[str]:
    return [
        output["data"]["text/plain"]
        for cell in notebook.cells
        if cell.cell_type == "code"
        for output in cell.outputs
        if "data" in output
    ]


@pytest.mark.build
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


def test_every_notebook_that_reads_a_store_has_its_page() -> None:
    """A new one needs a page here, or a run of its own."""
    assert sorted(PAGE_OF) == OF_A_STORE


@pytest.mark.build
@pytest.mark.parametrize("name", PAGE_OF)
def test_every_notebook_runs_on_a_small_store(name: str, request: pytest.FixtureRequest) -> None:
    """As its page was made; with the notebook's own renderer it runs in JupyterLab itself."""
    done = nbformat.read(notebook_of(request.getfixturevalue(PAGE_OF[name])), as_version=4)
    code = [cell for cell in done.cells if cell.cell_type == "code"]
    assert all(cell.execution_count for cell in code if cell.source)
    assert sum(bool(cell.outputs) for cell in code) > 4

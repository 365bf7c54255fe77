"""The first notebook: where to go, and the selectors with and without a program that draws them."""

import doctest
import re
from pathlib import Path
from typing import Any

import nbformat
import pandas as pd
import pytest

from pipelines.pages.shell import render
from pipelines.pages.start import chooser
from pipelines.pages.start.chooser import Selectors
from tests.conftest import Built
from tests.verbs import verbs

from .in_kernel import run_in_kernel

START = render.ROOT / "notebooks" / "start.ipynb"
WIDGETS = "application/vnd.jupyter.widget-view+json"


def prose() -> str:
    cells = nbformat.read(START, as_version=4).cells
    return "\n".join(cell.source for cell in cells if cell.cell_type == "markdown")


def run(store: Path) -> dict[str, Any]:
    """Run the notebook without a front end and return what its last cell shows."""
    notebook = nbformat.read(START, as_version=4)
    for cell in notebook.cells:
        if "parameters" in cell.metadata.get("tags", []):
            cell.source = f"store = {str(store)!r}"
    (output,) = run_in_kernel(notebook).cells[-1].outputs
    return dict(output["data"])


@pytest.fixture(scope="module")
def selectors(clean: Built) -> Selectors:
    found = chooser.selectors(clean.store)
    assert isinstance(found, Selectors)
    return found


def test_examples_in_docstrings() -> None:
    result = doctest.testmod(chooser)
    assert result.attempted > 0
    assert result.failed == 0


def test_every_link_leads_to_a_file_and_every_notebook_is_named() -> None:
    links = set(re.findall(r"\]\(([^)]+)\)", prose()))
    assert all((START.parent / link).is_file() for link in links)
    others = {path.name for path in START.parent.glob("*.ipynb")} - {START.name}
    assert others <= links


def test_every_command_named_is_a_verb() -> None:
    named = set(re.findall(r"`lanugo ([a-z-]+)", prose()))
    assert len(named) > 8
    assert named <= verbs()


def test_a_program_without_widgets_shows_what_the_store_holds(clean: Built) -> None:
    shown = run(clean.store)
    assert {WIDGETS, "text/html"} <= set(shown)
    assert "Quillmere birth unit" in shown["text/html"]
    assert "--unit tansy_ridge --open" in shown["text/html"]


@pytest.mark.build
def test_without_a_store_it_says_how_to_get_one(tmp_path: Path) -> None:
    shown = run(tmp_path / "none.duckdb")
    assert "lanugo demo" in shown["text/html"]
    assert WIDGETS not in shown


def test_months_and_measures_follow_the_choice(selectors: Selectors, clean: Built) -> None:
    held = selectors.held
    assert selectors.unit.value == "quillmere"
    months = [value for _, value in selectors.month.options]
    assert months == sorted(held.loc[held["unit"] == "quillmere", "month"], reverse=True)
    measure = selectors.measure.options[7][1]
    selectors.measure.value = measure
    selectors.unit.value = "tansy_ridge"
    assert selectors.measure.value == measure, "another unit, the same measure"
    first = pd.Timestamp(months[-1])
    selectors.month.value = first
    line = chooser.command(clean.store, "tansy_ridge", first).replace("'", "&#39;")
    assert line in selectors.told.value

"""Writing pages: run a notebook on a page's data and keep what it shows in one file."""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import Any, Final

from pipelines.base.errors import StoreError
from pipelines.base.whole_files import write_whole
from pipelines.drawing import theme
from pipelines.drawing.packed import POLICY, script
from pipelines.pages.shell.cells import run
from pipelines.pages.shell.markup import Part, hatching, part
from pipelines.pages.shell.page import Opened
from pipelines.pages.shell.show import Drawn

ROOT: Final = Path(__file__).resolve().parents[3]
NOTEBOOKS: Final = ROOT / "notebooks"
Say = Callable[[str], None]
_PLAIN: Final = {"panel": None, "look": None, "beside": None, "fold": ""}


def _parameter_cell(parameters: Mapping[str, str | None]) -> Any:
    """Return the cell that sets the parameters and draws for the page, not the notebook."""
    from nbformat.v4 import new_code_cell

    lines = [f"{name} = {value!r}" for name, value in parameters.items()]
    return new_code_cell("\n".join([*lines, "panels.draw_in_page()"]))


def prepare(
    path: Path, parameters: Mapping[str, str | None], left_out: tuple[str, ...] = ("notebook-only",)
) -> Any:
    """Read a notebook and put the parameters after the cell tagged ``parameters``.

    Cells tagged with one of ``left_out`` are left out. Raises StoreError where no cell is tagged
    ``parameters``.
    """
    import nbformat

    notebook = nbformat.read(path, as_version=4)
    tags = [cell.metadata.get("tags", []) for cell in notebook.cells]
    place = next((at for at, found in enumerate(tags) if "parameters" in found), None)
    if place is None:
        raise StoreError(f"{path.name}: no cell is tagged 'parameters'; tag one.")
    notebook.cells.insert(place + 1, _parameter_cell(parameters))
    notebook.cells = [
        cell for cell in notebook.cells if not set(left_out) & set(cell.metadata.get("tags", []))
    ]
    return notebook


def executed(page: Opened[Any], parameters: Mapping[str, str | None]) -> Any:
    """Return the page's notebook, run on the data that was read: ``page`` stands in its cells.

    Raises StoreError where a cell stops.
    """
    name = page.page.notebook
    # What is read already is given: the cell that would read it again is left out.
    notebook = prepare(NOTEBOOKS / name, parameters, left_out=("notebook-only", "read"))
    return run(notebook, name, {"page": page})


def charts_shown(page: Opened[Any]) -> list[Drawn]:
    """Show every section of a page to nobody and return its charts."""
    from nbformat.v4 import new_code_cell, new_notebook

    draw = "from pipelines.pages.shell import show as panels\npanels.draw_in_page()\npage.rest()"
    run(new_notebook(cells=[new_code_cell(draw)]), page.page.notebook, {"page": page})
    return page.drawn


def _prose(source: str) -> str:
    from nbconvert.filters.markdown_mistune import markdown2html_mistune

    return str(markdown2html_mistune(source))


def _pieces(notebook: Any) -> list[dict[str, Any]]:
    """Return what a notebook says and shows, with its sections in the order of the page.

    What stands outside the sections, such as a cell of the analyst's own, stays after what it
    came after.
    """
    pieces, position = list[dict[str, Any]](), -1
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            pieces.append({**_PLAIN, "html": _prose(cell.source), "position": position})
        for output in cell.get("outputs", []):
            if "text/html" not in output.get("data", {}):
                continue
            position = output.metadata.get("position", position)
            html = output.data["text/html"]
            pieces.append({**_PLAIN, **output.metadata, "html": html, "position": position})
    return sorted(pieces, key=lambda piece: piece["position"])


def to_html(notebook: Any, title: str) -> str:
    """Turn a notebook that was run into one page: outputs and prose, no code, no links out."""
    sections = [list(one) for _, one in groupby(_pieces(notebook), key=itemgetter("position"))]
    return _document(
        title,
        [
            {
                "is_folded": any(piece["fold"] for piece in pieces),
                "groups": [
                    (number, list(group)) for number, group in groupby(pieces, itemgetter("beside"))
                ],
            }
            for pieces in sections
        ],
    )


def _document(title: str, sections: Sequence[Mapping[str, Any]]) -> str:
    return part(
        "pages/shell/page",
        title=title,
        style=theme.stylesheet(),
        hatching=hatching(),
        policy=POLICY,
        script=script(),
        sections=sections,
    ).html


def plain_page(title: str, inside: Part) -> str:
    """Return one part as a whole page that draws its charts, for a page that no notebook makes."""
    piece = {**_PLAIN, "html": inside.html}
    return _document(title, [{"is_folded": False, "groups": [(None, [piece])]}])


def write_page(
    page: Opened[Any], parameters: Mapping[str, str | None], title: str, out: Path, say: Say
) -> Path:
    """Run a page's notebook and write what it shows as one file; return ``out``.

    Raises StoreError where a cell stops or the page cannot be written.
    """
    with ThreadPoolExecutor(1) as aside:
        aside.submit(script)  # which keeps what it gives
        notebook = executed(page, parameters)
    say("writing the page")
    write_whole(out, to_html(notebook, title))
    return out

"""Writing pages: run a notebook with its parameters and keep what it shows in one file."""

import os
import tempfile
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from pipelines.base.errors import StoreError
from pipelines.base.whole_files import write_whole
from pipelines.drawing import theme
from pipelines.drawing.packed import POLICY, script
from pipelines.pages.shell.markup import hatching

ROOT = Path(__file__).resolve().parents[3]
_CELL_SECONDS = 600


def _parameter_cell(parameters: Mapping[str, str | None]) -> Any:
    """Return the cell that sets the parameters and draws for the page, not the notebook."""
    from nbformat.v4 import new_code_cell

    lines = [f"{name} = {value!r}" for name, value in parameters.items()]
    return new_code_cell("\n".join([*lines, "panels.draw_in_page()"]))


def prepare(path: Path, parameters: Mapping[str, str | None]) -> Any:
    """Read a notebook and put the parameters after the cell tagged ``parameters``.

    Cells tagged ``notebook-only`` are left out. Raises StoreError where no cell is tagged.
    """
    import nbformat

    notebook = nbformat.read(path, as_version=4)
    tags = [cell.metadata.get("tags", []) for cell in notebook.cells]
    place = next((at for at, found in enumerate(tags) if "parameters" in found), None)
    if place is None:
        raise StoreError(f"{path.name}: no cell is tagged 'parameters'; tag one.")
    notebook.cells.insert(place + 1, _parameter_cell(parameters))
    notebook.cells = [
        cell for cell in notebook.cells if "notebook-only" not in cell.metadata.get("tags", [])
    ]
    return notebook


def run(notebook: Any, name: str) -> Any:
    """Run a notebook in a kernel of this Python and return it with its outputs.

    Raises StoreError naming the cell and the kind of error; never its values.
    """
    from nbclient import NotebookClient
    from nbclient.exceptions import CellExecutionError

    path = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep)
    client = NotebookClient(
        notebook,
        kernel_name="python3",
        timeout=_CELL_SECONDS,
        resources={"metadata": {"path": str(ROOT)}},
    )
    manager = client.create_kernel_manager()
    with tempfile.TemporaryDirectory(prefix="lanugo-") as folder:
        if os.name == "posix":  # sockets in a private folder: nothing listens on a port
            manager.transport, manager.ip = "ipc", str(Path(folder) / "kernel")
        try:
            done = client.execute(env={**os.environ, "PYTHONPATH": path})
        except CellExecutionError as error:
            raise _stopped(notebook, name, error.ename) from None
    # A chart that fails while it is being displayed raises nothing: look for it.
    if any(_failed(cell) for cell in done.cells):
        raise _stopped(done, name, "an error while displaying")
    return done


def _stopped(notebook: Any, name: str, kind: str) -> StoreError:
    cells = [at for at, cell in enumerate(notebook.cells, 1) if _failed(cell)]
    where = f"cell {cells[0]}" if cells else "a cell"
    return StoreError(
        f"{name}: {where} stopped with {kind}. Open the notebook in JupyterLab and run it with "
        "the same store, unit and month to see why."
    )


def _failed(cell: Any) -> bool:
    return any(output.output_type == "error" for output in cell.get("outputs", []))


def to_html(notebook: Any, title: str) -> str:
    """Turn a notebook that was run into one page: outputs and prose, no code, no links out."""
    from nbconvert import HTMLExporter, TemplateExporter

    exporter = HTMLExporter(
        extra_template_basedirs=[str(Path(__file__).parent)],
        template_name="template",
        exclude_anchor_links=True,
    )
    page = {
        "title": title,
        "style": theme.stylesheet(),
        "hatching": hatching(),
        "policy": POLICY,
        "script": script(),
    }
    # The HTML exporter's own version reads the page again to mend pictures and cells of its
    # stock templates; there are none in this one.
    told = {"page": page}
    text, _ = TemplateExporter.from_notebook_node(exporter, notebook, resources=told)
    return str(text)


def write_page(
    path: Path,
    parameters: Mapping[str, str | None],
    title: str,
    out: Path,
    say: Callable[[str], None],
) -> Path:
    """Run a notebook with its parameters and write what it shows as one file; return ``out``.

    Raises StoreError where a cell stops or the page cannot be written.
    """
    with ThreadPoolExecutor(1) as beside:  # while the kernel works, this process would wait
        beside.submit(script)  # which keeps what it gives
        notebook = run(prepare(path, parameters), path.name)
    say("writing the page")
    write_whole(out, to_html(notebook, title))
    return out

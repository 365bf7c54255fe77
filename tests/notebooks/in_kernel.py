"""Running a notebook in a kernel of its own, as a reader's JupyterLab does."""

import os
import tempfile
from pathlib import Path
from typing import Any

from nbclient import NotebookClient

from pipelines.pages.shell.render import ROOT

CELL_SECONDS = 600


def run_in_kernel(notebook: Any) -> Any:
    """Return the notebook with its outputs; a cell that stops is an error of the test."""
    path = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep)
    client = NotebookClient(
        notebook,
        kernel_name="python3",
        timeout=CELL_SECONDS,
        resources={"metadata": {"path": str(ROOT)}},
    )
    manager = client.create_kernel_manager()
    with tempfile.TemporaryDirectory(prefix="lanugo-") as folder:
        if os.name == "posix":  # sockets in a private folder: nothing listens on a port
            manager.transport, manager.ip = "ipc", str(Path(folder) / "kernel")
        done = client.execute(env={**os.environ, "PYTHONPATH": path})
    wrong = [one for cell in done.cells for one in cell.get("outputs", []) if "ename" in one]
    assert not wrong, wrong  # a chart that fails while it is displayed raises nothing
    return done

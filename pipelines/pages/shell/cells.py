"""Running a notebook's cells in this process: cells in, what they show out, nothing left behind."""

import atexit
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from io import StringIO
from types import ModuleType
from typing import Any

from IPython.core.displayhook import DisplayHook
from IPython.core.displaypub import CapturingDisplayPublisher
from IPython.core.history import HistoryManager
from IPython.core.interactiveshell import InteractiveShell

from pipelines.base.errors import StoreError
from pipelines.pages.shell.show import settings_kept


class _Hook(DisplayHook):
    """Keeps the value of a cell's last line beside what the cell displayed."""

    def __call__(self, result: Any = None) -> None:
        is_quiet = self.semicolon_at_end_of_expression(self.shell.source)  # type: ignore[no-untyped-call]
        if result is not None and not is_quiet:
            data, metadata = self.shell.display_formatter.format(result)
            self.shell.display_pub.publish(data, metadata)


class _Shell(InteractiveShell):
    """IPython without a terminal, a history, a profile folder or a hold on the program it is in."""

    def init_ipython_dir(self, _: Any) -> None:
        """Make no folder for a person's settings."""

    def init_profile_dir(self, _: Any) -> None:
        """Make no folder for a person's profile."""

    def init_virtualenv(self) -> None:
        """Leave the search path alone."""

    def init_sys_modules(self) -> None:
        """Leave the program's main module in its place."""

    def init_history(self) -> None:
        self.history_manager = HistoryManager(
            shell=self, parent=self, hist_file=":memory:", enabled=False
        )

    def showtraceback(self, *_: Any, **__: Any) -> None:
        """Keep the kind of an error; its words may hold a newborn's values."""
        self.failed = getattr(sys.exc_info()[0], "__name__", "an error")

    showsyntaxerror = showtraceback
    failed: str | None = None
    source = ""  # of the cell that runs
    displayhook_class = _Hook


@contextmanager
def _shell(given: Mapping[str, Any]) -> Iterator[_Shell]:
    """Give a shell of its own, and put back the one that was there, if any."""
    family = list(_Shell._walk_mro())
    were = [(one, one.__dict__.get("_instance")) for one in family]
    hook = sys.displayhook
    for one in family:
        one._instance = None
    shell = _Shell.instance(user_module=ModuleType("notebook"), user_ns=dict(given))
    try:
        yield shell
    finally:
        atexit.unregister(shell.atexit_operations)
        sys.displayhook = hook
        for one, instance in were:
            one._instance = instance


def _run_cell(shell: _Shell, cell: Any) -> tuple[list[dict[str, Any]], str | None]:
    """Run one cell; return what it showed (data, metadata), and the kind of its error, if any."""
    shell.display_pub = CapturingDisplayPublisher()  # type: ignore[no-untyped-call]
    shown: list[dict[str, Any]] = shell.display_pub.outputs
    shell.failed, shell.source = None, str(cell.source)
    with redirect_stdout(StringIO()), redirect_stderr(StringIO()):
        done = shell.run_cell(cell.source)  # type: ignore[no-untyped-call]
    error = done.error_before_exec or done.error_in_exec
    if isinstance(error, KeyboardInterrupt | SystemExit):
        raise error
    # What fails while it is displayed raises nothing.
    later = "an error while displaying" if shell.failed else None
    return shown, type(error).__name__ if error else later


def run(notebook: Any, name: str, given: Mapping[str, Any] | None = None) -> Any:
    """Run a notebook in this process and return it with its outputs.

    ``given``: names that its cells find, with their values. What it does to settings that hold
    for a whole process is put back. Raises StoreError naming the cell and the kind of error;
    never its values.
    """
    from nbformat.v4 import new_output

    with settings_kept(), _shell(given or {}) as shell:
        for at, cell in enumerate(notebook.cells, start=1):
            if cell.cell_type != "code":
                continue
            shown, failed = _run_cell(shell, cell)
            if failed:
                raise _stopped(name, at, failed)
            cell.execution_count = at
            cell.outputs = [
                new_output("display_data", data=one["data"], metadata=one["metadata"] or {})
                for one in shown
            ]
    return notebook


def _stopped(name: str, cell: int, kind: str) -> StoreError:
    return StoreError(
        f"{name}: cell {cell} stopped with {kind}. Open the notebook in JupyterLab and run it "
        "with the same store, unit and month to see why."
    )

"""What is made once per run, whichever of the processes that share the tests needs it first.

The others wait under a lock for what the first has made, and read the same files: they are read
only. Where one process runs all tests, nothing but the folder is another.
"""

import os
import pickle
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import pytest

Made = TypeVar("Made")


def processor_seconds() -> float:
    """Return what this process and its ended children have used so far."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold a file against every other process; one that ends lets go by itself."""
    if os.name != "posix":  # one process at a time is all that is promised there
        yield
        return
    import fcntl

    with path.open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


@dataclass
class Once:
    """Makes and keeps things by name in a folder that all processes of this run share.

    ``spent`` are the processor seconds of this process for what others use as well.
    """

    root: Path
    spent: float = 0.0
    _depth: int = 0

    def __call__(self, name: str, make: Callable[[Path], Made]) -> Made:
        """Return what ``make`` gives for an empty folder of its own; it is called once per run.

        What it gives must be known to ``pickle``: a path, text, a plain dataclass. Where it
        raises, nothing is kept and the next who asks tries again.
        """
        place = self.root / name
        place.mkdir(parents=True, exist_ok=True)
        kept = place / "made.pickle"
        with locked(place / "lock"):
            if kept.is_file():
                found: Made = pickle.loads(kept.read_bytes())
                return found
            tries = len(list(place.glob("files*")))
            folder = place / f"files{tries or ''}"
            folder.mkdir()
            with self._counted():
                made = make(folder)
            beside = kept.with_suffix(".part")
            beside.write_bytes(pickle.dumps(made))
            beside.replace(kept)
            return made

    @contextmanager
    def _counted(self) -> Iterator[None]:
        """Add what is spent within to ``spent``; what is made within the making counts once."""
        start, self._depth = processor_seconds(), self._depth + 1
        try:
            yield
        finally:
            self._depth -= 1
            if not self._depth:
                self.spent += processor_seconds() - start


ONCE: pytest.StashKey[Once] = pytest.StashKey()


def shared_folder(factory: pytest.TempPathFactory) -> Path:
    """Return a folder that all processes of this run have in common (pytest-xdist's own way)."""
    base = factory.getbasetemp()
    return (base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base) / "once"

"""Files and folders that are written whole or not at all."""

import contextlib
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import duckdb

from pipelines.base.errors import StoreError


def write_whole(path: Path, text: str) -> None:
    """Write a file beside its place and put it there at once; folders above it are made.

    Raises StoreError in words where the place cannot be written.
    """
    beside = path.with_name(f".{path.name}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with beside.open("w", encoding="utf-8", newline="") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        beside.replace(path)
    except OSError as error:
        raise StoreError(f"{path}: cannot be written: {error.strerror}.") from None


def refuse_taken(out: Path) -> None:
    """Raise StoreError where ``out`` is not an empty or a new folder."""
    if out.exists() and (not out.is_dir() or any(out.iterdir())):
        raise StoreError(f"{out}: holds something already; name a new folder.")


@contextlib.contextmanager
def whole_folder(out: Path) -> Iterator[Path]:
    """Give a folder beside ``out`` that takes its place only when the block succeeds.

    Raises StoreError where ``out`` holds something, another run is writing it, or the place
    cannot be written.
    """
    refuse_taken(out)
    beside = out.with_name(f".{out.name}.part")
    if beside.exists():  # nothing is deleted that another run may still be writing
        raise StoreError(
            f"{beside}: another run is writing there, or one was cut off. If none is running, "
            "delete it: it holds files of the unit."
        )
    try:
        beside.mkdir(parents=True)
        yield beside
        if out.is_dir() and not any(out.iterdir()):
            out.rmdir()
        refuse_taken(out)
        beside.rename(out)
    except OSError as error:
        where = error.filename or out
        raise StoreError(f"{out}: cannot be written ({error.strerror}: {where}).") from None
    except duckdb.IOException as error:
        raise StoreError(f"{out}: cannot be written ({str(error).splitlines()[0]}).") from None
    finally:
        shutil.rmtree(beside, ignore_errors=True)

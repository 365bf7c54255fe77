"""Opening a store: hardened for building, read-only for everybody else."""

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

import duckdb

from pipelines.base.errors import StoreError
from pipelines.base.sql import quote

# Raised whenever the public views change shape, so that an old store is refused in words.
STORE_VERSION = "6"
PREVIOUS = "previous"  # the name under which a build sees the store it will replace
_SCRATCH_PREFIX = ".building-"
# Exports smaller than this (about a thousand newborns) are built on one thread: sharing out a
# few rows costs more processor time than it saves (python -m tests.benchmark.small_build).
_SMALL_BYTES = 1_000_000


def _harden(connection: duckdb.DuckDBPyConnection, folders: Sequence[Path]) -> None:
    """Nothing is fetched, loaded or written outside the folders of this build."""
    listed = ", ".join("'" + str(folder.resolve()).replace("'", "''") + "'" for folder in folders)
    connection.execute(
        f"""
        set TimeZone = 'UTC';
        set autoinstall_known_extensions = false;
        set autoload_known_extensions = false;
        set allow_community_extensions = false;
        set allow_persistent_secrets = false;
        set allowed_directories = [{listed}];
        set enable_external_access = false;
        set lock_configuration = true;
        """
    )


@contextlib.contextmanager
def new_store(
    path: Path, readable: Sequence[Path], before: Path | None = None, may_drop: bool = False
) -> Iterator[duckdb.DuckDBPyConnection]:
    """Build a store beside ``path`` and put it in place only when the block succeeds.

    Gives a connection with the scratch database ``raw`` attached; the scratch holds clock
    times and goes whether the build succeeds or not. A store that is at ``before`` (None:
    ``path`` itself) is attached as ``previous``; what cannot be read there is replaced only where
    the build ``may_drop`` it. ``readable`` are the folders the build may read. Raises
    StoreError where the folder cannot be written.
    """
    before = before or path
    has_previous = _can_be_read(before, may_drop)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        clear_left_behind(path.parent)
        prefix = f"{_SCRATCH_PREFIX}{os.getpid()}-"
        scratch = Path(tempfile.mkdtemp(prefix=prefix, dir=path.parent))
    except OSError as error:
        raise StoreError(f"{path.parent}: cannot write here ({error.strerror}).") from None
    try:
        built = scratch / "store.duckdb"
        # One checkpoint at the end: nobody reads a store that is half built.
        config: dict[str, str | bool | int | float | list[str]] = {
            "temp_directory": str(scratch / "spill"),
            "checkpoint_threshold": "1TB",
        }
        if _are_small(readable):
            config["threads"] = 1
        connection = duckdb.connect(str(built), config=config)
        try:
            connection.execute(f"attach {quote(str(scratch / 'raw.duckdb'))} as raw")
            if has_previous:
                connection.execute(f"attach {quote(str(before))} as {PREVIOUS} (read_only)")
            _harden(connection, [scratch, *readable])
            yield connection
            connection.execute("detach raw")
            connection.execute("checkpoint")
        finally:
            connection.close()
        built.replace(path)  # os.replace: readers see the old store or the new, never a part
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def _are_small(folders: Sequence[Path]) -> bool:
    files = [file for folder in folders if folder.is_dir() for file in folder.iterdir()]
    return sum(file.stat().st_size for file in files if file.is_file()) < _SMALL_BYTES


def _can_be_read(path: Path, may_drop: bool) -> bool:
    """Return whether ``path`` holds a store of this version that nobody is writing.

    Raises StoreError where something else stands there that may not be dropped.
    """
    if not path.exists():
        return False
    try:
        open_store(path).close()
    except StoreError as error:
        if may_drop:
            return False
        raise StoreError(
            f"{error} It is left as it is: choose another --store, or add --drop to replace it."
        ) from None
    return True


def clear_left_behind(folder: Path) -> None:
    """Remove scratch folders of builds that were cut off; they may hold clock times.

    Only where the process that made one is gone. Where that cannot be asked (not POSIX), it
    is left for a person.
    """
    for scratch in folder.glob(f"{_SCRATCH_PREFIX}*"):
        maker = scratch.name.removeprefix(_SCRATCH_PREFIX).split("-")[0]
        if os.name == "posix" and maker.isdigit() and not is_running(int(maker)):
            shutil.rmtree(scratch, ignore_errors=True)


def is_running(process: int) -> bool:
    """Whether a process of this number runs. POSIX only: elsewhere the signal would end it."""
    try:
        os.kill(process, 0)  # signal 0 asks and does nothing
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def open_store(path: Path) -> duckdb.DuckDBPyConnection:
    """Open a built store read-only.

    Raises StoreError where there is none, it is held for writing, or it is of another version.
    """
    if not path.is_file():
        raise StoreError(
            f"{path}: there is no store. Make one with 'lanugo build' or 'lanugo demo'."
        )
    try:
        connection = duckdb.connect(str(path), read_only=True)
        row = connection.execute(
            "select value from build_info where key = 'store_version'"
        ).fetchone()
    except duckdb.Error as error:
        first = str(error).splitlines()[0]
        raise StoreError(f"{path}: not a store that this version can read ({first}).") from None
    if row is None or row[0] != STORE_VERSION:
        raise StoreError(f"{path}: built by another version; build it again with 'lanugo build'.")
    return connection

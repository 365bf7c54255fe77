"""The release ledger: what was published, when, by which rule; so that two releases cannot be
subtracted.

A folder that the unit chooses: ``ledger.jsonl``, one line per release, only ever added to, and
beside it one file per release with the counts it showed. No masked count and no record is in it.
"""

import hashlib
import io
import json
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pandas as pd

from pipelines.base.errors import LanugoError, StoreError
from pipelines.base.whole_files import write_whole

LEDGER: Final = "ledger.jsonl"
CELL: Final = ["measure_id", "stratifier", "stratum", "period_kind", "first_month", "last_month"]
_COLUMNS: Final = [*CELL, "column", "count"]


class ReleaseRefused(LanugoError):
    """A release that would give small numbers away, or a ledger that cannot be trusted."""

    kind = "release"


@dataclass(frozen=True)
class Entry:
    """One earlier release: its line of the ledger and the counts it showed.

    published: CELL (months as whole numbers), column, count.
    """

    line: dict[str, Any]
    published: pd.DataFrame

    @property
    def name(self) -> str:
        return f"release {self.line['number']} of {str(self.line['released_at'])[:10]}"


def published_text(published: pd.DataFrame) -> str:
    """Return the published counts as the text that is kept and hashed; sorted."""
    ordered = published[_COLUMNS].sort_values(_COLUMNS[:-1])
    return str(ordered.to_csv(index=False, lineterminator="\n"))


def content_hash(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def ledger_state(folder: Path) -> str:
    """Return a hash of the ledger as it stands, to notice that it has grown since."""
    path = folder / LEDGER
    return content_hash(path.read_text(encoding="utf-8")) if path.is_file() else ""


def read_ledger(folder: Path, unit: str) -> list[Entry]:
    """Return the unit's earlier releases. Raises ReleaseRefused where one cannot be read."""
    path = folder / LEDGER
    if not path.is_file():
        return []
    found = []
    for number, text in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        try:
            line = json.loads(text)
            is_ours = line["unit"] == unit
            published = _published(folder, line) if is_ours else None
        except (ValueError, KeyError, OSError) as error:
            raise ReleaseRefused(
                f"{path} line {number}: cannot be read with its file of published counts "
                f"({type(error).__name__}); restore both from a backup before you release again."
            ) from None
        if published is not None:
            found.append(Entry(line, published))
    return found


def _published(folder: Path, line: dict[str, Any]) -> pd.DataFrame:
    text = (folder / line["file"]).read_text(encoding="utf-8")
    if content_hash(text) != line["published_sha256"]:
        raise ValueError("the published counts are not those that were released")
    texts = {"measure_id": "str", "stratifier": "str", "stratum": "str"}
    return pd.read_csv(io.StringIO(text), dtype=texts, keep_default_na=False)


@contextmanager
def _locked(folder: Path) -> Iterator[None]:
    lock = folder / "ledger.lock"
    try:
        os.close(os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
    except FileExistsError:
        raise ReleaseRefused(
            f"{lock}: another release is being written; wait for it. If none is running, a "
            "release was cut off: look at the ledger, then take the lock file away."
        ) from None
    try:
        yield
    finally:
        lock.unlink()


def write_entry(
    folder: Path, line: dict[str, Any], published: pd.DataFrame, state: str
) -> dict[str, Any]:
    """Add one release to the ledger and return its line; ``state`` is what it was checked against.

    Raises ReleaseRefused where the ledger has grown since, or cannot be written.
    """
    text = published_text(published)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with _locked(folder):
            if ledger_state(folder) != state:
                raise ReleaseRefused(
                    f"{folder / LEDGER}: has grown since this release was prepared; "
                    "prepare it again."
                )
            return _add(folder, line, text)
    except OSError as error:
        raise ReleaseRefused(f"{folder}: cannot write the ledger ({error.strerror}).") from None
    except StoreError as error:
        raise ReleaseRefused(f"cannot write the ledger: {error}") from None


def _add(folder: Path, line: dict[str, Any], text: str) -> dict[str, Any]:
    path = folder / LEDGER
    before = path.read_text(encoding="utf-8") if path.is_file() else ""
    number = len(before.splitlines()) + 1
    name = f"published_{number:04d}.csv"
    full = {"number": number, **line, "file": name, "published_sha256": content_hash(text)}
    write_whole(folder / name, text)
    write_whole(path, f"{before}{json.dumps(full, sort_keys=True)}\n")
    return full


def compared(entries: Sequence[Entry], every: pd.DataFrame, counts: Sequence[str]) -> pd.DataFrame:
    """Lay what was published before beside what the same cells are now.

    every: rows by CELL with the counts as they are now. Returns CELL, column, count (published),
    now (missing where the months are no longer there) and release (its words); of a cell
    published several times, each.
    """
    if not entries:
        return pd.DataFrame(columns=[*_COLUMNS, "now", "release"])
    before = pd.concat([one.published.assign(release=one.name) for one in entries])
    keys = [name for name in CELL if name != "period_kind"]
    long = every.drop_duplicates(keys).melt(keys, list(counts), "column", "now")
    return before.merge(long, on=[*keys, "column"], how="left")

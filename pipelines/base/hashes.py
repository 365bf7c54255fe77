"""SHA-256 of files: what a build was made from."""

import hashlib
from collections.abc import Iterable, Sequence
from pathlib import Path


def file_hash(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def folder_hash(paths: Iterable[Path]) -> str:
    """Return one SHA-256 over the names and contents of several files."""
    digest = hashlib.sha256()
    for path in sorted(paths):
        digest.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()


def with_own_files(shipped: str, own: Sequence[Path]) -> str:
    """Return the hash of what is shipped, or one over it and the units' own files.

    Where the files lie plays no part, only their folder's and their own name and content.
    """
    if not own:
        return shipped
    each = sorted(f"{path.parent.name}/{path.name} {file_hash(path)}" for path in own)
    return hashlib.sha256("\n".join([shipped, *each]).encode()).hexdigest()

"""SHA-256 of files: what a build was made from."""

import hashlib
from collections.abc import Iterable
from pathlib import Path


def file_hash(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def folder_hash(paths: Iterable[Path]) -> str:
    """Return one SHA-256 over the names and contents of several files."""
    digest = hashlib.sha256()
    for path in sorted(paths):
        digest.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()

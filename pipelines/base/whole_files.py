"""Files that are written whole or not at all."""

import os
from pathlib import Path


def write_whole(path: Path, text: str) -> None:
    """Write a file beside its place and put it there at once: whole, or not at all."""
    beside = path.with_name(f".{path.name}.part")
    with beside.open("w", encoding="utf-8", newline="") as stream:
        stream.write(text)
        stream.flush()
        os.fsync(stream.fileno())
    beside.replace(path)

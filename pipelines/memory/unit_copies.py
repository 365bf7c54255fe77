"""A copy of a unit's file with all that it names, as it stood when a step was taken.

So a store can be built again, and a step undone, though the unit's file has changed since. Kept
once for each content. The key of record keys is never copied: keys are replaced before anything
is kept.
"""

import hashlib
import os
import shutil
from pathlib import Path
from typing import Final

from pipelines.base.errors import StoreError
from pipelines.definitions.own_files import KINDS, own_files
from pipelines.definitions.read_units import Unit, read_unit
from pipelines.definitions.worklist import filled_files

UNITS: Final = "units"
_PLACE: Final = "place.txt"  # of a copy: where in it the unit's file lies
_DEPTH: Final = 4  # folders above a unit's file that a name such as ../answers.csv may reach


def copy_unit(unit: Unit, place: Path) -> str:
    """Copy a unit's file with all that it names into ``place/units``; return the copy's name.

    Raises StoreError where a file that it names lies too far above it, or cannot be read.
    """
    if unit.path is None:
        raise StoreError(f"unit '{unit.id}' was not read from a file, so no step can keep it.")
    above = unit.path.resolve().parent
    contents = {_within(path, above): _read(path) for path in [unit.path, *_named(unit)]}
    digest = hashlib.sha256()
    for inside, content in sorted(contents.items()):
        digest.update(inside.encode() + b"\0" + hashlib.sha256(content).digest())
    name = f"{unit.id}-{digest.hexdigest()[:16]}"
    copy = place / UNITS / name
    for inside, content in contents.items():
        path = copy / inside
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    own = _within(unit.path, above)
    (copy / _PLACE).write_text(own, encoding="utf-8")
    return name


def read_copy(copy: Path) -> Unit:
    """Read a unit from its copy. Raises StoreError where the copy is missing or not whole."""
    try:
        place = (copy / _PLACE).read_text(encoding="utf-8")
    except OSError:
        raise StoreError(
            f"{copy.parent.parent.name}: the copy {copy.name} of a unit's file is missing; bring "
            "the folder of deliveries back beside its store."
        ) from None
    return read_unit(copy / place)


def remove_copies(folder: Path, used: set[str]) -> None:
    """Remove every copy that no step names."""
    for copy in (folder / UNITS).glob("*"):
        if copy.name not in used:
            shutil.rmtree(copy, ignore_errors=True)


def _named(unit: Unit) -> list[Path]:
    """Return the files that a unit's file names or that are found beside it."""
    named = [path for kind in KINDS for path in own_files(unit.path, kind)]
    named += [path for path in (unit.answers, unit.cause_reviews) if path is not None]
    named += filled_files(unit)
    reference = unit.checks.get("size_reference")
    if unit.path is not None and isinstance(reference, str):
        named.append(unit.path.parent / reference)
    return [path for path in named if path.is_file()]


def _within(path: Path, above: Path) -> str:
    """Return where in a copy a file lies: as far from the unit's file as it was."""
    steps = Path(os.path.relpath(path.resolve(), above)).parts
    up = sum(1 for step in steps if step == "..")
    if up > _DEPTH:
        raise StoreError(
            f"{path.name}: lies too far from the unit's file to be kept with a step; put it "
            "beside the unit's file."
        )
    return Path(*["in"] * (_DEPTH - up), *steps[up:]).as_posix()


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise StoreError(f"{path.name}: cannot be read: {error.strerror}.") from None

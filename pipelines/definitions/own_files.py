"""The folder of a unit's own definitions: it lies beside the unit's file and has its name.

``my_unit.toml`` is followed by ``my_unit/`` with ``measures/*.sql``, ``rules/*.sql``,
``column_rules/*.sql`` and ``contract/<table>.toml``. Nothing names the folder: it is found.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.headed_sql import said

# Folder within it -> how its files end.
KINDS: Final = {"measures": ".sql", "rules": ".sql", "column_rules": ".sql", "contract": ".toml"}


@dataclass(frozen=True)
class OwnFile:
    """One file of a unit's own, and the units that bring it."""

    path: Path
    units: tuple[str, ...]

    @property
    def id(self) -> str:
        return self.path.stem


def own_folder(unit_file: Path | None) -> Path | None:
    """Return the folder beside a unit's file that has its name, or None where there is none."""
    if unit_file is None or not unit_file.suffix:
        return None
    folder = unit_file.with_suffix("")
    return folder if folder.is_dir() else None


def own_files(unit_file: Path | None, kind: str) -> list[Path]:
    """Return a unit's own files of one of ``KINDS``, by name.

    Raises DeclarationError where a file lies where nothing would find it.
    """
    folder = own_folder(unit_file)
    if folder is None:
        return []
    _refuse_misplaced(folder)
    return _visible(folder / kind, KINDS[kind])


def _visible(folder: Path, ending: str) -> list[Path]:
    # Some systems lay a hidden file beside each that was copied.
    return [path for path in sorted(folder.glob(f"*{ending}")) if not path.name.startswith(".")]


def _refuse_misplaced(folder: Path) -> None:
    """A file in a folder with a slip in its name would be passed over in silence."""
    for path in _visible(folder, ".sql"):
        raise DeclarationError(
            f"{folder.name}/{path.name}: lies in no folder of its kind; put it into "
            "measures/, rules/ or column_rules/."
        )
    for inner in sorted(one for one in folder.iterdir() if one.is_dir()):
        for path in (one for ending in (".sql", ".toml") for one in _visible(inner, ending)):
            if inner.name not in KINDS:
                if path.suffix == ".sql":
                    raise DeclarationError(
                        f"{said(path)}: no file is looked for there.{nearest(inner.name, KINDS)}"
                    )
            elif path.suffix != KINDS[inner.name]:
                raise DeclarationError(
                    f"{said(path)}: a file of {inner.name} ends in {KINDS[inner.name]}."
                )


def together(kind: str, units: Iterable[tuple[str, Path | None]]) -> list[OwnFile]:
    """Return the own files of several units, each once; ``units`` are (id, file).

    Two units may bring the same file. Raises DeclarationError where two differ under one name.
    """
    found: dict[str, OwnFile] = {}
    for unit, unit_file in units:
        for path in own_files(unit_file, kind):
            before = found.get(path.stem)
            if before is not None and before.path.read_bytes() != path.read_bytes():
                raise DeclarationError(
                    f"{said(path)} and {said(before.path)} differ and have one name: a store "
                    "holds each name once. Give one of them another name, or make them the same."
                )
            units_of = (*before.units, unit) if before else (unit,)
            found[path.stem] = OwnFile(before.path if before else path, units_of)
    return list(found.values())

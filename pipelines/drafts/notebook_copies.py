"""Copies of the notebooks for a folder of one's own, ready to open on a store of one's own.

The notebooks themselves lie in the program, where nobody edits; a copy is the reader's.
"""

import json
from pathlib import Path
from typing import Any, Final

from pipelines.base.errors import StoreError, nearest
from pipelines.base.sql import ROOMS
from pipelines.base.store_file import open_store
from pipelines.base.whole_files import whole_folder, write_whole
from pipelines.drafts.dictionary import dictionary_text

NOTEBOOKS: Final = ROOMS.parent / "notebooks"
START: Final = "start.ipynb"
_DICTIONARY: Final = "dictionary.md"
_DICTIONARY_HERE: Final = "../pipelines/definitions/dictionary.md"


def units_of(store: Path) -> list[str]:
    """Return the ids of a store's units. Raises StoreError where there is no such store."""
    with open_store(store) as connection:
        return [str(row[0]) for row in connection.execute("from unit_info select unit").fetchall()]


def write_notebooks(out: Path, store: Path, unit: str | None) -> list[Path]:
    """Lay a copy of each notebook and the dictionary into a new folder; return the notebooks.

    Their parameters point at ``store`` and, where given, at ``unit``. The start notebook comes
    first. Raises StoreError where the folder holds something or cannot be written.
    """
    names = sorted(
        (path.name for path in NOTEBOOKS.glob("*.ipynb")), key=lambda name: name != START
    )
    values = {"store": str(store.resolve()), **({"unit": unit} if unit else {})}
    with whole_folder(out) as folder:
        for name in names:
            text = (NOTEBOOKS / name).read_text(encoding="utf-8")
            write_whole(folder / name, _pointed(text, values))
        write_whole(folder / _DICTIONARY, dictionary_text())
    return [out / name for name in names]


def _pointed(text: str, values: dict[str, str]) -> str:
    """Return a notebook whose parameters have these values and whose links stay in the folder."""
    notebook = json.loads(text.replace(_DICTIONARY_HERE, _DICTIONARY))
    for cell in notebook["cells"]:
        if "parameters" in cell["metadata"].get("tags", []):
            cell["source"] = [_set(line, values) for line in _lines(cell)]
    return json.dumps(notebook, ensure_ascii=False, indent=1) + "\n"


def _lines(cell: dict[str, Any]) -> list[str]:
    return "".join(cell["source"]).splitlines(keepends=True)


def _set(line: str, values: dict[str, str]) -> str:
    name, equals, _ = line.partition(" = ")
    if not equals or name not in values:
        return line
    # A JSON string is a Python string as well.
    said = f"{name} = {json.dumps(values[name], ensure_ascii=False)}"
    return said + ("\n" if line.endswith("\n") else "")


def chosen_unit(store: Path, unit: str | None) -> str:
    """Return the unit, or the store's first. Raises StoreError where the store has it not."""
    known = units_of(store)
    if unit is not None and unit not in known:
        raise StoreError(f"unit '{unit}' is not in this store.{nearest(unit, known)}")
    return unit or known[0]

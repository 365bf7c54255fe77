"""SQL files that carry their own header: measures and rules are both read here.

A file is ``/*`` TOML ``*/`` followed by exactly one select.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.one_select import refuse_more
from pipelines.base.sql import ROOMS

_SHIPPED: Final = (ROOMS, ROOMS.parent / "expectations")


@dataclass(frozen=True)
class HeadedSql:
    """The header (parsed TOML), the select, and the file they came from."""

    path: Path
    header: Mapping[str, Any]
    sql: str


def said(path: Path) -> str:
    """Name a file by its folder; one of a unit's own also by the folder that is named as the unit.

    >>> said(Path("measures/vitamin_k.sql"))
    'measures/vitamin_k.sql'
    """
    above = path.parent.parent
    is_own = above.name != "" and above.with_name(f"{above.name}.toml").is_file()
    return (
        f"{above.name}/{path.parent.name}/{path.name}"
        if is_own
        else (f"{path.parent.name}/{path.name}")
    )


def read_headed_sql(path: Path, known: set[str], needed: set[str]) -> HeadedSql:
    """Read one file and check its top-level header keys.

    Raises DeclarationError naming the file and the key.
    """
    where = said(path)
    if not path.is_file():  # a pipe or a device could be read for ever
        raise DeclarationError(f"{where}: is not a file that can be read.")
    try:
        text = path.read_text(encoding="utf-8").lstrip()
    except UnicodeDecodeError:
        raise DeclarationError(f"{where}: not text in UTF-8; save it as UTF-8.") from None
    if not text.startswith("/*") or "*/" not in text:
        raise DeclarationError(f"{where}: must begin with a header between /* and */.")
    head, sql = text[2:].split("*/", 1)
    try:
        header = _parsed(head)
    except tomllib.TOMLDecodeError as error:
        raise DeclarationError(f"{where}: the header is not valid TOML: {error}.") from None
    except (RecursionError, ValueError):
        raise DeclarationError(f"{where}: the header holds what is too deep or long.") from None
    for key in header:
        if key not in known:
            raise DeclarationError(f"{where}: key '{key}' is not known.{nearest(key, known)}")
    for key in sorted(needed):
        if key not in header:
            raise DeclarationError(f"{where}: key '{key}' is missing; add it to the header.")
    sql = sql.strip().rstrip(";").strip()
    if not sql:
        raise DeclarationError(f"{where}: there is no select after the header.")
    # What ships is held to it by a test, and not read twice at every start.
    if not any(path.is_relative_to(one) for one in _SHIPPED):
        refuse_more(where, sql)
    return HeadedSql(path, header, sql)


@cache
def _parsed(head: str) -> Mapping[str, Any]:
    # By its text: a file that was edited since is another header.
    return tomllib.loads(head)


def read_pipe_table(text: str) -> list[dict[str, str | None]]:
    """Read a small table written with pipes; a blank cell is None.

    >>> read_pipe_table("a | b\\n1 |\\n")
    [{'a': '1', 'b': None}]
    """
    lines = [line for line in text.strip().splitlines() if line.strip()]
    names = [name.strip() for name in lines[0].split("|")]
    rows = []
    for line in lines[1:]:
        cells = [cell.strip() or None for cell in line.split("|")]
        if len(cells) != len(names):
            raise DeclarationError(
                f"example table: '{line.strip()}' has {len(cells)} cells where the head "
                f"'{lines[0].strip()}' has {len(names)}."
            )
        rows.append(dict(zip(names, cells, strict=True)))
    return rows

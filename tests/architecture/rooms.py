"""The table of rooms, and the two places that are written from it.

``python -m tests.architecture.rooms --write`` writes the table of DEVELOPERS.md and the head of
every room; without ``--write`` it prints the table.
"""

import ast
import re
import sys
import textwrap
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
ROOMS: dict[str, dict[str, Any]] = tomllib.loads(
    Path(__file__).with_name("rooms.toml").read_text(encoding="utf-8")
)
TOP = ("pipelines", "expectations", "synthetic_data")
OPEN, CLOSE = "<!-- rooms: written from tests/architecture/rooms.toml -->", "<!-- /rooms -->"
# A call whose first text names a file of a room: fixed SQL, a query, a template.
_NAMES_A_FILE = {"fixed_sql", "query", "part"}


def folder_of(room: str) -> Path:
    """Return the folder (or, for the command line, the module) in which a room lives."""
    if room in TOP:
        return ROOT / room
    inside = ROOT / "pipelines" / room
    return inside if inside.is_dir() else inside.with_suffix(".py")


def room_of(parts: tuple[str, ...]) -> str | None:
    """Return the room of a path below the root, or of a module's name; None for what has none."""
    if not parts or parts[0] not in TOP:
        return None
    if parts[0] != "pipelines":
        return parts[0]
    inside = parts[1:]
    for length in (2, 1):
        name = "/".join(inside[:length])
        if name in ROOMS:
            return name
    return "verbs" if inside[:1] in {("cli",), ("verbs",), ("delivery_verbs",)} else None


def modules() -> list[Path]:
    """Return every module of the product, as a path below the root."""
    return [path.relative_to(ROOT) for top in TOP for path in sorted((ROOT / top).rglob("*.py"))]


def _imported(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def _files_named(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        name = node.func.id if isinstance(node.func, ast.Name) else name
        if name in _NAMES_A_FILE:
            for argument in node.args[:2]:
                text = argument.values[0] if isinstance(argument, ast.JoinedStr) else argument
                if isinstance(text, ast.Constant) and "/" in str(text.value):
                    yield str(text.value)


def arrows(path: Path) -> set[str]:
    """Return the rooms that a module uses: by import, by a query's name or by a template's."""
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    used = {room_of(tuple(name.split("."))) for name in _imported(tree)}
    used |= {room_of(("pipelines", *name.split("/"))) for name in _files_named(tree)}
    return {room for room in used if room} - {room_of(path.with_suffix("").parts)}


def module_graph() -> dict[str, set[str]]:
    """Return module -> the modules of ours that it imports, wherever in it the import stands."""
    names = {".".join(path.with_suffix("").parts).removesuffix(".__init__") for path in modules()}
    graph: dict[str, set[str]] = {}
    for path in modules():
        own = ".".join(path.with_suffix("").parts).removesuffix(".__init__")
        tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
        # ``from a import b``: the module a.b where there is one, else a.
        found = {name if name in names else name.rpartition(".")[0] for name in _imported(tree)}
        graph[own] = (found & names) - {own}
    return graph


def table() -> str:
    """Return the table of rooms as Markdown."""
    lines = ["| room | what lives there | may use | edited by |", "|---|---|---|---|"]
    for room, spec in ROOMS.items():
        where = f"`{folder_of(room).relative_to(ROOT).as_posix()}`"
        may = ", ".join(spec["may_use"]) or "nothing of ours"
        lines.append(f"| {where} | {spec['holds']} | {may} | {spec['edited_by']} |")
    return "\n".join(lines)


def head(room: str) -> str:
    """Return the three lines at the top of a room."""
    spec = ROOMS[room]
    may = ", ".join(spec["may_use"]) or "nothing of ours"
    use = textwrap.fill(f"May use: {may}.", 98, break_on_hyphens=False)
    return f"{textwrap.fill(spec['holds'], 96)}\n\n{use}\nEdited by: {spec['edited_by']}."


def _write() -> None:
    guide = ROOT / "DEVELOPERS.md"
    text = guide.read_text(encoding="utf-8")
    between = re.compile(re.escape(OPEN) + r".*?" + re.escape(CLOSE), re.S)
    guide.write_text(between.sub(lambda _: f"{OPEN}\n{table()}\n{CLOSE}", text), encoding="utf-8")
    for room in ROOMS:
        if folder_of(room).is_dir():
            path = folder_of(room) / "__init__.py"
            old = path.read_text(encoding="utf-8") if path.is_file() else ""
            rest = re.sub(r'\A\s*""".*?"""\n', "", old, flags=re.S)
            path.write_text(f'"""{head(room)}\n"""\n{rest}', encoding="utf-8")


if __name__ == "__main__":
    if "--write" in sys.argv:
        _write()
    print(table())

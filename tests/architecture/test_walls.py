"""The walls of the house: which room may use which, for Python, SQL and templates alike."""

import ast
import re
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

from .rooms import (
    CLOSE,
    OPEN,
    ROOMS,
    ROOT,
    TOP,
    arrows,
    folder_of,
    head,
    module_graph,
    modules,
    room_of,
    table,
)

PAGES = [room for room in ROOMS if room.startswith("pages/") and room != "pages/shell"]
TEMPLATES = sorted((ROOT / "pipelines").rglob("*.html.j2"))


def test_a_room_uses_only_rooms_above_it() -> None:
    above: list[str] = []
    for room, spec in ROOMS.items():
        assert set(spec["may_use"]) <= set(above), room
        above.append(room)


@pytest.mark.parametrize("path", modules(), ids=lambda path: path.as_posix())
def test_a_module_keeps_to_the_walls_of_its_room(path: Path) -> None:
    room = room_of(path.with_suffix("").parts)
    if room is None:
        assert path.name == "__init__.py", f"{path} is in no room of rooms.toml"
        assert arrows(path) == set()
        return
    beyond = arrows(path) - set(ROOMS[room]["may_use"])
    assert not beyond, f"{path} uses {sorted(beyond)}, which {room} may not"


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_a_template_keeps_to_the_walls_of_its_room(path: Path) -> None:
    room = room_of(path.relative_to(ROOT).parts)
    assert room is not None
    named = re.findall(r'{%-? *(?:from|include|import|extends) "([\w/]+)"', path.read_text())
    used = {room_of(("pipelines", *name.split("/"))) for name in named} - {room}
    assert used <= set(ROOMS[room]["may_use"]), path


def test_the_release_reaches_no_page_in_any_number_of_steps() -> None:
    reached, waiting = set[str](), ["release"]
    while waiting:
        room = waiting.pop()
        used = {
            one
            for path in modules()
            if room_of(path.with_suffix("").parts) == room
            for one in arrows(path)
        }
        waiting += sorted(used - reached)
        reached |= used
    assert "drawing" in reached, "the walk found nothing"
    assert not reached & {*PAGES, "files", "build"}


def test_no_module_imports_in_a_circle() -> None:
    try:
        tuple(TopologicalSorter(module_graph()).static_order())
    except CycleError as error:
        pytest.fail(" -> ".join(error.args[1]))


def test_the_ground_of_the_house_holds_four_modules_at_most() -> None:
    assert len(list((ROOT / "pipelines").glob("*.py"))) <= 4


def test_no_folder_and_module_share_a_name() -> None:
    for top in TOP:
        for folder in (path for path in (ROOT / top).rglob("*") if path.is_dir()):
            assert not folder.with_suffix(".py").exists(), folder


@pytest.mark.parametrize("room", PAGES)
def test_every_page_and_section_names_its_files_alike(room: str) -> None:
    """``read``, ``words``, ``charts``, ``sections``, ``page``; what is more has its own name."""
    for folder in (folder_of(room), *(p for p in folder_of(room).iterdir() if p.is_dir())):
        if folder.name in {"sql", "parts", "__pycache__"} or room == "pages/start":
            continue
        found = {path.name for path in folder.glob("*.py")}
        assert {"read.py", "sections.py"} <= found, folder
        used = {path.name for path in folder.iterdir() if path.is_dir()} - {"__pycache__"}
        if folder == folder_of(room):
            # index and meeting sheet have no figure of their own to read
            reads = room not in {"pages/index", "pages/meeting"}
            own = {"page.py", "parts"} | ({"sql"} if reads else set())
            assert own <= found | used, folder


def test_a_room_holds_its_sql_and_templates_under_fixed_names() -> None:
    for path in (ROOT / "pipelines").rglob("*.sql"):
        assert path.parent.name == "sql" or "definitions" in path.parts, path
    for path in TEMPLATES:
        assert path.parent.name in {"parts", "template"}, path


@pytest.mark.parametrize("room", [room for room in ROOMS if folder_of(room).is_dir()])
def test_a_room_says_at_its_top_what_it_is(room: str) -> None:
    text = (folder_of(room) / "__init__.py").read_text(encoding="utf-8")
    said = ast.get_docstring(ast.parse(text))
    assert said == head(room), "run: python -m tests.architecture.rooms --write"


def test_the_guide_holds_the_table_of_rooms() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    told = text.split(OPEN, 1)[1].split(CLOSE, 1)[0].strip()
    assert told == table(), "run: python -m tests.architecture.rooms --write"

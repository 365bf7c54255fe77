"""Nothing in statistics is there for its tests alone: every name is on a way to a page.

Names are followed through the source. The ways begin at what the rest of the product (every
module outside statistics, every code cell of a notebook, the generator) takes from statistics,
and go on through what those functions use themselves. A method counts as used where any code on
a way, or outside, has an attribute of its name.
"""

import ast
import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = "pipelines.statistics"
PRODUCT = ("pipelines", "expectations", "synthetic_data", "notebooks")
Place = tuple[str, str]  # module within statistics, name


@dataclass
class Used:
    """What a piece of code takes from statistics, and every attribute it reads."""

    places: set[Place] = field(default_factory=set)
    attributes: set[str] = field(default_factory=set)


def imports(tree: ast.AST) -> tuple[dict[str, str], dict[str, Place]]:
    """Return (local name -> module of statistics, local name -> name in a module)."""
    modules: dict[str, str] = {}
    names: dict[str, Place] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module == PACKAGE:
            modules |= {one.asname or one.name: one.name for one in node.names}
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith(f"{PACKAGE}."):
            module = str(node.module).removeprefix(f"{PACKAGE}.")
            names |= {one.asname or one.name: (module, one.name) for one in node.names}
        elif isinstance(node, ast.Import):
            wrong = [one.name for one in node.names if one.name.startswith(PACKAGE)]
            assert not wrong, f"write 'from {PACKAGE} import ...', which this test can follow"
    return modules, names


def used(tree: ast.AST, modules: dict[str, str], names: dict[str, Place]) -> Used:
    """Follow the names of one piece of code."""
    found = Used()
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute):
            found.attributes.add(node.attr)
            if isinstance(node.value, ast.Name) and node.value.id in modules:
                found.places.add((modules[node.value.id], node.attr))
        elif isinstance(node, ast.Name) and node.id in names:
            found.places.add(names[node.id])
    return found


def defined(module: str, tree: ast.Module) -> Iterator[tuple[Place, ast.AST]]:
    """Yield every name of a module's top level with the code behind it; methods apart."""
    for node in tree.body:
        if isinstance(node, ast.ClassDef):
            methods = [one for one in node.body if isinstance(one, ast.FunctionDef)]
            own = [one for one in methods if not one.name.startswith("__")]
            rest = [one for one in node.body if one not in own]
            bare = [*node.bases, *node.decorator_list, *rest]
            yield (module, node.name), ast.Module(bare, [])  # type: ignore[arg-type]
            for one in own:
                yield (module, f"{node.name}.{one.name}"), one
        elif isinstance(node, ast.FunctionDef):
            yield (module, node.name), node
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            for target in targets:
                if isinstance(target, ast.Name):
                    yield (module, target.id), node


def statistics(sources: dict[str, str]) -> dict[Place, Used]:
    """Return what each name of statistics uses itself; ``sources``: module -> its text."""
    uses: dict[Place, Used] = {}
    for module, text in sources.items():
        tree = ast.parse(text)
        modules, names = imports(tree)
        parts = dict(defined(module, tree))
        names |= {name: (module, name) for _, name in parts}
        uses |= {place: used(part, modules, names) for place, part in parts.items()}
    return uses


def unreached(sources: dict[str, str], outside: list[str]) -> list[str]:
    """Return the names of statistics to which no way leads from ``outside`` (texts)."""
    uses = statistics(sources)
    places: set[Place] = set()
    attributes: set[str] = set()
    for text in outside:
        tree = ast.parse(text)
        first = used(tree, *imports(tree))
        places |= first.places
        attributes |= first.attributes
    done: set[Place] = set()
    while places - done:
        for place in places - done:
            done.add(place)
            step = uses.get(place, Used())
            places |= step.places
            attributes |= step.attributes
        places |= {at for at in uses if _is_called(at, done, attributes)}
    return sorted(".".join(at) for at in uses if at not in done)


def _is_called(place: Place, done: set[Place], attributes: set[str]) -> bool:
    """Say whether a place is a method of a class on a way, and something reads its name."""
    owner, _, method = place[1].rpartition(".")
    return (place[0], owner) in done and method in attributes


def cells(path: Path) -> str:
    """Return the code of a notebook, without lines that are no Python."""
    book = json.loads(path.read_text(encoding="utf-8"))
    lines = [
        line.rstrip("\n")
        for cell in book["cells"]
        if cell["cell_type"] == "code"
        for line in "".join(cell["source"]).splitlines()
    ]
    return "\n".join(line for line in lines if not line.lstrip().startswith(("%", "!")))


def shipped() -> tuple[dict[str, str], list[str]]:
    """Return the texts of statistics by module, and of everything else that ships."""
    home = ROOT.joinpath(*PACKAGE.split("."))
    inside = sorted(home.glob("*.py"))
    outside = [
        path
        for folder in PRODUCT
        for path in sorted((ROOT / folder).rglob("*.py"))
        if path not in inside
    ]
    texts = [path.read_text(encoding="utf-8") for path in outside]
    texts += [cells(path) for path in sorted((ROOT / "notebooks").glob("*.ipynb"))]
    return {path.stem: path.read_text(encoding="utf-8") for path in inside}, texts


def test_every_name_of_statistics_is_on_a_way_to_a_page() -> None:
    sources, outside = shipped()
    assert len(sources) > 10 and len(outside) > 50
    left = unreached(sources, outside)
    assert not left, (
        f"only tests reach {', '.join(left)}: use it on a page, take it out, or, where it is an "
        "outside fact that tests hold the product to, move it to tests/statistics/."
    )


SOURCES = {
    "one": "from pipelines.statistics.two import deep\n"
    "LEVEL = 3\nUNUSED = 4\n"
    "class Law:\n    def told(self): return deep()\n    def untold(self): return lost()\n"
    "def law(): return Law()\n"
    "def lost(): return LEVEL\n",
    "two": "from pipelines.statistics import one\n"
    "def deep(): return one.LEVEL\ndef _private(): return aside()\ndef aside(): return 1\n",
}


@pytest.mark.parametrize(
    ("outside", "left"),
    [
        (
            "from pipelines.statistics import one\nprint(one.law().told())\n",
            ["one.Law.untold", "one.UNUSED", "one.lost", "two._private", "two.aside"],
        ),
        (
            "from pipelines.statistics.one import law as rule, UNUSED\nrule().untold(), UNUSED\n",
            ["one.Law.told", "two._private", "two.aside", "two.deep"],
        ),
    ],
)
def test_the_following_finds_what_no_way_leads_to(outside: str, left: list[str]) -> None:
    assert unreached(SOURCES, [outside]) == left

"""What a chart encodes is given as a channel: a bare text costs a search of a whole schema.

One such text takes the chart library about 3 ms, its channel 0.05: ``layers.as_channel``.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
DRAWING = sorted(
    path
    for path in (ROOT / "pipelines").rglob("*.py")
    if "import altair as alt" in path.read_text("utf-8")
)


def _given(value: ast.expr) -> Iterator[ast.expr]:
    """Yield what a channel may be, looking into choices and lists but into no call."""
    if isinstance(value, ast.IfExp):
        yield from _given(value.body)
        yield from _given(value.orelse)
    elif isinstance(value, ast.List | ast.Tuple):
        for one in value.elts:
            yield from _given(one)
    else:
        yield value


def searched_for(text: str) -> Iterator[str]:
    """Yield the channels of every ``encode`` that are a text, a value or a condition as it is."""
    tree = ast.parse(text)
    # ``alt.condition`` is given by name: kept in a variable, then encoded.
    named = {
        target.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign) and _is_bare(node.value)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
            continue
        if node.func.attr != "encode":
            continue
        for keyword in node.keywords:
            for one in _given(keyword.value):
                is_text = isinstance(one, ast.Constant) and isinstance(one.value, str)
                is_named = isinstance(one, ast.Name) and one.id in named
                if is_text or is_named or _is_bare(one):
                    yield f"{keyword.arg}={ast.unparse(one)}"


def _is_bare(value: ast.expr) -> bool:
    return isinstance(value, ast.Call) and ast.unparse(value.func) in {
        "alt.value",
        "alt.condition",
    }


def test_there_are_files_that_draw() -> None:
    assert len(DRAWING) > 10


@pytest.mark.parametrize("path", DRAWING, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_every_channel_is_given_as_one(path: Path) -> None:
    assert not list(searched_for(path.read_text("utf-8")))


@pytest.mark.parametrize(
    "bare",
    [
        "mark.encode(x2='upper:Q')",
        "mark.encode(x=x if is_own else 'start:T')",
        "mark.encode(tooltip=['Observed:N'])",
        "mark.encode(x2=alt.value(3))",
        "fill = alt.condition('datum.few', a, b)\nmark.encode(fill=fill)",
    ],
)
def test_each_way_to_forget_it_is_found(bare: str) -> None:
    assert list(searched_for(bare))

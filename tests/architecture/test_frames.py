"""Frames that cross a room have declared columns, and no row is read past a declaration."""

import ast
import importlib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, NotRequired, TypedDict

import pandas as pd
import pytest

from pipelines.base import frames
from pipelines.base.frames import FrameError, checked, columns_of, mistakes, rows_of, units_of
from pipelines.pages.change.read import read_change
from pipelines.pages.fair.compare.read import read_compare
from pipelines.pages.fair.read import read_fair
from pipelines.pages.quality import read as quality
from pipelines.pages.quality.last_digits import heaps
from pipelines.pages.quality.words import worklist
from pipelines.pages.review.read import read_review
from pipelines.pages.review.records import records_to_read, unit_matters
from pipelines.pages.review.timing.read import read_timing
from pipelines.pages.review.why.read import read_why
from pipelines.release.page import shown_rows
from pipelines.release.prepare import prepare_release
from tests.conftest import Built
from tests.pages.make_store import UNIT, make_store

from .rooms import ROOT, modules

Row = type[Mapping[str, object]]
DECLARING = [path for path in modules() if "TypedDict" in (ROOT / path).read_text("utf-8")]
# Reads a row of a frame without a declaration; ``iloc`` of one place gives such a row, too.
UNTYPED = {"to_dict", "iterrows", "plain_rows"}
READERS = ("pages", "words", "release")  # a drawing's own points stay inside it


class Small(TypedDict):
    """One row per unit."""

    unit: Annotated[str, "id"]
    births: Annotated[int, "live births"]
    rate: Annotated[float | None, "share"]
    look_at: NotRequired[list[str]]


SMALL = pd.DataFrame({"unit": ["a", "b"], "births": [1, 2], "rate": [0.5, None]})


def test_a_frame_as_declared_is_given_back() -> None:
    assert checked(SMALL, Small) is SMALL
    assert checked(SMALL.assign(look_at=[["x"], ["y"]]), Small) is not None
    assert checked(SMALL.head(0), Small).empty
    assert units_of(Small) == {
        "unit": "id", "births": "live births", "rate": "share", "look_at": "",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("frame", "words"),
    [
        (SMALL.drop(columns="births"), "column 'births' is missing"),
        (SMALL.assign(more=1), "column 'more' is not declared"),
        (SMALL.assign(births=["1", "2"]), "column 'births' is str, not int"),
        (SMALL.assign(births=[1.5, 2.0]), "column 'births' is float64, not int"),
        (SMALL.assign(rate="0.5"), "column 'rate' is str, not float"),
        (SMALL.assign(unit=[1, 2]), "column 'unit' is int64, not str"),
        (SMALL.assign(unit=["a", None]), "column 'unit' has 1 missing values"),
        (SMALL.assign(look_at="x"), "column 'look_at' is str, not list"),
    ],
)
def test_a_frame_of_other_columns_is_refused_in_words(frame: pd.DataFrame, words: str) -> None:
    with pytest.raises(FrameError, match=f"Small: {words}"):
        checked(frame, Small)


def test_rows_hold_the_declared_columns_as_plain_python() -> None:
    rows = rows_of(SMALL.assign(more=1), Small)
    assert rows == [
        {"unit": "a", "births": 1, "rate": 0.5},
        {"unit": "b", "births": 2, "rate": None},
    ]
    assert all(type(row["births"]) is int for row in rows)
    with pytest.raises(FrameError, match="Small: no column births"):
        rows_of(SMALL.drop(columns="births"), Small)


def _declared() -> Iterator[tuple[str, Row]]:
    """Give every row that a module of the product declares."""
    for path in DECLARING:
        module = importlib.import_module(".".join(path.with_suffix("").parts))
        for name, one in vars(module).items():
            if hasattr(one, "__required_keys__") and one.__module__ == module.__name__:
                yield f"{module.__name__}.{name}", one


@pytest.mark.parametrize(("name", "row"), list(_declared()), ids=str)
def test_every_declaration_says_its_grain_and_a_type_that_can_be_checked(
    name: str, row: Row
) -> None:
    assert row.__doc__, name
    empty = pd.DataFrame(columns=list(columns_of(row)))
    assert mistakes(empty, row) == []


def _untyped(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Give the places where a row of no declaration is made or taken: (line, what)."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Subscript) and ast.unparse(node).endswith(
            ("Mapping[Any, Any]", "dict[Any, Any]")
        ):
            yield node.lineno, ast.unparse(node)
        if isinstance(node, ast.Call):
            called = ast.unparse(node.func).rpartition(".")[2]
            is_rows = called != "to_dict" or bool(node.args)
            if called in UNTYPED and is_rows:
                yield node.lineno, ast.unparse(node)
            if called == "rows_of" and len(node.args) < 2:
                yield node.lineno, ast.unparse(node)


def _bare_rows(function: ast.AST) -> Iterator[tuple[int, str]]:
    """Give ``row["name"]`` where ``row`` is one place of a frame: ``frame.iloc[0]``."""
    names = set()
    for node in ast.walk(function):
        if isinstance(node, ast.Assign):
            told = node.targets[0]
            many = isinstance(told, ast.Tuple) and isinstance(node.value, ast.Tuple)
            pairs = zip(told.elts, node.value.elts, strict=False) if many else [(told, node.value)]
            names |= {name.id for name, value in pairs if _is_one_place(value) and _is_name(name)}
    for node in ast.walk(function):
        is_taken = isinstance(node, ast.Subscript) and isinstance(node.slice, ast.Constant)
        if is_taken and isinstance(node.slice.value, str) and ast.unparse(node.value) in names:
            yield node.lineno, ast.unparse(node)


def _is_name(node: ast.AST) -> bool:
    return isinstance(node, ast.Name)


def _is_one_place(node: ast.AST) -> bool:
    is_iloc = isinstance(node, ast.Subscript) and ast.unparse(node.value).endswith(".iloc")
    return is_iloc and not isinstance(node.slice, ast.Slice | ast.List | ast.Tuple)


def _of(path: Path) -> list[str]:
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    found = list(_untyped(tree))
    if path.parts[1] in READERS:
        functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
        found += [place for one in functions for place in _bare_rows(one)]
    return [f"{path}:{line}: {what}" for line, what in found]


def test_no_row_is_read_past_a_declaration() -> None:
    # A chart's data go to the picture as they are: no column of them is named in Python.
    own = {Path("pipelines/base/frames.py"), Path("pipelines/drawing/theme.py")}
    paths = [path for path in modules() if path.parts[0] == "pipelines" and path not in own]
    assert [place for path in paths for place in _of(path)] == []


def test_such_rows_are_found() -> None:
    """The search itself, on a few lines that it must refuse and one that it must let pass."""
    bad = (
        "def f(row: Mapping[Any, Any]): ...",
        "for row in frame.to_dict('records'): print(row['x'])",
        "rows = rows_of(frame)",
        "for name, row in frame.iterrows(): print(row['x'])",
        "rows = plain_rows(frame)",
    )
    assert [line for line in bad if not list(_untyped(ast.parse(line)))] == []
    series = "def f():\n    first, last = a.iloc[0], a.iloc[-1]\n    return last['x']"
    assert [what for _, what in _bare_rows(ast.parse(series))] == ["last['x']"]
    good = "def f(row: MeasureRow):\n    own = a.iloc[1:]\n    return rows_of(own, Row), own['x']"
    assert not [*_untyped(ast.parse(good)), *_bare_rows(ast.parse(good))]


@pytest.fixture(scope="module")
def seen(
    clean: Built, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[list[tuple[pd.DataFrame, Row]]]:
    """Give every frame that the pages of two stores check where they make it."""
    found: list[tuple[pd.DataFrame, Row]] = []

    def note(frame: pd.DataFrame, row: Row) -> pd.DataFrame:
        found.append((frame, row))
        return checked(frame, row)

    patch = pytest.MonkeyPatch()
    for path in modules():
        if path.parts[0] == "pipelines" and "checked(" in (ROOT / path).read_text("utf-8"):
            module = importlib.import_module(".".join(path.with_suffix("").parts))
            if getattr(module, "checked", None) is checked and module is not frames:
                patch.setattr(module, "checked", note)
    fake = make_store(tmp_path_factory.mktemp("frames") / "fake.duckdb")
    for store, unit in ((clean.store, "quillmere"), (fake, UNIT)):
        _read_all(store, unit)
    fair = read_fair(clean.store, "quillmere")
    read_compare(clean.store, fair)
    yield found
    patch.undo()


def _read_all(store: Path, unit: str) -> None:
    review = read_review(store, unit)
    records_to_read(review)
    unit_matters(review)
    read_timing(store, review)
    read_why(store, review)
    data = quality.read_quality(store, unit)
    quality.moved(data)
    quality.unmapped(data)
    worklist(data)
    heaps(data)
    read_change(store, unit)
    shown_rows(prepare_release(store, unit))


def test_every_frame_of_a_page_is_as_declared(seen: list[tuple[pd.DataFrame, Row]]) -> None:
    """Names, types and what may be missing, of a built and of a fabricated store."""
    wrong = {f"{row.__name__}: {said}" for frame, row in seen for said in mistakes(frame, row)}
    assert wrong == set()

"""Data flows one way: a model reads only stages to its left, never a sibling of its own."""

import ast
import re
from pathlib import Path

import pytest
import sqlglot
from sqlglot import exp

from pipelines.definitions.read_measures import (
    MEASURES_DIR,
    SHARED_DIR,
    read_measure,
    shared_facts,
    with_shared,
)
from pipelines.definitions.states import STATES

ROOT = Path(__file__).parents[2]
STAGES = ("raw", "typed", "judged", "mart", "measure")
FIXED = sorted((ROOT / "pipelines").glob("**/sql/*.sql"))
RULES = sorted((ROOT / "expectations" / "rules").glob("*.sql"))
MEASURES = sorted(MEASURES_DIR.glob("*.sql"))
SHARED = sorted(SHARED_DIR.glob("*.sql"))


def tables_read(sql: str) -> set[tuple[str, str]]:
    """Return (schema, table) of every table that a statement reads, not those it creates."""
    read: set[tuple[str, str]] = set()
    for statement in sqlglot.parse(sql, read="duckdb"):
        if statement is None:
            continue
        made = {id(table) for table in _made(statement)}
        read |= {
            (table.db, table.name)
            for table in statement.find_all(exp.Table)
            if id(table) not in made and table.db
        }
    return read


def _made(statement: exp.Expression) -> list[exp.Expression]:
    if isinstance(statement, exp.Create | exp.Insert | exp.Update):
        target = statement.this
        found = target if isinstance(target, exp.Table) else target.find(exp.Table)
        return [found] if found is not None else []
    return []


def select_of(path: Path) -> str:
    return path.read_text(encoding="utf-8").split("*/", 1)[1]


@pytest.mark.parametrize("path", FIXED, ids=lambda path: f"{path.parents[1].name}/{path.name}")
def test_fixed_sql_reads_only_to_its_left(path: Path) -> None:
    stage = path.parents[1].name
    if path.parents[2].name != "stages":  # queries of a page read the public views only
        assert {schema for schema, _ in tables_read(path.read_text())} == set()
        return
    allowed = {*STAGES[: STAGES.index(stage) + 1]}
    for schema, table in tables_read(path.read_text()):
        assert schema in allowed, f"{path.name} reads {schema}.{table}"


@pytest.mark.parametrize("path", MEASURES, ids=lambda path: path.stem)
def test_measures_read_the_mart_and_their_setting(path: Path) -> None:
    measure = read_measure(path)
    statements = sqlglot.parse(measure.sql, read="duckdb")
    assert len(statements) == 1
    names = {cte.alias for cte in statements[0].find_all(exp.CTE)}
    for table in statements[0].find_all(exp.Table):
        where = f"{table.db}.{table.name}" if table.db else table.name
        assert where in {"mart.newborn", "mart.event", "mart.way", "setting"} | names, where


@pytest.mark.parametrize("path", SHARED, ids=lambda path: path.stem)
def test_shared_facts_read_the_mart_and_a_setting(path: Path) -> None:
    (statement,) = sqlglot.parse(path.read_text(encoding="utf-8"), read="duckdb")
    assert isinstance(statement, exp.Select | exp.SetOperation)
    names = {cte.alias for cte in statement.find_all(exp.CTE)} | set(shared_facts())
    for table in statement.find_all(exp.Table):
        where = f"{table.db}.{table.name}" if table.db else table.name
        assert where in {"mart.newborn", "mart.event", "mart.way", "setting"} | names, where


@pytest.mark.parametrize("path", SHARED, ids=lambda path: path.stem)
def test_a_shared_fact_says_its_grain_and_what_it_reads_of_a_setting(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.startswith("-- one row per ")
    (statement,) = sqlglot.parse(with_shared(shared_facts()[path.stem]), read="duckdb")
    read = {column.name for column in statement.find_all(exp.Column) if column.table == "setting"}
    found = [line for line in text.splitlines() if line.startswith("-- reads setting: ")]
    said = found[0].removeprefix("-- reads setting: ").split(", ") if found else []
    assert set(said) == read - {"newborn_id"}


@pytest.mark.parametrize("path", SHARED, ids=lambda path: path.stem)
def test_a_shared_fact_is_read_by_more_than_one(path: Path) -> None:
    """Else it belongs into the one select that reads it."""
    selects = [read_measure(one).source.sql for one in MEASURES]
    selects += [shared_facts()[one.stem] for one in SHARED if one != path]
    assert sum(f" {path.stem}" in " ".join(text.split()) for text in selects) > 1


@pytest.mark.parametrize("path", RULES, ids=lambda path: path.stem)
def test_rules_read_typed_only(path: Path) -> None:
    for schema, table in tables_read(select_of(path)):
        assert schema == "typed", f"{path.name} reads {schema}.{table}"


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module.split(".")[0])
    return names


def test_only_expectations_imports_great_expectations() -> None:
    users = {
        path.parent.name
        for folder in ("pipelines", "synthetic_data", "expectations")
        for path in (ROOT / folder).rglob("*.py")
        if "great_expectations" in imported(path)
    }
    assert users == {"expectations"}


def test_pages_and_measures_never_import_the_synthetic_data() -> None:
    users = {
        path.name
        for path in (ROOT / "pipelines").rglob("*.py")
        if "synthetic_data" in imported(path)
    }
    assert users <= {"verbs.py"}


def test_the_store_knows_the_declared_states() -> None:
    text = (ROOT / "pipelines" / "stages" / "measure" / "sql" / "tables.sql").read_text()
    listed = re.search(r"create type measure\.state_name as enum \((.*?)\)", text, re.S)
    assert listed is not None
    assert set(re.findall(r"'(\w+)'", listed[1])) == set(STATES)


def test_no_product_module_inserts_row_by_row() -> None:
    """``executemany`` plans the statement again for each row; ``insert_rows`` plans it once."""
    users = {
        path.name
        for folder in ("pipelines", "synthetic_data", "expectations")
        for path in (ROOT / folder).rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Attribute) and node.attr == "executemany"
    }
    assert users == set()

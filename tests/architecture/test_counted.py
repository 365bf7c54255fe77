"""What a rate counts is said in one place, measure.rate_state, and read everywhere else."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest
import sqlglot
from sqlglot import exp

from pipelines.definitions.read_measures import MEASURES_DIR
from tests.conftest import Built

ROOT = Path(__file__).parents[2]
HOME = ROOT / "pipelines" / "stages" / "measure" / "sql" / "tables.sql"
FIXED = [*sorted((ROOT / "pipelines").glob("**/sql/*.sql")), *sorted(MEASURES_DIR.glob("*.sql"))]
PYTHON = sorted((ROOT / "pipelines").rglob("*.py"))
# What a rate's base is short of, beside exclusions.
TAKEN_AWAY = {"exception", "not_documented", "unusable"}
IN_TEXT = re.compile(rf"-\s*(\w+\.)?({'|'.join(sorted(TAKEN_AWAY))})\b|'left_out'")


def worked_out_in_sql(text: str) -> Iterator[str]:
    """Yield what takes states away from a count, or asks whether a measure leaves unknowns out."""
    sql = text.split("*/", 1)[-1] if text.lstrip().startswith("/*") else text
    for statement in sqlglot.parse(sql, read="duckdb"):
        if statement is None:
            continue
        for literal in statement.find_all(exp.Literal):
            if literal.is_string and literal.this == "left_out":
                yield literal.sql()
        for sub in statement.find_all(exp.Sub):
            if {column.name for column in sub.expression.find_all(exp.Column)} & TAKEN_AWAY:
                yield sub.sql()


def worked_out_in_python(text: str) -> Iterator[str]:
    """Yield the same of Python: on columns of a frame, and of SQL in a text."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Sub):
            names = {one.value for one in ast.walk(node.right) if isinstance(one, ast.Constant)}
            if "exception" in names:
                yield ast.unparse(node)
        elif isinstance(node, ast.JoinedStr):
            parts = [one.value if isinstance(one, ast.Constant) else "x" for one in node.values]
            yield from (found.group() for found in IN_TEXT.finditer("".join(map(str, parts))))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield from (found.group() for found in IN_TEXT.finditer(node.value))


@pytest.mark.parametrize("path", FIXED, ids=lambda path: f"{path.parents[1].name}/{path.name}")
def test_no_sql_but_its_home_works_out_what_a_rate_counts(path: Path) -> None:
    found = list(worked_out_in_sql(path.read_text(encoding="utf-8")))
    assert bool(found) == (path == HOME), found


@pytest.mark.parametrize("path", PYTHON, ids=lambda path: path.name)
def test_no_python_works_out_what_a_rate_counts(path: Path) -> None:
    assert list(worked_out_in_python(path.read_text(encoding="utf-8"))) == []


def test_the_search_finds_what_stood_in_nine_files() -> None:
    """So that the tests above can fail."""
    assert list(worked_out_in_sql("select denominator - result.exception as counted from result"))
    assert list(worked_out_in_sql("select if(missing = 'left_out', 1, 0) as n from measure_info"))
    assert list(worked_out_in_python('base = rows["denominator"] - rows["exception"]'))
    assert list(worked_out_in_python('sql = f"select denominator - {side}.exception from result"'))
    assert list(worked_out_in_python("sql = \"select missing = 'left_out' from measure_info\""))


@pytest.mark.parametrize("view", ["result", "as_recorded"])
def test_a_rate_is_its_numerator_over_those_counted(synthetic: Built, view: str) -> None:
    with duckdb.connect(str(synthetic.store), read_only=True) as store:
        rows = store.execute(f"select * from {view}").df()
    has_rate = rows["rate"].notna()
    assert has_rate.any()
    assert not has_rate.all()
    assert ((rows["counted"] > 0) == has_rate).all()
    some = rows[has_rate]
    assert ((some["numerator"] / some["counted"] - some["rate"]).abs() < 1e-12).all()


def test_those_counted_are_the_rows_of_membership_that_say_so(synthetic: Built) -> None:
    with duckdb.connect(str(synthetic.store), read_only=True) as store:
        differ = store.execute(
            """
            select unit, measure_id, counted, n
            from (
                select unit, measure_id, sum(counted) as counted
                from result
                where period_kind = 'all' and stratifier = 'all newborns'
                group by all
            )
            left join (
                select unit, measure_id, count(*) filter (where is_counted) as n
                from membership
                group by all
            ) using (unit, measure_id)
            where counted <> coalesce(n, 0)
            """
        ).fetchall()
    assert differ == []

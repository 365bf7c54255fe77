"""A file of SQL is one select over the store: it changes nothing and reaches nothing else."""

import json
import re
from collections.abc import Iterator
from typing import Any, Final

import duckdb

from pipelines.base.errors import DeclarationError

_NAME: Final = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
# What stands in "from" and is no table: rows made of a list.
_ROWS: Final = {"unnest", "range", "generate_series"}
_ONE: Final = "write one select and nothing else; it only reads."
# Functions of a select that look at the machine, at settings, or run other SQL.
_REACHES: Final = re.compile(
    r"getenv|current_setting|which_secret|duckdb_\w+|pragma_\w+|query(_table)?|nextval|currval"
    r"|(read|write|sniff|parquet|sqlite|postgres|mysql|iceberg|delta|http)_\w+|glob|getvariable"
)


def refuse_more(where: str, sql: str) -> None:
    """Hold SQL to one select over tables of the store.

    Raises DeclarationError naming the file and what else it does: several statements, one that is
    no select, a table that is a file, a function that reads one, a select that calls itself.
    """
    with duckdb.connect(config={"enable_external_access": False}) as connection:
        found = connection.execute("select json_serialize_sql(?::varchar)", [sql]).fetchone()
    assert found is not None
    tree = json.loads(found[0])
    if tree.get("error_type") == "parser":
        raise DeclarationError(f"{where}: the select cannot be read: {tree['error_message']}.")
    if tree["error"] or len(tree["statements"]) != 1:  # only a select can be told as a tree
        raise DeclarationError(f"{where}: {_ONE}")
    for node in _nodes(tree):
        _check_node(where, node)


def _nodes(tree: Any) -> Iterator[dict[str, Any]]:
    waiting = [tree]
    while waiting:
        one = waiting.pop()
        if isinstance(one, dict):
            yield one
            waiting.extend(one.values())
        elif isinstance(one, list):
            waiting.extend(one)


def _check_node(where: str, node: dict[str, Any]) -> None:
    kind = node.get("type")
    if str(kind).endswith("_QUERY_NODE"):
        raise DeclarationError(f"{where}: {_ONE}")
    if kind == "SHOW_REF":
        raise DeclarationError(
            f"{where}: a select gives rows of the store, not what it is made of."
        )
    if kind == "RECURSIVE_CTE_NODE":
        raise DeclarationError(f"{where}: a select that calls itself may never end; write it flat.")
    if kind == "TABLE_FUNCTION":
        name = str(node["function"].get("function_name"))
        if name.lower() not in _ROWS:
            raise DeclarationError(f"{where}: {name}() is no table of the store; name one.")
    if kind == "BASE_TABLE":
        names = [node.get(key) for key in ("catalog_name", "schema_name", "table_name")]
        if not all(_NAME.fullmatch(name) for name in names if name):
            raise DeclarationError(f"{where}: a file stands where a table of the store is meant.")
    function = str(node.get("function_name") or "").lower()
    if _REACHES.fullmatch(function):
        raise DeclarationError(f"{where}: {function}() reaches beyond the store; take it out.")

"""Hand-made newborns, told as a nurse would, through the whole program: every measure and every
rule against what was written down for them beforehand.

Outside fact: the expectations of the tables beside this file, made by hand from the words of the
measures.
"""

import csv
import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from pipelines.base.headed_sql import read_pipe_table
from pipelines.base.store_file import open_store
from pipelines.build.every_stage import build_store
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_measures import read_measures
from pipelines.definitions.read_units import find_unit

HERE = Path(__file__).parent
TABLES = ("newborns", "first_days", "ways", "contradictions")
ORDINARY = "ordinary"
Said = Mapping[str, Any]
States = dict[str, list[str]]


@cache
def told() -> dict[str, Said]:
    texts = [(HERE / f"{name}.toml").read_text(encoding="utf-8") for name in TABLES]
    return {name: said for text in texts for name, said in tomllib.loads(text).items()}


def _unit_text() -> str:
    """Return a unit file whose exports have the contract's own names, in minutes."""
    lines = ['id = "told"', 'title = "Newborns told"', "", "[time]", 'form = "minutes"']
    for table in read_contract().values():
        lines += ["", "[[files]]", f'pattern = "{table.name}.csv"', "[[files.takes]]"]
        lines += [f'table = "{table.name}"', "[files.takes.columns]"]
        lines += [f'{column.name} = "{column.name}"' for column in table.stored_columns]
    return "\n".join(lines) + "\n"


def _sets(text: str) -> Iterator[dict[str, Any]]:
    """Turn the lines of sets into the three observations of each."""
    for line in read_pipe_table(text):
        for kind, column, site in (
            ("temperature", "c", "axillary"),
            ("heart_rate", "heart", "chest"),
            ("respiratory_rate", "breaths", None),
        ):
            method = None if kind == "temperature" else "full_minute"
            row = {"kind": kind, "minutes": line["minutes"], "value": line[column]}
            yield {**row, "site": site, "method": method}


def _read(key: str, text: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield (table, row) of the rows told under one key."""
    table, _, kind = key.partition(".")
    if not text:
        return
    if key == "sets":
        yield from (("observation", row) for row in _sets(text))
    else:
        yield from ((table, {"kind": kind, **row}) for row in read_pipe_table(text))


def _rows(name: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield (table, row) of one newborn: the ordinary one's, kind by kind, save what differs."""
    said = told()[name]
    own = said.get("instead", {})
    for key, text in told()[ORDINARY]["rows"].items():
        for table, row in _read(key, text) if key not in own else ():
            if float(row["minutes"]) <= said.get("seen_until", float("inf")):
                yield table, row
    for key, text in own.items():
        yield from _read(key, text)


def _write(folder: Path) -> None:
    found: dict[str, list[dict[str, Any]]] = {name: [] for name in read_contract()}
    for order, name in enumerate(told(), start=1):
        admission = {**told()[ORDINARY]["admission"], **told()[name].get("admission", {})}
        found["admission"].append({"record_id": name, "birth_order": order, **admission})
        for table, row in _rows(name):
            found[table].append({"record_id": name, **row})
    for table, rows in found.items():
        names = [column.name for column in read_contract()[table].stored_columns]
        with (folder / f"{table}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, names)
            writer.writeheader()
            writer.writerows(rows)


@pytest.fixture(scope="module")
def judged(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, States], dict[str, States]]:
    """Return record -> measure -> states by item, and record -> table.column -> rules found."""
    folder = tmp_path_factory.mktemp("told")
    (folder / "told.toml").write_text(_unit_text(), encoding="utf-8")
    (folder / "exports").mkdir()
    _write(folder / "exports")
    unit = find_unit(str(folder / "told.toml"))
    store = build_store([(unit, folder / "exports")], folder / "store.duckdb").store
    states: dict[str, States] = {name: {} for name in told()}
    flags: dict[str, States] = {name: {} for name in told()}
    with open_store(store) as connection:
        for record, measure, state in connection.execute(
            "select record_id, measure_id, state from membership "
            "order by record_id, measure_id, item"
        ).fetchall():
            states[record].setdefault(measure, []).append(state)
        for record, where, what in connection.execute(
            "select record_id, table_name || '.' || column_name, rule_id || ' ' || severity "
            "from flag where record_id is not null and severity <> 'note' order by all"
        ).fetchall():
            flags[record].setdefault(where, []).append(what)
    return states, flags


def _expected(name: str) -> States:
    said = {**told()[ORDINARY]["expect"], **told()[name].get("expect", {})}
    return {measure: text.split(", ") for measure, text in said.items() if text != "-"}


def test_there_are_as_many_as_were_told_and_each_is_told() -> None:
    # The ordinary one; twenty; what came of the first days; other ways; contradictions.
    assert len(told()) == 1 + 20 + 20 + 12 + 13
    assert all(len(said["account"].split()) > 25 for said in told().values())


def test_nothing_is_told_under_a_word_that_no_test_reads() -> None:
    read = {"account", "admission", "instead", "expect", "flags", "seen_until", "rows"}
    assert not {key for said in told().values() for key in said} - read


def test_every_measure_is_about_somebody() -> None:
    every = {one for measure in read_measures().values() for one in measure.result_ids}
    assert {measure for name in told() for measure in _expected(name)} == every


@pytest.mark.build
@pytest.mark.parametrize("name", list(told()))
def test_every_measure_says_what_was_expected(
    judged: tuple[dict[str, States], dict[str, States]], name: str
) -> None:
    found, expected = judged[0][name], _expected(name)
    differ = {
        measure: {"expected": expected.get(measure), "found": found.get(measure)}
        for measure in sorted(found.keys() | expected.keys())
        if found.get(measure) != expected.get(measure)
    }
    assert not differ


@pytest.mark.build
@pytest.mark.parametrize("name", list(told()))
def test_every_rule_finds_what_was_expected_and_nothing_else(
    judged: tuple[dict[str, States], dict[str, States]], name: str
) -> None:
    expected = {where: what.split(", ") for where, what in told()[name].get("flags", {}).items()}
    assert judged[1][name] == expected

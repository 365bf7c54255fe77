"""What flags do to the numbers, against a second build in which every check is off."""

from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from expectations.from_contract import CONTRACT_RULES
from expectations.rules_of_values import read_rules
from pipelines.base.store_file import open_store
from pipelines.build.every_stage import build_store
from pipelines.definitions.read_units import find_unit
from tests.conftest import Built

ORDER = "order by measure_id, unit, period_kind, period_start, stratifier, stratum"


def frame(store: Path, table: str) -> pd.DataFrame:
    with open_store(store) as connection:
        return connection.execute(f"select * from {table} {ORDER}").df()


def test_as_recorded_equals_a_build_without_checks(synthetic: Built, tmp_path: Path) -> None:
    off = {"off": [*CONTRACT_RULES, *read_rules()]}
    sources = [
        (replace(find_unit(unit), checks=off), folder) for unit, folder in synthetic.exports.items()
    ]
    unchecked = build_store(sources, tmp_path / "store.duckdb").store
    pd.testing.assert_frame_equal(frame(synthetic.store, "as_recorded"), frame(unchecked, "result"))


def test_flags_do_move_a_rate(synthetic: Built) -> None:
    """The comparison above could not fail if nothing were masked."""
    masked, recorded = frame(synthetic.store, "result"), frame(synthetic.store, "as_recorded")
    assert (masked["rate"] - recorded["rate"]).abs().max() > 0.01


def test_clean_exports_have_nothing_to_compare(clean: Built) -> None:
    ambiguous = set(clean.ledger["record_id"])
    with open_store(clean.store) as connection:
        flagged = connection.execute(
            "select distinct record_id from flag where severity = 'error'"
        ).fetchall()
    assert {row[0] for row in flagged} <= ambiguous


def test_many_newborns_are_measured_as_few_are(
    synthetic: Built, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where there are many rows, mart is a view of two and each measure is counted by itself."""
    few = build_quillmere(synthetic, tmp_path / "few.duckdb")
    monkeypatch.setattr("pipelines.stages.measure.as_recorded._COPIED_AT_MOST", 0)
    monkeypatch.setattr("pipelines.stages.measure.engine._ROWS_AT_ONCE", 1)
    many = build_quillmere(synthetic, tmp_path / "many.duckdb")
    for table in ("result", "as_recorded", "spread"):
        pd.testing.assert_frame_equal(frame(few, table), frame(many, table))
    assert members(few) == members(many)
    assert not frame(few, "as_recorded").equals(frame(few, "result")), "somebody must be masked"


def build_quillmere(synthetic: Built, store: Path) -> Path:
    return build_store([(find_unit("quillmere"), synthetic.exports["quillmere"])], store).store


def members(store: Path) -> list[tuple[object, ...]]:
    with open_store(store) as connection:
        return connection.execute("from membership order by all").fetchall()

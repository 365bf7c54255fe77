"""Properties of judging, and its limits against a plain recomputation."""

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from judged_store import flags, make_store

import pipelines
from expectations import judge
from expectations.rule import Cells

CONTRACT = Path(pipelines.__file__).parent / "contract"
SLOW = settings(
    max_examples=8,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    phases=[Phase.explicit, Phase.generate],  # each run judges a store: shrinking takes minutes
    derandomize=True,
)

# Ranges in which no rule has a reason to speak: our reading of the rules, not their code.
CLEAN = {
    "gestational_age_days": st.integers(259, 293),
    "weight_g": st.integers(2500, 4500),
    "length_cm": st.integers(46, 54),
    "head_circumference_cm": st.integers(32, 37),
    "apgar_1": st.integers(0, 10),
    "apgar_5": st.integers(0, 10),
    "maternal_temperature_c": st.sampled_from([36.2, 37.0, 39.4]),
    "room_temperature_c": st.sampled_from([18.0, 24.0, 26.5]),
    "discharge_minutes": st.integers(600, 9000),
}
# A fault in a cell, and the cells that may be flagged for it: itself and its pair.
SIZES = {"length_cm", "head_circumference_cm"}
FAULTS = [
    ("admission", "weight_g", 3.4, {"weight_g"}),
    ("admission", "weight_g", 34000, {"weight_g"}),
    ("admission", "weight_g", 150, {"weight_g"}),
    ("admission", "length_cm", 20, SIZES),
    ("admission", "length_cm", 505, SIZES),
    ("admission", "head_circumference_cm", 13.5, SIZES),
    ("admission", "head_circumference_cm", 56, SIZES),
    ("admission", "apgar_5", 11, {"apgar_5"}),
    ("admission", "gestational_age_days", 400, {"gestational_age_days"}),
    ("admission", "maternal_temperature_c", 98.6, {"maternal_temperature_c"}),
    ("admission", "discharge_minutes", -3, {"discharge_minutes"}),
    ("observation", "value", 97.7, {"value"}),
    ("observation", "value", 12, {"value"}),
    ("observation", "minutes", -700, {"minutes"}),
]


@st.composite
def clean_rows(draw: st.DrawFn) -> dict[str, Cells]:
    admissions: Cells = []
    readings: Cells = []
    for place in range(8):
        record: dict[str, str | None] = {"record_id": f"n{place}"}
        for name, values in CLEAN.items():
            value = draw(st.none() | values)
            record[name] = None if value is None else str(value)
        admissions.append(record)
        celsius = draw(st.integers(350, 385)) / 10
        minutes = str(draw(st.integers(0, 3000)))
        readings.append(
            {
                "record_id": f"n{place}",
                "kind": "temperature",
                "minutes": minutes,
                "value": str(celsius),
            }
        )
    return {"admission": admissions, "observation": readings}


@SLOW
@given(clean_rows())
def test_clean_rows_have_no_flag(rows: dict[str, Cells]) -> None:
    store = make_store(rows)
    assert judge(store).is_trustworthy
    assert flags(store) == set()
    unusable = store.execute("select count(*) from judged.unusable").fetchall()
    assert unusable == [(0,)]


@SLOW
@given(clean_rows(), st.lists(st.sampled_from(FAULTS), min_size=4, max_size=4))
def test_one_fault_flags_its_cell_and_its_pair_only(
    rows: dict[str, Cells], faults: list[tuple[str, str, float, set[str]]]
) -> None:
    """Every second newborn has one fault; the newborns between them stay clean."""
    faulty = dict(zip((f"n{place}" for place in range(0, 8, 2)), faults, strict=True))
    for record, (table, column, value, _) in faulty.items():
        rows[table][int(record[1:])][column] = str(value)
    store = make_store(rows)
    judge(store)
    found = flags(store)
    assert {flag[0] for flag in found} == set(faulty)
    for record, (_, column, _, may_be_flagged) in faulty.items():
        flagged = {flag[1] for flag in found if flag[0] == record}
        assert column in flagged
        assert flagged <= may_be_flagged


def _recomputed(frame: pd.DataFrame, table: str, column: str, bounds: dict[str, Any]) -> set[Any]:
    """Return (table, row_id, column, severity) beyond the bounds: pandas, no SQL."""
    inside = -np.inf, np.inf
    values = frame[column]
    error = (values < bounds.get("error_below", inside[0])) | (
        values > bounds.get("error_above", inside[1])
    )
    query = (values < bounds.get("query_below", inside[0])) | (
        values > bounds.get("query_above", inside[1])
    )
    marked = {(table, int(row), column, "error") for row in frame.loc[error, "row_id"]}
    return marked | {
        (table, int(row), column, "query") for row in frame.loc[query & ~error, "row_id"]
    }


def test_limit_flags_equal_a_plain_recomputation_from_the_contract_files(tmp_path: Path) -> None:
    chance = np.random.default_rng(20240229)
    count = 400
    given_rows: dict[str, Cells] = {}
    expected: set[Any] = set()
    for path in sorted(CONTRACT.glob("*.toml")):
        spec = tomllib.loads(path.read_text())
        frame = pd.DataFrame({"row_id": range(1, count + 1), "record_id": "r"})
        frame["record_id"] += frame["row_id"].astype(str)
        for name, column in spec["columns"].items():
            bounds = [
                number for key, number in column.items() if key.endswith(("_below", "_above"))
            ]
            if not bounds:
                continue
            low, high = min(bounds), max(bounds)
            spread = max(high - low, 4)
            values = chance.uniform(low - spread, high + spread, count)
            values[: len(bounds)] = bounds  # each bound itself, which is inside
            values[chance.random(count) < 0.1] = np.nan
            frame[name] = np.round(values) if column["type"] == "integer" else np.round(values, 2)
            expected |= _recomputed(frame, path.stem, name, column)
        kinds = spec.get("kinds", {})
        if kinds:
            frame["kind"] = chance.choice(list(kinds), count)
            frame["value"] = np.round(chance.uniform(-50, 700, count), 1)
            for kind, bounds_of_kind in kinds.items():
                rows = frame[frame["kind"] == kind]
                expected |= _recomputed(rows, path.stem, "value", bounds_of_kind)
        given_rows[path.stem] = [
            {name: None if pd.isna(cell) else str(cell) for name, cell in row.items()}
            for row in frame.drop(columns="row_id").to_dict("records")
        ]
    store = make_store(given_rows)
    judge(store, rules_dir=tmp_path)  # no rule across columns: the limits alone
    found = set(
        store.execute(
            "select table_name, row_id, column_name, severity from judged.flag"
        ).fetchall()
    )
    assert len(expected) > 1000
    assert found == expected

"""Properties of judging, and its limits against a plain recomputation."""

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from judged_store import flags, make_store

import pipelines
from expectations import judge
from expectations.rules_of_values import Cells

CONTRACT = Path(pipelines.__file__).parent / "definitions" / "contract"
SLOW = settings(
    max_examples=8,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    phases=[Phase.explicit, Phase.generate],  # each run judges a store: shrinking takes minutes
    derandomize=True,
)

# Ranges in which no rule has a reason to speak: our reading of the rules, not their code.
CLEAN = {
    "maternal_temperature_c": st.sampled_from([36.2, 37.0, 39.4]),
    "room_temperature_c": st.sampled_from([18.0, 24.0, 26.5]),
    "discharge_minutes": st.integers(3100, 9000),
}
# 10th and 90th centile at 40+0 (newborn size standard, Villar 2014, Lancet 384:857-68).
AT_40_WEEKS = {
    "male": {
        "weight_g": (2880, 3940),
        "length_cm": (47.8, 52.0),
        "head_circumference_cm": (32.9, 35.8),
    },
    "female": {
        "weight_g": (2780, 3800),
        "length_cm": (47.2, 51.2),
        "head_circumference_cm": (32.4, 35.2),
    },
}
# A fault in a cell, and the cells that may be flagged for it: itself and its pair.
SIZES = {"length_cm", "head_circumference_cm"}
APGAR = {"apgar_1", "apgar_5"}
FAULTS = [
    ("admission", "weight_g", 3.4, {"weight_g"}),
    ("admission", "weight_g", 34000, {"weight_g"}),
    ("admission", "weight_g", 7500, {"weight_g"}),
    ("admission", "weight_g", 150, {"weight_g"}),
    ("admission", "length_cm", 20, SIZES),
    ("admission", "length_cm", 505, SIZES),
    ("admission", "head_circumference_cm", 13.5, SIZES),
    ("admission", "head_circumference_cm", 56, SIZES),
    ("admission", "apgar_5", 11, {"apgar_5"}),
    ("admission", "apgar_5", 2, APGAR),
    ("admission", "gestational_age_days", 400, {"gestational_age_days"}),
    ("admission", "gestational_age_days", 1960, {"gestational_age_days"}),
    ("admission", "gestational_age_days", 40, {"gestational_age_days"}),
    ("admission", "maternal_temperature_c", 98.6, {"maternal_temperature_c"}),
    ("admission", "discharge_minutes", -3, {"discharge_minutes"}),
    ("observation", "value", 97.7, {"value"}),
    ("observation", "value", 12, {"value"}),
    ("observation", "minutes", -700, {"minutes"}),
    ("observation", "minutes", 9500, {"minutes", "charted_minutes"}),
    ("observation", "charted_minutes", 6000, {"charted_minutes"}),
    ("dose", "amount", 10, {"amount"}),
    ("dose", "route", "ophthalmic", {"route"}),
    ("dose", "strength", "adult", {"strength"}),
    ("care", "end_minutes", 2, {"minutes", "end_minutes"}),
]


def _sizes(draw: st.DrawFn, sex: str) -> dict[str, str]:
    """Between the 10th and the 90th centile, and near each other: a newborn is of one make."""
    middle = draw(st.integers(15, 85))
    sizes = {}
    for name, (low, high) in AT_40_WEEKS[sex].items():
        share = (middle + draw(st.integers(-15, 15))) / 100
        sizes[name] = str(round(low + share * (high - low), 0 if name == "weight_g" else 1))
    return sizes


@st.composite
def clean_rows(draw: st.DrawFn) -> dict[str, Cells]:
    rows: dict[str, Cells] = {"admission": [], "observation": [], "dose": [], "care": []}
    for place in range(8):
        key: dict[str, str | None] = {"record_id": f"n{place}"}
        sex = draw(st.sampled_from(["male", "female"]))
        record = {name: draw(st.none() | values) for name, values in CLEAN.items()}
        later = draw(st.integers(7, 10))
        record |= {"apgar_1": draw(st.integers(6, later + 1 if later < 10 else 10))}
        record |= {"apgar_5": later, "gestational_age_days": draw(st.integers(278, 283))}
        blanks = draw(st.sets(st.sampled_from(["weight_g", *SIZES]), max_size=2))
        sizes = {name: v for name, v in _sizes(draw, sex).items() if name not in blanks}
        texts = {name: None if value is None else str(value) for name, value in record.items()}
        rows["admission"].append(
            {**key, "sex": sex, **dict.fromkeys(["weight_g", *SIZES]), **texts, **sizes}
        )
        minutes = draw(st.integers(0, 3000))
        rows["observation"].append(
            {
                **key,
                "kind": "temperature",
                "minutes": str(minutes),
                "charted_minutes": str(minutes + draw(st.integers(0, 90))),
                "value": str(draw(st.integers(350, 385)) / 10),
            }
        )
        rows["dose"].append(
            {
                **key,
                "kind": "vitamin_k",
                "status": "given",
                "minutes": str(draw(st.integers(0, 600))),
                "route": "intramuscular",
                "amount": draw(st.sampled_from(["0.5", "1"])),
                "amount_unit": "mg",
                "strength": draw(st.none() | st.just("newborn")),
            }
        )
        start = draw(st.integers(3, 60))
        rows["care"].append(
            {
                **key,
                "kind": "skin_contact",
                "minutes": str(start),
                "end_minutes": str(start + draw(st.integers(0, 120))),
            }
        )
    return rows


@pytest.mark.build
@pytest.mark.slow
@SLOW
@given(clean_rows())
def test_clean_rows_have_no_flag(rows: dict[str, Cells]) -> None:
    store = make_store(rows)
    verdict = judge(store)
    assert verdict.is_trustworthy, verdict.in_words
    assert flags(store) == set()
    unusable = store.execute("select count(*) from judged.unusable").fetchall()
    assert unusable == [(0,)]


@pytest.mark.build
@pytest.mark.slow
@SLOW
@given(clean_rows(), st.lists(st.sampled_from(FAULTS), min_size=4, max_size=4))
def test_one_fault_flags_its_cell_and_its_pair_only(
    rows: dict[str, Cells], faults: list[tuple[str, str, float | str, set[str]]]
) -> None:
    """Every second newborn has one fault; the newborns between them stay clean."""
    faulty = dict(zip((f"n{place}" for place in range(0, 8, 2)), faults, strict=True))
    for record, (table, column, value, _) in faulty.items():
        rows[table][int(record[1:])][column] = str(value)
        if column == "apgar_5":
            rows[table][int(record[1:])]["apgar_1"] = "9"
        if value == 9500:
            rows["admission"][int(record[1:])]["discharge_minutes"] = "9000"
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


@pytest.mark.build
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

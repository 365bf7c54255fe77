"""Every planted fault is found on its cell, and clean cells are left alone.

Planted faults are their own outside truth: the ledger is written by the generator, which knows
nothing of the rules.
"""

import pandas as pd
import pytest

from pipelines.base.store_file import open_store
from tests.conftest import Built
from tests.ledger.score import caught_as_pair

CELL = ["unit", "source_file", "source_line", "column_name"]
# Whole rows, not values: they are rejected, not flagged.
ROW_FAULTS = {"duplicate_record_exact", "duplicate_record_conflicting", "orphan_event"}
# True local times of the hour that the autumn clock shows twice; nothing about them is wrong,
# and which of the two hours is meant cannot be known from the export.
NO_FAULT = {"clock_hour_shown_twice"}
# Where another set was taken within minutes, its signs cannot be told from those of this one; a
# small newborn fits even a gestation that is fourteen weeks too short. Two readings put to one
# minute may become one line that stands twice, of which one is rejected.
NOT_ALWAYS = {
    "copied_forward": 0.85, "gestation_too_early": 0.9,
    "all_at_one_minute": 0.98, "all_at_minute_zero": 0.98,
}  # fmt: skip
# Measures whose initial population is every newborn of the unit.
ABOUT_EVERY_NEWBORN = ("apgar_pair", "first_temperature", "size_triad", "two_bands", "vitamin_k")
FALSE_POSITIVES_PER_10_000 = 1.0


def frame(built: Built, sql: str) -> pd.DataFrame:
    with open_store(built.store) as store:
        return store.execute(sql).df()


def flags(built: Built, where: str = "true") -> pd.DataFrame:
    found = frame(built, f"select * from flag where record_id is not null and {where}")
    return found.assign(source_line=found["source_line"].astype("Int64").astype("str"))


def found_on_its_cell(built: Built) -> pd.Series:
    """Return the share found, by kind of fault."""
    planted = built.ledger[~built.ledger["fault"].isin(ROW_FAULTS | NO_FAULT)]
    hits = flags(built)[CELL].drop_duplicates().assign(found=True)
    joined = planted.merge(hits, on=CELL, how="left")
    return caught_as_pair(joined, joined["found"].eq(True)).groupby(joined["fault"]).mean()


def test_every_planted_fault_is_flagged_on_its_cell(synthetic: Built) -> None:
    share = found_on_its_cell(synthetic)
    assert len(share) >= 85, "the ledger lost kinds of fault"
    print(share.to_string())
    needed = share.index.map(lambda fault: NOT_ALWAYS.get(fault, 1.0))
    assert share[share < needed].to_dict() == {}


def test_planted_rows_are_rejected(synthetic: Built) -> None:
    planted = synthetic.ledger[synthetic.ledger["fault"].isin(ROW_FAULTS)]
    rejected = frame(synthetic, "select unit, source_file, source_line from rejected")
    keys = set(
        zip(
            rejected["unit"],
            rejected["source_file"],
            rejected["source_line"].astype(str),
            strict=True,
        )
    )
    assert set(planted["fault"]) == ROW_FAULTS
    wanted = set(zip(planted["unit"], planted["source_file"], planted["source_line"], strict=True))
    assert wanted - keys == set()


def test_a_clean_export_yields_no_error_flag(clean: Built) -> None:
    ambiguous = clean.ledger[clean.ledger["fault"].isin(NO_FAULT)]
    found = flags(clean, "severity = 'error'")
    found = found[~found["record_id"].isin(ambiguous["record_id"])]
    assert found[["unit", "column_name", "rule_id", "recorded_value"]].to_dict("records") == []


def test_false_positives_on_unplanted_cells(synthetic: Built) -> None:
    """Error flags on cells that the ledger does not name, per 10,000 recorded cells."""
    # A slip in a size may rightly be seen on its partner: head and length judge each other.
    touched = synthetic.ledger.set_index(["unit", "record_id"]).index
    errors = flags(synthetic, "severity = 'error'")
    elsewhere = ~errors.set_index(["unit", "record_id"]).index.isin(touched)
    with open_store(synthetic.store) as store:
        cells = store.execute(
            "select (select count(weight_g) + count(length_cm) + count(head_circumference_cm) "
            "+ count(apgar_1) + count(apgar_5) from newborn) "
            "+ (select count(value) + 2 * count(minutes) from event)"
        ).fetchone()
    assert cells is not None
    rate = 10_000 * int(elsewhere.sum()) / cells[0]
    print(f"error flags on clean records: {int(elsewhere.sum())} of {cells[0]} cells, {rate:.2f}")
    assert rate <= FALSE_POSITIVES_PER_10_000


def test_rows_in_are_kept_or_rejected(synthetic: Built) -> None:
    files = synthetic.summary.files
    assert (files["rows_in"] == files["rows_kept"] + files["rows_rejected"]).all()
    for unit, folder in synthetic.exports.items():
        for path in folder.glob("*.csv"):
            # Synthetic rows hold no line break inside quotes, so lines are rows.
            lines = path.read_bytes().count(b"\n") - 1
            row = files[(files["unit"] == unit) & (files["source_file"] == path.name)]
            assert row["rows_in"].tolist() == [lines]


@pytest.mark.parametrize("column", ["weight_g", "value"])
def test_a_masked_value_is_never_a_missing_newborn(synthetic: Built, column: str) -> None:
    """A flag sits on a value: the newborn stays in every measure's initial population."""
    table = "newborn" if column == "weight_g" else "event"
    assert not frame(
        synthetic, f"select 1 from {table} where list_contains(unusable, '{column}') limit 1"
    ).empty
    counts = frame(
        synthetic,
        "select measure_id, unit, sum(initial_population) as n from result "
        "where period_kind = 'all' and stratifier = 'all newborns' "
        f"and measure_id in {ABOUT_EVERY_NEWBORN} group by all",
    )
    newborns = frame(synthetic, "select unit, count(*) as n from newborn group by unit")
    expected = newborns.set_index("unit")["n"]
    assert (counts["n"].to_numpy() == counts["unit"].map(expected).to_numpy()).all()

"""What must hold of every result, whatever the export."""

import csv
import random
from pathlib import Path

import pandas as pd

from pipelines.base.store_file import open_store
from pipelines.build.every_stage import build_store
from pipelines.definitions.read_units import find_unit
from pipelines.definitions.strata import STRATIFIERS
from tests.conftest import Built

PARTS = ["numerator", "late", "not_done", "not_met", "not_documented", "unusable", "exception"]


def results(store: Path, which: str = "stratifier = 'all newborns'") -> pd.DataFrame:
    with open_store(store) as connection:
        return connection.execute(f"select * from result where {which} order by all").df()


def members(store: Path) -> set[tuple[object, ...]]:
    with open_store(store) as connection:
        return set(
            connection.execute(
                "select unit, record_id, measure_id, item, period, state, minutes, reason "
                "from membership"
            ).fetchall()
        )


def test_populations_add_up(synthetic: Built) -> None:
    frame = results(synthetic.store, "true")
    assert (frame["initial_population"] == frame["denominator"] + frame["exclusion"]).all()
    assert (frame["denominator"] == frame[PARTS].sum(axis=1)).all()


def test_rate_interval_and_bounds_are_ordered(synthetic: Built) -> None:
    frame = results(synthetic.store, "true").dropna(subset=["rate"])
    assert len(frame) > 500
    assert frame["rate"].between(0, 1).all()
    assert (frame["lower"] <= frame["rate"] + 1e-12).all()
    assert (frame["rate"] <= frame["upper"] + 1e-12).all()
    assert (frame["if_none_met"] <= frame["rate"] + 1e-12).all()
    assert (frame["if_none_met"] <= frame["if_all_met"]).all()


def test_months_sum_to_quarters_and_to_the_whole(synthetic: Built) -> None:
    frame = results(synthetic.store)
    keys = ["measure_id", "unit"]
    counts = ["initial_population", "exclusion", "denominator", *PARTS]
    by_kind = {
        kind: frame[frame["period_kind"] == kind].groupby(keys)[counts].sum()
        for kind in ("month", "quarter", "all")
    }
    # Newborns whose birth month cannot be read are in the whole and in no month.
    assert by_kind["month"].equals(by_kind["quarter"])
    assert (by_kind["month"] <= by_kind["all"]).all().all()
    with open_store(synthetic.store) as store:
        undated = store.execute("select count(*) from newborn where birth_month is null").fetchone()
    missing = (by_kind["all"] - by_kind["month"])["initial_population"]
    assert missing.groupby("measure_id").sum()["first_temperature"] == (undated or (0,))[0]


def test_strata_sum_to_all_newborns(synthetic: Built) -> None:
    """Each stratifier parts the same newborns, quarter by quarter and in all."""
    frame = results(synthetic.store, "period_kind <> 'month'")
    keys = ["measure_id", "unit", "period_kind", "period_start"]
    counts = ["initial_population", "exclusion", "denominator", *PARTS]
    whole = frame[frame["stratifier"] == "all newborns"].set_index(keys)[counts].sort_index()
    parts = frame[frame["stratifier"] != "all newborns"].groupby(["stratifier", *keys])[counts]
    split = parts.sum().reset_index("stratifier")
    assert set(split["stratifier"]) == set(STRATIFIERS)
    for name, sums in split.groupby("stratifier"):
        assert sums[counts].sort_index().equals(whole), name
    assert frame["stratum"].notna().all()


def test_blank_strata_are_a_stratum_of_their_own(synthetic: Built) -> None:
    with open_store(synthetic.store) as store:
        blank = dict(
            store.execute(
                "select unit, count(*) filter (where language is null) from newborn group by unit"
            ).fetchall()
        )
    frame = results(synthetic.store, "stratifier = 'language' and stratum = 'not recorded'")
    whole = frame[(frame["period_kind"] == "all") & (frame["measure_id"] == "first_temperature")]
    assert dict(zip(whole["unit"], whole["initial_population"], strict=True)) == blank
    assert min(blank.values()) > 0


def test_every_month_has_every_measure(synthetic: Built) -> None:
    frame = results(synthetic.store)
    months = frame[frame["period_kind"] == "month"]
    by_unit = months.groupby("unit")
    expected = by_unit["measure_id"].nunique() * by_unit["period_start"].nunique()
    assert by_unit.size().equals(expected.rename(None))


def test_nobody_eligible_gives_no_rate(synthetic: Built) -> None:
    frame = results(synthetic.store)
    nobody = frame["denominator"] - frame["exception"] == 0
    assert (
        frame.loc[nobody, ["rate", "lower", "upper", "if_none_met", "if_all_met"]]
        .isna()
        .all(axis=None)
    )


def test_row_order_changes_nothing(clean: Built, tmp_path: Path) -> None:
    """Shuffled event rows give the same states; admission rows keep their order (birth order)."""
    source = clean.exports["quillmere"]
    shuffled = tmp_path / "exports"
    shuffled.mkdir()
    chance = random.Random(3)
    for path in source.glob("*.csv"):
        with path.open(newline="", encoding="utf-8-sig") as stream:
            head, *rows = list(csv.reader(stream))
        chance.shuffle(rows)
        with (shuffled / path.name).open("w", newline="", encoding="utf-8") as stream:
            csv.writer(stream).writerows([head, *rows])
    again = build_store([(find_unit("quillmere"), shuffled)], tmp_path / "store.duckdb").store
    before = {row for row in members(clean.store) if row[0] == "quillmere"}
    assert members(again) == before


def test_units_do_not_touch_each_other(clean: Built, tmp_path: Path) -> None:
    alone = build_store(
        [(find_unit("tansy_ridge"), clean.exports["tansy_ridge"])], tmp_path / "store.duckdb"
    ).store
    assert members(alone) == {row for row in members(clean.store) if row[0] == "tansy_ridge"}


def test_an_ineligible_newborn_changes_no_rate(clean: Built, tmp_path: Path) -> None:
    """A stillborn record joins the initial population, is excluded, and moves nothing else."""
    folder = tmp_path / "exports"
    folder.mkdir()
    source = clean.exports["tansy_ridge"]
    for path in source.glob("*.csv"):
        (folder / path.name).write_bytes(path.read_bytes())
    path = sorted(folder.glob("*.csv"))[-1]
    with path.open(newline="", encoding="utf-8-sig") as stream:
        head = next(csv.reader(stream, delimiter=";"))
    cells = {"Baby": "EXTRA1", "Birth Month": "2025-06", "Live": "No"}
    with path.open("a", newline="", encoding="utf-8") as stream:
        csv.writer(stream, delimiter=";", lineterminator="\n").writerow(
            [cells.get(name.strip(), "") for name in head]
        )
    more = results(
        build_store([(find_unit("tansy_ridge"), folder)], tmp_path / "store.duckdb").store
    )
    before = results(clean.store)
    before = before[before["unit"] == "tansy_ridge"]
    keys = ["measure_id", "period_kind", "period_start"]
    both = before.merge(more, on=keys, suffixes=("", "_more"))
    assert len(both) == len(before)
    for name in ("denominator", "numerator", "rate", "lower", "upper"):
        assert both[name].equals(both[f"{name}_more"].rename(name)), name
    gained = (both["exclusion_more"] - both["exclusion"]).groupby(both["period_kind"]).sum()
    assert gained["all"] > 0

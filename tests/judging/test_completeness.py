"""Completeness against a plain recomputation in pandas, and silence planted in exports."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from pipelines.base.store_file import open_store
from pipelines.build.every_stage import build_store
from pipelines.definitions.read_measures import read_measures
from pipelines.definitions.read_units import Unit, find_unit, read_unit
from pipelines.stages.judged.completeness import policy_starts
from synthetic_data import write_demo
from tests.conftest import Built

KEYS = ["unit", "table_name", "kind", "column_name", "shift", "month"]
EVENT_TABLES = {"observation": "value", "dose": "status", "finding": "as_expected"}
COLUMN_RULES = ("column_went_silent", "shift_went_silent", "month_count_breaks")
Edit = Callable[[dict[str, pd.DataFrame], pd.Series, pd.Series], None]


def frame(store_path: Path, sql: str) -> pd.DataFrame:
    with open_store(store_path) as store:
        return store.execute(sql).df()


@pytest.fixture(scope="module")
def counted(synthetic: Built) -> pd.DataFrame:
    return frame(synthetic.store, "select * from completeness")


def test_admission_columns_as_pandas_counts_them(synthetic: Built, counted: pd.DataFrame) -> None:
    newborns = frame(synthetic.store, "select * from newborn where birth_month is not null")
    here = counted[counted["table_name"] == "admission"]
    assert here["column_name"].nunique() > 20
    for (unit, name, month), row in here.set_index(["unit", "column_name", "month"]).iterrows():
        born = newborns[(newborns["unit"] == unit) & (newborns["birth_month"] == month)]
        masked = born["unusable"].map(lambda names, name=name: name in names)
        # A blank live_birth reads as live in the public view, so there it is never missing.
        usable = born[name].notna() & ~masked
        if name != "live_birth":
            assert row["usable"] == usable.sum(), (unit, name, month)
            assert row["recorded"] == (usable | masked).sum(), (unit, name, month)
        assert row["total"] == row["newborns"] == len(born)
        assert row["usable"] <= row["recorded"] <= row["total"]


@pytest.mark.parametrize("shift", ["all", "day", "night"])
def test_kinds_as_pandas_counts_them(synthetic: Built, counted: pd.DataFrame, shift: str) -> None:
    """Newborns with at least one row of the kind, and with one that says something."""
    events = frame(
        synthetic.store,
        "select event.*, newborn.birth_month as month, newborn.shift from event "
        "inner join newborn using (newborn_id) "
        "where newborn.birth_month is not null and kind is not null",
    )
    if shift != "all":
        events = events[events["shift"] == shift]
    events["says"] = events["status"].notna() | events["minutes"].notna()  # care
    for table, name in EVENT_TABLES.items():
        events.loc[events["table_name"] == table, "says"] = events[name].notna()
    keys = ["unit", "table_name", "kind", "month"]
    recorded = events.groupby(keys)["newborn_id"].nunique().rename("recorded")
    usable = events[events["says"]].groupby(keys)["newborn_id"].nunique().rename("usable")
    expected = pd.concat([recorded, usable], axis=1).fillna(0).astype(int)
    is_kind = (counted["column_name"] == "kind") & (counted["shift"] == shift)
    got = counted[is_kind].set_index(keys)[["recorded", "usable"]].sort_index()
    assert len(got) > 200
    pd.testing.assert_frame_equal(
        got.loc[got["recorded"] > 0], expected.sort_index(), check_dtype=False
    )
    assert (got.loc[got["recorded"] == 0, "usable"] == 0).all()


def test_columns_of_a_kind_as_pandas_counts_them(synthetic: Built, counted: pd.DataFrame) -> None:
    rows = frame(
        synthetic.store,
        "select event.unit, kind, newborn.birth_month as month, event.value, event.unusable "
        "from event inner join newborn using (newborn_id) "
        "where table_name = 'observation' and newborn.birth_month is not null",
    )
    masked = rows["unusable"].map(lambda names: "value" in names)
    rows = rows.assign(usable=rows["value"].notna(), recorded=rows["value"].notna() | masked)
    expected = rows.groupby(["unit", "kind", "month"])[["recorded", "usable"]].sum()
    is_value = (counted["table_name"] == "observation") & (counted["column_name"] == "value")
    got = counted[is_value].set_index(["unit", "kind", "month"])[["recorded", "usable"]]
    assert (expected["recorded"] > expected["usable"]).any(), "the synthetic units have no mask"
    pd.testing.assert_frame_equal(
        got.sort_index(), expected.loc[got.sort_index().index], check_dtype=False
    )


def test_grain_is_one_row_per_key(counted: pd.DataFrame) -> None:
    assert not counted.duplicated(KEYS).any()


def test_clean_exports_have_no_column_flag(clean: Built) -> None:
    names = ", ".join(f"'{name}'" for name in COLUMN_RULES)
    found = frame(clean.store, f"select * from flag where rule_id in ({names})")
    assert found["explanation"].tolist() == []
    judged = frame(clean.store, f"select * from verdict where rule_id in ({names})")
    assert set(judged["rule_id"]) == set(COLUMN_RULES)
    assert judged["could_not_be_judged"].isna().all()


# -- silence planted in exports ------------------------------------------------------------


@pytest.fixture(scope="module")
def exports(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("quiet")
    return write_demo(folder, units=["quillmere"], seed=3, n_months=7, births_per_month=90).exports[
        "quillmere"
    ]


@pytest.fixture
def spoil(exports: Path, tmp_path: Path) -> Callable[..., pd.DataFrame]:
    """Return a function that edits the exports, builds them and gives the flags on columns."""

    def build(edit: Edit, unit: Unit | None = None) -> pd.DataFrame:
        frames = {
            path.name: pd.read_csv(path, dtype="str", keep_default_na=False)
            for path in sorted(exports.glob("*.csv"))
        }
        born = pd.concat([rows for name, rows in frames.items() if name.startswith("newborns")])
        born = born.drop_duplicates("Study key").set_index("Study key")["Born at"]
        at = pd.to_datetime(born, format="%m/%d/%Y %H:%M", errors="coerce")
        edit(frames, at.dt.strftime("%Y-%m"), at.dt.hour)
        folder = tmp_path / "spoiled"
        folder.mkdir(exist_ok=True)
        for name, rows in frames.items():
            rows.to_csv(folder / name, index=False)
        store = tmp_path / "spoiled.duckdb"
        build_store([(unit or find_unit("quillmere"), folder)], store)
        return frame(
            store,
            "select rule_id, table_name, column_name, severity, explanation, suggestion, "
            f"record_id from flag where rule_id in {COLUMN_RULES}",
        )

    return build


def late_month(month: pd.Series) -> str:
    """The last month but one: the last may be a part of a month."""
    return sorted(month.dropna().unique())[-2]


@pytest.mark.build
def test_a_column_emptied_for_a_month(spoil: Callable[..., pd.DataFrame]) -> None:
    def edit(frames: dict[str, pd.DataFrame], month: pd.Series, hour: pd.Series) -> None:
        for name, rows in frames.items():
            if name.startswith("newborns"):
                here = rows["Study key"].map(month) == late_month(month)
                rows.loc[here, "Head cm"] = ""

    found = spoil(edit)
    assert found[["rule_id", "column_name", "severity"]].to_numpy().tolist() == [
        ["column_went_silent", "head_circumference_cm", "query"]
    ]
    assert found["record_id"].isna().all()
    assert "export filter" in found["explanation"].iloc[0]
    assert found["suggestion"].str.contains("not as not done").all()


@pytest.mark.build
def test_an_item_renamed_for_a_month(spoil: Callable[..., pd.DataFrame]) -> None:
    def edit(frames: dict[str, pd.DataFrame], month: pd.Series, hour: pd.Series) -> None:
        for name, rows in frames.items():
            if name.startswith("flowsheet"):
                here = rows["Study key"].map(month) == late_month(month)
                rows.loc[here & (rows["Item"] == "Respirations"), "Item"] = "Resp rate"

    found = spoil(edit)
    assert found[["rule_id", "table_name", "column_name"]].to_numpy().tolist() == [
        ["column_went_silent", "observation", "kind"]
    ]
    assert found["explanation"].iloc[0].startswith("respiratory rate, ")


def no_first_feeds_at_night(
    frames: dict[str, pd.DataFrame], month: pd.Series, hour: pd.Series
) -> None:
    for name, rows in list(frames.items()):
        if name.startswith("care"):
            here = rows["Study key"].map(month) == late_month(month)
            night = ~rows["Study key"].map(hour).between(7, 18)
            frames[name] = rows[~(here & night & rows["Care item"].str.startswith("1st feed"))]


@pytest.mark.build
def test_a_night_shift_that_goes_silent(spoil: Callable[..., pd.DataFrame]) -> None:
    found = spoil(no_first_feeds_at_night)
    assert found[["rule_id", "table_name"]].to_numpy().tolist() == [["shift_went_silent", "care"]]
    assert found["explanation"].iloc[0].startswith("first feed at night, ")


@pytest.mark.build
def test_half_a_month_missing(spoil: Callable[..., pd.DataFrame]) -> None:
    def edit(frames: dict[str, pd.DataFrame], month: pd.Series, hour: pd.Series) -> None:
        gone = month.index[(month == late_month(month)).to_numpy()][::2]
        for name, rows in list(frames.items()):
            frames[name] = rows[~rows["Study key"].isin(gone)]

    found = spoil(edit)
    assert found[["rule_id", "column_name", "severity"]].to_numpy().tolist() == [
        ["month_count_breaks", "birth_month", "query"]
    ]


def own_unit(tmp_path: Path, more: str) -> Unit:
    text = (Path(find_unit("quillmere").path or "")).read_text(encoding="utf-8")
    path = tmp_path / "quillmere.toml"
    path.write_text(f"{text}\n{more}", encoding="utf-8")
    return read_unit(path)


@pytest.mark.build
def test_a_unit_switches_a_column_rule_off(
    spoil: Callable[..., pd.DataFrame], tmp_path: Path
) -> None:
    unit = own_unit(tmp_path, '[checks]\noff = ["shift_went_silent"]\n')
    assert spoil(no_first_feeds_at_night, unit).empty


@pytest.mark.build
def test_a_unit_sets_a_number(spoil: Callable[..., pd.DataFrame], tmp_path: Path) -> None:
    unit = own_unit(tmp_path, "[checks.numbers.shift_went_silent]\nat_least = 1000\n")
    assert spoil(no_first_feeds_at_night, unit).empty


def test_policy_starts_touch_what_the_measure_reads(tmp_path: Path) -> None:
    policy = '[[policy]]\nmeasure = "hepatitis_b_birth_dose"\nfrom = 2026-01-01\nat_most = 60\n'
    starts: Any = policy_starts([own_unit(tmp_path, policy)], read_measures())
    names = {name for _, name, start in starts if start == "2026-01-01"}
    assert "hepatitis_b_vaccine" in names
    assert "first_feed" not in names

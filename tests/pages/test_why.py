"""Why it was missed: the splits, the sentence, and the two pictures of cold arrivals."""

import doctest
import math
from pathlib import Path

import duckdb
import pandas as pd
import pytest
from scipy.stats import norm

from pipelines.base.errors import DeclarationError
from pipelines.base.frames import rows_of
from pipelines.base.store_file import open_store
from pipelines.definitions.causes import causes
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.review.read import read_review
from pipelines.pages.review.why import charts as why_charts
from pipelines.pages.review.why import cold_factors
from pipelines.pages.review.why import read as why
from pipelines.pages.review.why import words as why_words
from pipelines.stages.judged.cause_reviews import apply_cause_reviews, read_cause_reviews
from tests.conftest import Built

from .make_fair import UNIT, make_fair_store
from .test_gaps import katz


def test_examples_in_docstrings() -> None:
    result = doctest.testmod(why_words)
    assert result.attempted > 0
    assert result.failed == 0


@pytest.fixture(scope="module")
def missed(tmp_path_factory: pytest.TempPathFactory) -> why.WhyData:
    store = make_fair_store(tmp_path_factory.mktemp("why") / "why.duckdb")
    return why.read_why(store, read_review(store, UNIT))


def counts(*rows: tuple[str, str, int, int, int]) -> pd.DataFrame:
    """Return counts of (split, level, newborns, late, not documented)."""
    frame = pd.DataFrame(
        rows, columns=["split_by", "level", "denominator", "late", "not_documented"]
    )
    frame[["not_done", "not_met", "unusable"]] = 0
    frame["counted"] = frame["denominator"] - frame["not_documented"]
    return frame.assign(met=frame["denominator"] - frame["late"] - frame["not_documented"])


def test_a_level_is_compared_with_the_rest_of_its_split() -> None:
    """14 of 70 missed against 32 of 80: Newcombe's example (1998, from memory)."""
    rows = why.with_shares(
        counts(
            ("hour_of_birth", "a", 70, 10, 4),
            ("hour_of_birth", "b", 80, 20, 12),
            ("birth_place", "c", 25, 5, 0),
            ("birth_place", "d", 125, 30, 11),
        ),
        "higher",
    ).set_index("level")
    assert rows.loc["b", "missed"] == 32
    assert rows.loc["b", "difference"] == pytest.approx(32 / 80 - 14 / 70)
    assert rows.loc["b", "lower"] == pytest.approx(0.0524, abs=6e-5)
    assert rows.loc["b", "upper"] == pytest.approx(0.3339, abs=6e-5)
    assert rows.loc[["c", "d"], "difference"].isna().all()  # 25 are too few to compare


def test_harm_is_counted_among_those_that_its_rate_counts() -> None:
    rows = why.with_shares(counts(("shift", "a", 60, 0, 20), ("shift", "b", 60, 0, 0)), "lower")
    assert list(rows["missed"]) == [40, 60]
    assert list(rows["base"]) == [40, 60]


def test_the_planted_hour_is_named_with_its_interval(missed: why.WhyData) -> None:
    assert missed.has_urgent
    shown = missed.measures[missed.measures["measure_id"] == "vitamin_k"]
    (row,) = rows_of(shown, MeasureRow)
    levels = missed.levels[missed.levels["measure_id"] == "vitamin_k"]
    said = why_words.sentence(row, levels)
    assert "hour of birth, 00:00 to 03:59" in said
    assert "95 % interval" in said
    assert "by chance alone" in said
    assert "not why" in said


def test_nothing_is_said_to_differ_where_nothing_does() -> None:
    even = why.with_shares(
        counts(("hour_of_birth", "a", 100, 20, 0), ("hour_of_birth", "b", 100, 20, 0)), "higher"
    )
    said = why_words.sentence({"direction": "higher", "kind": "proportion"}, even)
    assert said.startswith("No group stands out")


def test_states_sum_to_the_newborns(missed: why.WhyData) -> None:
    levels = missed.levels
    total = levels[["met", *why.STATES]].sum(axis=1)
    assert (total == levels["denominator"]).all()
    by_split = levels.groupby(["measure_id", "split_by"])["denominator"].sum().unstack()
    assert (by_split.nunique(axis=1) == 1).all()


def test_what_is_not_known_is_hatched_and_known_states_differ_without_colour() -> None:
    from pipelines.drawing.theme import LIGHT

    unknown = {why_charts.LOOKS[name] for name in ("not_documented", "unusable")}
    assert {fill for fill, _ in unknown} == {LIGHT["unknown"]}
    fills = [why_charts.LOOKS[name][0] for name in ("late", "not_done", "not_met")]
    assert len(set(fills)) == 3
    assert len(unknown) == 2


COLD = pd.DataFrame(
    {
        "record_id": [f"r{place}" for place in range(120)],
        "band": ["mild"] * 30 + ["colder"] * 10 + ["in_range"] * 80,
        **{name: [None] * 120 for name in cold_factors.FACTORS},
        "caesarean": [True] * 18 + [False] * 10 + [None] * 2
        + [True] * 8 + [False] * 2 + [True] * 20 + [False] * 60,
    }
)  # fmt: skip


def test_assigned_causes_sum_to_the_newborns_and_the_fixed_bars_stand_last() -> None:
    reviews = pd.DataFrame(
        {"record_id": ["r0", "r1", "r31"], "cause": ["moved", "moved", "cold_room"]}
    )
    found = cold_factors.assigned_causes(COLD, reviews)
    assert found.groupby("band")["newborns"].sum().to_dict() == {"mild": 30, "colder": 10}
    for _, rows in found.groupby("band"):
        assert list(rows["cause"].tail(2)) == ["no_factor_found", "not_reviewed"]
    mild = found[found["band"] == "mild"].set_index("cause")["newborns"]
    assert mild.to_dict() == {"moved": 2, "no_factor_found": 0, "not_reviewed": 28}


def test_a_factor_is_compared_with_newborns_in_range() -> None:
    """18 of 28 recorded against 20 of 80, by the formula of Katz et al. 1978."""
    found = cold_factors.factor_shares(COLD).set_index(["factor", "band"])
    mild = found.loc[("caesarean", "mild")]
    assert (mild["present"], mild["recorded"], mild["not_recorded"]) == (18, 28, 2)
    assert mild["ratio"] == pytest.approx((18 / 28) / (20 / 80))
    assert (mild["ratio_lower"], mild["ratio_upper"]) == pytest.approx(katz((18, 28), (20, 80)))
    assert math.isnan(found.loc[("caesarean", "colder"), "ratio"])  # ten are too few
    assert math.isnan(found.loc[("night", "mild"), "ratio"])  # recorded for nobody


def test_factors_are_recounted_from_the_public_views(clean: Built) -> None:
    """Room temperature and drying, again in pandas from newborn, event and membership."""
    data = read_review(clean.store, "quillmere")
    read = why.read_why(clean.store, data)
    with open_store(clean.store) as store:
        bands = store.execute(
            "select newborn_id, max(measure_id = 'arrival_cold_mild' and state = 'met') as mild, "
            "max(measure_id = 'arrival_temperature' and state = 'met') as in_range from membership "
            "where unit = 'quillmere' and period > $1::date - interval 12 month and period <= $1 "
            "group by newborn_id",
            [data.month.date()],
        ).df()
        newborns = store.execute("select newborn_id, room_temperature_c from newborn").df()
        drying = store.execute(
            "select newborn_id, min(minutes) as dried from event "
            "where kind = 'drying' and status = 'done' group by newborn_id"
        ).df()
    rows = bands.merge(newborns, on="newborn_id").merge(drying, on="newborn_id", how="left")
    found = read.cold.factors.set_index(["factor", "band"])
    mild, warm = rows[rows["mild"]], rows[rows["in_range"]]
    room = found.loc[("room_cold", "mild")]
    assert room["present"] == (mild["room_temperature_c"] < 23).sum() > 0
    assert room["recorded"] == mild["room_temperature_c"].notna().sum()
    assert room["in_range_present"] == (warm["room_temperature_c"] < 23).sum()
    assert found.loc[("not_dried", "mild"), "in_range_recorded"] >= warm["dried"].notna().sum() > 0
    assert float(norm.ppf(0.975)) == pytest.approx(1.96, abs=1e-2)


def write(folder: Path, text: str) -> Path:
    path = folder / "causes.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_reviews_are_read_and_kept_with_whether_they_match(tmp_path: Path) -> None:
    path = write(tmp_path, "record_id,cause,role\nA,moved,nurse\nB,,nurse\nC,unwell,nurse\n")
    reviews = read_cause_reviews(path, "u")
    assert [(one.record_id, one.cause) for one in reviews] == [("A", "moved"), ("C", "unwell")]
    with duckdb.connect() as store:
        store.execute("create schema judged; create schema typed")
        store.execute("create table typed.admission as select 'u' as unit, 'A' as record_id")
        apply_cause_reviews(store, reviews)
        found = store.execute("select record_id, is_found from judged.cause_review").fetchall()
        assert found == [("A", True), ("C", False)]
        apply_cause_reviews(store, [])
        assert store.execute("select * from judged.cause_review").fetchall() == []


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("record_id,cause,role\nA,movd,nurse\n", r"line 2: cause 'movd' is not known.*moved"),
        ("record_id,cause,rol\nA,moved,nurse\n", r"line 1: column 'rol' is not known.*role"),
        ("record_id,cause\nA,moved\n", r"line 1: column 'role' is missing"),
        ("record_id,cause,role\n,moved,nurse\n", r"line 2: 'record_id' is empty"),
        ("record_id,cause,role\nA,moved,n\nA,unwell,n\n", r"lines 2 and 3 review the same newborn"),
    ],
)
def test_a_slip_in_the_file_of_reviews_is_named(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(DeclarationError, match=message):
        read_cause_reviews(write(tmp_path, text), "u")
    with pytest.raises(DeclarationError, match="no such file"):
        read_cause_reviews(tmp_path / "none.csv", "u")


def test_what_stands_last_may_be_assigned_and_what_is_open_may_not() -> None:
    assert cold_factors.NO_FACTOR in causes()
    assert cold_factors.NOT_REVIEWED not in causes()

"""The words: no blame, the doubt is said, missing is not done badly."""

import doctest
from pathlib import Path

import pandas as pd
import pytest

from pipelines.base.errors import LanugoError, StoreError
from pipelines.base.frames import rows_of
from pipelines.pages.review import first_screen as sentences
from pipelines.pages.review import head, reason_words, records
from pipelines.pages.review import read as review
from pipelines.pages.review.frames import MeasureRow
from pipelines.reading import months as which_month
from pipelines.reading.needed import needed_values
from pipelines.words import of_measures, of_numbers

from .make_store import UNIT

MODULES = (of_numbers, reason_words, which_month)


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_examples_in_docstrings(module: object) -> None:
    result = doctest.testmod(module)  # type: ignore[arg-type]
    assert result.attempted > 0
    assert result.failed == 0


@pytest.mark.parametrize(("rate", "expected"), [(0.999, "99.9 %"), (0.0004, "0.1 %"), (1, "100 %")])
def test_percent_never_rounds_to_all_or_none(rate: float, expected: str) -> None:
    assert of_numbers.percent(rate).replace(of_numbers.SPACE, " ") == expected


@pytest.fixture(scope="module")
def data(fake_store: Path) -> review.ReviewData:
    return review.read_review(fake_store, UNIT)


def row_of(data: review.ReviewData, measure_id: str) -> MeasureRow:
    found = data.measures[data.measures["measure_id"] == measure_id]
    return rows_of(found, MeasureRow)[0]


def test_counts_of_the_page_are_those_of_the_store(
    data: review.ReviewData, fake_store: Path
) -> None:
    """n of N recounted from the membership rows, measure by measure."""
    import duckdb

    with duckdb.connect(str(fake_store), read_only=True) as store:
        counted = store.execute(
            """
            select
                measure_id,
                count(*) filter (where state = 'met') as met,
                count(*) filter (
                    where state not in ('exclusion', 'exception')
                    and not (missing = 'left_out' and state in ('not_documented', 'unusable'))
                ) as of,
            from membership
            inner join measure_info using (measure_id)
            where period = ?
            group by measure_id
            """,
            [data.month.date()],
        ).fetchall()
    page = data.measures[data.measures["initial_population"] > 0]
    columns = ["measure_id", "numerator", "counted"]
    assert sorted(page[columns].itertuples(index=False, name=None)) == sorted(counted)


def test_sentences_carry_their_numbers(data: review.ReviewData) -> None:
    vitamin_k = row_of(data, "vitamin_k")
    reading = of_measures.reading(vitamin_k)
    assert vitamin_k["change"] == "worse"
    lines = {line.subject: line for line in head.lines(data)}
    assert reading in lines["Vitamin K within 6 hours"].fact
    assert "Luck alone would give" in lines["Vitamin K within 6 hours"].sure
    assert "most often missing: Vitamin K within 6 hours" in sentences.trust(data)
    usable, needed = needed_values(data.measures)
    assert f"{of_numbers.count(usable)} of {of_numbers.count(needed)}" in sentences.trust(data)


@pytest.mark.parametrize(
    ("rate", "target", "expected"),
    [
        (206 / 230, 0.9, "89.6 %"),  # both would read 90 %
        (0.9, 0.9, "90 %"),
        (206 / 230, 0.95, "90 %"),
        (206 / 230, None, "90 %"),
        (None, 0.9, of_numbers.NONE),
    ],
)
def test_a_percent_short_of_its_target_does_not_read_like_it(
    data: review.ReviewData, rate: float | None, target: float | None, expected: str
) -> None:
    """Worked by hand."""
    row = rows_of(data.measures.head(1), MeasureRow)[0]
    row["rate"], row["target"] = rate, target
    assert of_measures.rate_words(row).replace(of_numbers.SPACE, " ") == expected


def test_groups_follow_the_nurse_and_urgent_rows_come_first(data: review.ReviewData) -> None:
    groups = list(dict.fromkeys(data.measures["group_name"]))
    assert groups == [name for name in review.GROUPS if name in groups]
    assert (data.measures.groupby("group_name", sort=False)["rank"].diff().fillna(0) >= 0).all()


def test_every_newborn_with_a_reason_is_named_sampled_or_counted(data: review.ReviewData) -> None:
    listed = records.records_to_read(data)
    rows = data.record_measures
    rows = rows[~rows["measure_id"].isin(data.left_to_unit["measure_id"])]
    now = set(listed.loc[listed["tier"] == "read_now", "record_id"])
    told = rows[(rows["level"] != "sentinel")].groupby(["measure_id", "level"])["record_id"]
    by_measure = records.counted(data).set_index(["measure_id", "level"])["newborns"]
    assert dict(told.nunique()) == dict(by_measure)
    assert now == set(rows.loc[rows["level"] == "sentinel", "record_id"])


def test_a_family_that_declined_is_not_listed_as_a_failure(data: review.ReviewData) -> None:
    assert "exception" not in set(data.record_measures["state"])


def test_month_that_is_not_there_is_said(fake_store: Path) -> None:
    with pytest.raises(StoreError, match=r"2030-01.*2024-05 to 2026-04"):
        review.read_review(fake_store, UNIT, "2030-01")
    with pytest.raises(LanugoError, match="write it as 2026-04"):
        review.read_review(fake_store, UNIT, "April")


def test_unit_that_is_not_there_is_said(fake_store: Path) -> None:
    with pytest.raises(StoreError, match=f"Did you mean '{UNIT}'"):
        review.read_review(fake_store, "fern_holow")


def test_a_part_of_a_month_is_not_the_last_full_month() -> None:
    starts = pd.date_range("2026-01-01", periods=7, freq="MS")
    months = pd.DataFrame({"month": starts, "births": [60, 62, 58, 61, 60, 59, 12]})
    assert which_month.last_full_month(months, None) == pd.Timestamp("2026-06-01")
    loaded = pd.Timestamp("2026-06-20")
    assert which_month.last_full_month(months, loaded) == pd.Timestamp("2026-05-01")


def test_the_strongest_signal_is_told_first(data: review.ReviewData) -> None:
    rows = data.measures.head(3).assign(
        change=["better", "same", "worse"],
        strength=[3.2, float("nan"), 7.5],
        by_luck=[0.02, float("nan"), 0.001],
    )
    assert sentences.strongest(rows)["strength"].tolist() == [7.5, 3.2]

"""The fair-care page: a planted gap is found, none is invented, and the words are careful."""

import doctest
import shutil
from collections.abc import Callable
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pytest

from pipelines.base.errors import StoreError
from pipelines.base.store_file import open_store
from pipelines.definitions.strata import FAMILY
from pipelines.pages.fair import read as fair
from pipelines.pages.fair import words as fair_words
from pipelines.pages.fair.read import FairData, read_fair
from pipelines.reading import gaps
from pipelines.words.caution import CLOSING
from tests.conftest import Built

from .make_fair import UNIT, make_fair_store
from .make_store import HOSTILE
from .test_page import LINKS, Tags
from .visit import WIDTHS, Visit


@pytest.fixture
def store(fake_fair_store: Path) -> Path:
    return fake_fair_store


@pytest.fixture(scope="module")
def data(fake_fair_store: Path) -> FairData:
    return read_fair(fake_fair_store, UNIT)


@pytest.fixture(scope="module")
def text(fake_fair: Path) -> str:
    return fake_fair.read_text(encoding="utf-8")


def found_in(rows: pd.DataFrame) -> set[tuple[str, str]]:
    out = fair.standing_out(rows, FAMILY)
    return set(zip(out["measure_id"], out["stratum"], strict=True))


def test_examples_in_docstrings() -> None:
    result = doctest.testmod(fair_words)
    assert result.attempted > 0
    assert result.failed == 0


def test_a_planted_gap_is_found_and_said_first(data: FairData) -> None:
    assert ("vitamin_k", "Spanish") in found_in(data.strata)
    first = fair_words.first_answer(data)
    assert "Vitamin K within 6 hours, Spanish" in first
    assert "lower" in first


def test_a_planted_difference_in_refusals_is_found(data: FairData) -> None:
    declined = data.reasons[data.reasons["outcome"] == fair.DECLINED]
    assert ("hepatitis_b_negative", "Spanish") in found_in(declined)
    assert "problem of consent" in fair_words.second_answer(data)


def test_no_gap_is_invented_where_none_is_planted(tmp_path: Path) -> None:
    """At most what chance allows: twice the expected number, over all comparisons of families."""
    plain = read_fair(make_fair_store(tmp_path / "plain.duckdb", planted=False), UNIT)
    family = plain.strata[plain.strata["stratifier"].isin(list(FAMILY))]
    found = found_in(family)
    assert fair.compared(family) > 50
    assert len(found) <= 2 * gaps.by_chance(fair.compared(family))
    assert ("vitamin_k", "Spanish") not in found
    assert "by chance alone" in fair_words.third_answer(plain)


def test_counts_are_recounted_from_membership(clean: Built) -> None:
    """Numerator and counted of every stratum, again from membership and newborn in pandas."""
    read = read_fair(clean.store, "quillmere")
    with open_store(clean.store) as connection:
        rows = connection.execute(
            "select measure_id, state, missing, language from membership "
            "inner join newborn using (newborn_id, unit) "
            "inner join measure_info using (measure_id) "
            "where unit = 'quillmere' and kind <> 'minutes' and period is not null"
        ).df()
    rows["stratum"] = rows["language"].fillna("not recorded")
    is_left = rows["missing"].eq("left_out") & rows["state"].isin(["not_documented", "unusable"])
    rows = rows[~rows["state"].isin(["exclusion", "exception"]) & ~is_left]
    rows["met"] = rows["state"].eq("met")
    expected = rows.groupby(["measure_id", "stratum"])["met"].agg(["sum", "size"])
    ours = read.strata[read.strata["stratifier"] == "language"]
    ours = ours.set_index(["measure_id", "stratum"])[["numerator", "counted"]]
    assert len(ours) > 30
    joined = ours.join(expected)
    assert (joined["numerator"] == joined["sum"]).all()
    assert (joined["counted"] == joined["size"]).all()


def test_design_effect_is_that_of_a_library(clean: Built) -> None:
    """Against cluster-robust variance of a mean (statsmodels OLS, cov_type cluster)."""
    import statsmodels.api as sm

    read = read_fair(clean.store, "quillmere")
    found = read.strata.dropna(subset=["design"]).groupby("measure_id")["design"].first()
    name = "full_minute_counts" if "full_minute_counts" in found else found.index[0]
    with open_store(clean.store) as connection:
        rows = connection.execute(
            "select newborn_id, state = 'met' as met from membership "
            "inner join measure_info using (measure_id) where unit = 'quillmere' "
            "and measure_id = ? and state not in ('exclusion', 'exception') and period is not null "
            "and not (missing = 'left_out' and state in ('not_documented', 'unusable'))",
            [name],
        ).df()
    met = rows["met"].to_numpy(float)
    fit = sm.OLS(met, np.ones(len(met))).fit(
        cov_type="cluster", cov_kwds={"groups": rows["newborn_id"], "use_correction": False}
    )
    newborns = rows["newborn_id"].nunique()
    clustered = float(fit.cov_params()[0, 0]) * newborns / (newborns - 1)
    expected = clustered / (met.mean() * (1 - met.mean()) / len(met))
    assert found[name] == pytest.approx(expected, rel=1e-6)


def test_parts_sum_to_the_whole(data: FairData) -> None:
    sums = data.strata.groupby(["measure_id", "stratifier"])[["numerator", "counted"]].sum()
    whole = data.strata.groupby(["measure_id", "stratifier"])[["all_numerator", "all_counted"]]
    assert (sums.to_numpy() == whole.first().to_numpy()).all()


def test_not_recorded_is_a_stratum_and_stands_last(data: FairData) -> None:
    language = data.strata[
        (data.strata["stratifier"] == "language") & (data.strata["measure_id"] == "vitamin_k")
    ]
    assert list(language["stratum"]) == ["English", "Spanish", "not recorded"]


def test_small_groups_have_no_gap_and_nothing_is_ranked(data: FairData, text: str) -> None:
    rare = data.strata[data.strata["stratum"] == "Rare payer"]
    assert len(rare) > 0
    assert rare["is_few"].all()
    assert rare["gap"].isna().all()
    assert "fewer than 30: no gap given" in text
    order = [
        list(rows["stratum"])
        for _, rows in data.strata[data.strata["stratifier"] == "payer"].groupby("measure_id")
    ]
    assert all(strata == sorted(strata) for strata in order)


def test_the_words_are_careful(text: str) -> None:
    for words in (
        "A gap is a question, not a verdict",
        "not for biology",
        "would be marked by chance alone",
        "can be a problem of consent",
        "Newcombe 1998",
        CLOSING,
    ):
        assert words in text


def test_text_of_an_export_is_never_markup(text: str) -> None:
    tags = Tags(text).tags
    assert HOSTILE not in text
    assert text.count("&lt;img src=x") > 3
    assert not any(tag == "img" for tag, _ in tags)
    links = [value for _, attrs in tags for name, value in attrs.items() if name in LINKS]
    assert all((value or "").startswith("#") for value in links)
    ids = [attrs["id"] for _, attrs in tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    places = {f"#{one}" for one in ids}
    assert {attrs["href"] for tag, attrs in tags if tag == "a"} <= places


def test_a_store_without_strata_is_said(store: Path, tmp_path: Path) -> None:
    bare = Path(shutil.copy(store, tmp_path / "bare.duckdb"))
    with duckdb.connect(str(bare)) as connection:
        connection.execute("delete from result where stratifier <> 'all newborns'")
    with pytest.raises(StoreError, match="Build it again"):
        read_fair(bare, UNIT)


def test_a_store_with_newborns_of_another_form_is_said(store: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.duckdb"
    shutil.copy(store, other)
    with duckdb.connect(str(other)) as connection:
        connection.execute("alter table newborn drop column payer")
    with pytest.raises(StoreError, match=r"does not have a column.*Build it again"):
        read_fair(other, UNIT)


def test_a_unit_that_is_not_there_is_said(store: Path) -> None:
    with pytest.raises(StoreError, match=f"Did you mean '{UNIT}'"):
        read_fair(store, "fern_holow")


@pytest.mark.browser
@pytest.mark.parametrize("page_name", ["fake_fair"])
@pytest.mark.parametrize("width", WIDTHS)
def test_drawn_whole_and_quiet(
    visited: Callable[[str, int], Visit], page_name: str, width: int
) -> None:
    visit = visited(page_name, width)
    marked = [one for one in visit.charts if one["symbols"] > 0]
    assert len(visit.charts) == len(marked) > 10
    assert visit.over_px <= 0
    assert visit.outside == []
    assert visit.title != "broken"
    assert visit.console == []

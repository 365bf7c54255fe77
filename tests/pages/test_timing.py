"""How long it took: the curves, their censoring, the words, and the minutes by month."""

import doctest
import json
import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from pipelines.base.store_file import open_store
from pipelines.pages.review.read import ReviewData, read_review
from pipelines.pages.review.timing import charts as timing_charts
from pipelines.pages.review.timing import read as timing
from pipelines.pages.review.timing import sections as timing_tables
from pipelines.pages.review.timing import words as timing_words
from pipelines.pages.review.timing.read import Timed, TimingData
from pipelines.pages.shell import markup as shell_parts
from pipelines.statistics import survival
from pipelines.words import of_numbers
from tests.conftest import Built

LAST = pd.Timestamp("2026-04-01")


def waits(*rows: tuple[Any, ...], month: str = "2026-04-01") -> pd.DataFrame:
    """Return newborns as (state, minutes, left, birth), with a window of 60 minutes."""
    frame = pd.DataFrame(rows, columns=["state", "minutes", "left_minutes", "birth"])
    return frame.assign(
        month=pd.Timestamp(month),
        minutes=frame["minutes"].astype(float),
        left_minutes=frame["left_minutes"].astype(float),
        due_minutes=60.0,
        is_apart=frame["state"].isin(["exclusion", "exception"]),
    )


def one_of(frame: pd.DataFrame) -> Timed:
    found = timing.time_one(frame, "x", "A measure", 0.0, LAST)
    assert found is not None
    return found


def drawn(chart: Any) -> str:
    """Return the picture as SVG, drawn without a browser."""
    import vl_convert

    spec = chart.to_dict()
    assert not re.search(r"\bNaN\b|\bInfinity\b", json.dumps(spec))
    return str(vl_convert.vegalite_to_svg({**spec, "width": 400}))


def texts(svg: str) -> list[str]:
    return re.findall(r">([^<>]+)</text>", svg)


def test_examples_in_docstrings() -> None:
    result = doctest.testmod(timing_words)
    assert result.attempted > 0
    assert result.failed == 0


def test_until_when_each_newborn_is_watched() -> None:
    frame = waits(
        ("met", 20, None, "vaginal"),
        ("late", 500, None, "vaginal"),  # beyond the picture: still waiting at its end
        ("not_documented", None, None, "vaginal"),
        ("not_documented", None, 90, "vaginal"),  # went home or was transferred
        ("not_done", None, 3000, "vaginal"),
        ("met", 30, 10, "vaginal"),  # a time on record counts, whatever else is said
    )
    times, seen = timing.watched(frame, 180)
    assert times.tolist() == [20, 180, 180, 90, 180, 30]
    assert seen.tolist() == [True, False, False, False, False, True]


def many(number: int, *row: Any) -> list[tuple[Any, ...]]:
    return [row] * number


def test_kinds_of_birth_are_drawn_apart_where_both_have_twenty() -> None:
    vaginal, caesarean = (
        many(30, "met", 20, None, "vaginal"),
        many(20, "late", 70, None, "caesarean"),
    )
    both = one_of(waits(*vaginal, *caesarean, *many(3, "met", 5, None, "not recorded")))
    assert [group.name for group in both.groups] == ["vaginal", "caesarean"]
    assert timing.differs(both.by_birth)
    assert both.birth_not_recorded == 3
    assert (both.met, both.whole.curve.newborns) == (33, 53)
    few = one_of(waits(*vaginal, *caesarean[:19]))
    assert [group.name for group in few.groups] == [timing.ALL]
    assert few.by_birth.p_value is None
    assert "not compared, fewer than 20" in " ".join(timing_words.doubts(few))


def test_the_last_three_months_stand_against_those_before() -> None:
    early = waits(*many(40, "met", 20, None, "vaginal"), month="2026-01-01")
    late = waits(*many(40, "late", 70, None, "vaginal"), month="2026-02-01")
    assert timing.differs(one_of(pd.concat([early, late])).by_time)
    same = pd.concat([early, early.assign(month=pd.Timestamp("2026-02-01"))])
    assert not timing.differs(one_of(same).by_time)
    alone = one_of(late).by_time
    assert (alone.p_value, alone.reason) == (None, survival.ONE_GROUP)


def test_whoever_has_no_time_is_said_and_both_readings_given() -> None:
    rows = [*many(60, "met", 20, None, "vaginal"), *many(20, "late", 80, None, "vaginal")]
    rows += [
        *many(15, "not_documented", None, None, "vaginal"),
        *many(5, "unusable", None, None, "vaginal"),
    ]
    one = one_of(waits(*rows, *many(7, "exception", None, None, "vaginal")))
    said = " ".join([timing_words.plain_words(one), *timing_words.doubts(one)]).replace("\xa0", " ")
    assert "60 of 100 newborns (60 %, 95 % interval 50 to 69 %)" in said  # Wilson, by hand
    assert "20 of them (20 %) have no usable time" in said
    assert "not documented 15" in said
    assert "were they like the rest, it would be 75 %" in said
    assert "7 newborns set apart" in said


def test_a_window_that_moved_or_differs_is_said_not_guessed() -> None:
    rows = many(40, "met", 20, None, "vaginal")
    moved = pd.concat(
        [waits(*rows, month="2026-01-01").assign(due_minutes=30.0), waits(*rows)],
        ignore_index=True,
    )
    assert "window was another" in " ".join(timing_words.doubts(one_of(moved)))
    mixed = waits(*rows)
    mixed["due_minutes"] = [5.0, 15.0] * 20
    one = one_of(mixed)
    assert one.whole.due is None
    assert timing_words.window_words(one.whole) == ""
    assert "window" not in " ".join(texts(drawn(timing_charts.curves(one))))


def test_a_window_that_opens_later_is_shaded_from_there() -> None:
    frame = waits(*many(40, "met", 45, None, "vaginal"))
    one = timing.time_one(frame, "x", "A measure", 30.0, LAST)
    assert one is not None
    assert timing_words.window_words(one.whole) == "30 to 60 min"
    bands = [
        rows
        for rows in timing_charts.curves(one).to_dict()["datasets"].values()
        if set(rows[0]) == {"start", "due"}
    ]
    assert bands == [[{"start": 30.0, "due": 60.0}]]


@pytest.mark.parametrize(
    "rows",
    [
        many(30, "not_documented", None, None, "vaginal"),
        many(1, "met", 0, None, "caesarean"),
        many(25, "met", 12, None, "vaginal"),
        [*many(20, "unusable", None, None, "vaginal"), *many(20, "met", 9, None, "caesarean")],
    ],
)
@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_nothing_odd_reaches_the_page(rows: list[tuple[Any, ...]]) -> None:
    one = one_of(waits(*rows))
    data = TimingData(LAST, LAST, (one,), pd.DataFrame({"title": [], "period_kind": []}))
    said = " ".join(
        [timing_words.finding(one), *timing_words.doubts(one), timing_words.curve_text(one)]
    )
    said += (
        " ".join(str(line) for line in timing_tables._lines(one)) + timing_tables.intro(data).html
    )
    assert not re.search(r"\bnan\b|None|inf\b", said)
    said_in_picture = texts(drawn(timing_charts.curves(one)))
    assert all(f"{group.curve.newborns}" in said_in_picture for group in one.groups)


def test_everybody_set_apart_is_no_picture() -> None:
    assert timing.time_one(waits(("exclusion", None, None, "vaginal")), "x", "X", 0, LAST) is None


@pytest.fixture(scope="module")
def review(clean: Built) -> ReviewData:
    return read_review(clean.store, "quillmere")


@pytest.fixture(scope="module")
def data(clean: Built, review: ReviewData) -> TimingData:
    return timing.read_timing(clean.store, review)


def test_the_plain_share_is_the_measures_own(clean: Built, data: TimingData) -> None:
    """Against the counts of the results, twelve months summed."""
    with open_store(clean.store) as store:
        result = store.execute(
            "select measure_id, sum(numerator) as met, sum(denominator - exception) as of, "
            "sum(exclusion + exception) as apart from result where unit = 'quillmere' "
            "and period_kind = 'month' and stratifier = 'all newborns' and period_start <= $1 "
            "and period_start > $1::date - interval 12 month group by 1",
            [data.last.date()],
        ).df()
    expected = result.set_index("measure_id")
    assert [one.measure_id for one in data.timed] == list(timing.TIMED)
    for one in data.timed:
        row = expected.loc[one.measure_id]
        assert (one.met, one.whole.curve.newborns, one.apart) == tuple(row[["met", "of", "apart"]])


def test_the_curve_is_counted_again_from_the_public_views(clean: Built, data: TimingData) -> None:
    """Where nobody left before the window closed, the curve there is a plain count."""
    with open_store(clean.store) as store:
        rows = store.execute(
            "select minutes from membership where unit = 'quillmere' "
            "and measure_id = 'first_temperature' and state not in ('exclusion', 'exception') "
            "and period <= $1 and period > $1::date - interval 12 month",
            [data.last.date()],
        ).df()
    one = data.timed[0]
    found = survival.reached(one.whole.curve, 60)
    assert found is not None
    assert found[0] == pytest.approx((rows["minutes"] <= 60).mean())
    assert survival.at_risk(one.whole.times, [0]) == [len(rows)]


def test_windows_of_skin_contact_differ_by_kind_of_birth(data: TimingData) -> None:
    contact = next(one for one in data.timed if one.measure_id == "skin_contact_start")
    assert [(group.name, group.due) for group in contact.groups] == [
        ("vaginal", 5.0),
        ("caesarean", 15.0),
    ]
    said = texts(drawn(timing_charts.curves(contact)))
    assert "vaginal: window to 5 min" in said
    assert "caesarean: window to 15 min" in said


def test_numbers_at_risk_stand_beneath_and_fall(data: TimingData) -> None:
    for one in data.timed:
        said = texts(drawn(timing_charts.curves(one)))
        for group in one.groups:
            waiting = survival.at_risk(group.times, one.ticks)
            assert waiting[0] == group.curve.newborns
            assert waiting == sorted(waiting, reverse=True)
            assert of_numbers.count(waiting[0]) in said


def test_spread_shown_is_that_of_the_minutes(clean: Built, data: TimingData) -> None:
    """Against numpy's centiles of the minutes in the public view."""
    months = data.spread[
        (data.spread["measure_id"] == "minutes_to_first_temperature")
        & (data.spread["period_kind"] == "month")
    ]
    with open_store(clean.store) as store:
        minutes = store.execute(
            "select minutes from membership where unit = 'quillmere' and period = $1 "
            "and measure_id = 'minutes_to_first_temperature' and state = 'met'",
            [data.last.date()],
        ).df()["minutes"]
    last = months.iloc[-1]
    assert last["period_start"] == data.last
    assert last["median_minutes"] == pytest.approx(np.quantile(minutes, 0.5))
    assert last["p90_minutes"] == pytest.approx(np.quantile(minutes, 0.9))
    said = timing_words.spread_finding(months)
    assert f"at most {math.floor(last['median_minutes'] + 0.5)} " in said, (
        "whole minutes, a half up"
    )
    quarters = data.spread[data.spread["period_kind"] == "quarter"]["period_start"]
    assert len(quarters) > 0
    assert (quarters + pd.DateOffset(months=2) <= data.last).all()  # whole ones only


def test_the_section_is_shown_and_whole(data: TimingData, monkeypatch: Any) -> None:
    shown: list[Any] = []
    monkeypatch.setattr(
        timing_tables, "show", lambda one, **metadata: shown.append((one, metadata))
    )
    timing_tables.show_curves(data)
    timing_tables.show_spread(data)
    html = "".join(one.html for one, _ in shown if isinstance(one, shell_parts.Part))
    panels = [metadata.get("panel") for _, metadata in shown]
    assert panels.count("open") == panels.count("close") == 3 + data.spread["title"].nunique()
    assert not re.search(r"\bnan\b|None", html)
    assert html.count("<details>") == html.count("</details>") == panels.count("open")
    assert "log-rank" in html
    intro = timing_tables.intro(data).html
    assert timing_words.CENSORING in intro
    assert "6 comparisons of curves; about 0.06 would" in intro  # three measures, 1 in 100 each
    for one, _ in shown:
        if not isinstance(one, shell_parts.Part):
            assert "mark-symbol" in drawn(one)


def test_a_measure_that_is_not_there_is_left_out(clean: Built, review: ReviewData) -> None:
    assert timing.read_timing(clean.store, review, ("no_such_measure",)).timed == ()


def test_a_store_without_the_newer_columns_still_has_its_page(fake_store: Path) -> None:
    """The fabricated store's newborns have no mode of birth and no time of leaving."""
    found = timing.read_timing(fake_store, read_review(fake_store, "fern_hollow"))
    assert [one.measure_id for one in found.timed] == ["first_temperature", "vitamin_k"]
    assert all(len(one.groups) == 1 for one in found.timed)

"""Rare and unwanted: which measures, what their months say, and what a reader concludes."""

import doctest
import json
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from pipelines.base.frames import columns_of
from pipelines.base.store_file import open_store
from pipelines.pages.review.harm import charts as harm_charts
from pipelines.pages.review.harm import sections as harm_sections
from pipelines.pages.review.harm import words as harm_words
from pipelines.pages.review.read import read_review
from pipelines.reading import harms as harm
from pipelines.reading import life
from pipelines.reading.harms import HarmData
from pipelines.reading.judged import read_judged
from pipelines.statistics import rare_harm
from tests.conftest import Built

from .conftest import OWN_UNIT
from .read_numbers import plain, read, statements, tables

LAST = pd.Timestamp("2026-10-01")
BLAME = re.compile(r"\b(fault|error|mistake|failed|failure|guilty|blame|negligent|poor)\b", re.I)


def newborns(events: Sequence[int], births: int = 100) -> pd.DataFrame:
    """Return so many events in each month, the last of them October 2026, among so many births."""
    months = pd.date_range(end=LAST, periods=len(events), freq="MS")
    frame = pd.DataFrame({"month": months.repeat(births)})
    place = np.tile(np.arange(births), len(events))
    frame["happened"] = place * np.repeat(events, births) % births < np.repeat(events, births)
    return frame.assign(
        measure_id="back_again",
        gestation_band="37 weeks or more",
        mode_of_birth=np.where(place % 3, "vaginal", "caesarean_planned"),
        birth_place="birth_room",
    )


def one_of(*events: int) -> harm.Harm:
    found = harm.harm_of("back_again", "Back again", newborns(events))
    assert found is not None
    return found


def data_of(*harms: harm.Harm, too_few: tuple[tuple[str, int], ...] = ()) -> HarmData:
    return HarmData(LAST, harms, too_few)


QUIET = (1,) * 24
WORSE = (*(1,) * 18, *(5,) * 6)


def test_examples_in_docstrings() -> None:
    for module in (harm_words, harm):
        assert doctest.testmod(module).failed == 0


def test_a_quiet_measure_is_said_to_be_no_more_than_chance() -> None:
    data = data_of(one_of(*QUIET))
    assert data.harms[0].signals == ()
    told = plain(" ".join(harm_words.intro(data)))
    assert "None of 1 measure came more often than expected in the last 12 months." in told
    assert plain(harm_words.twelve_words(data.harms[0])) == "12 of 1200 newborns"
    assert harm_words.twelve_expected(data.harms[0]) == "12.0"


def test_what_came_more_often_is_named_with_its_months_and_blames_nobody() -> None:
    data = data_of(one_of(*WORSE), one_of(*QUIET))
    signals = data.harms[0].signals
    assert signals and signals[0].month >= pd.Timestamp("2026-05-01")
    assert signals[0].events > 2 * signals[0].expected
    told = plain(" ".join([*harm_words.intro(data), harm_words.finding(data.harms[0], data)]))
    assert f"Back again (signal of {signals[-1].month:%B %Y}) came more often than expected" in told
    assert "not what" in told and not BLAME.search(told)
    one = signals[0]
    assert f"{one.events} of {one.newborns} newborns, {one.expected:.1f} expected" in told


def test_a_signal_of_more_than_a_year_ago_is_no_news() -> None:
    data = data_of(one_of(*(1,) * 12, *(5,) * 5, *(1,) * 14))
    assert data.harms[0].signals
    assert harm_words.now_words(data.harms[0], data) == harm_words.WITHIN


def test_too_few_events_are_said_and_not_judged() -> None:
    assert harm.harm_of("back_again", "Back again", newborns((0,) * 30)) is None
    assert harm.harm_of("back_again", "Back again", newborns((0,) * 30).head(0)) is None
    told = plain(" ".join(harm_words.intro(data_of(too_few=(("Fall, or collapse", 3),)))))
    assert "No sum yet: Fall, or collapse (3 in all)." in told


NO_LINES = pd.DataFrame(columns=list(columns_of(life.LineRow)))
NO_CHANGES = pd.DataFrame({"kind": [], "start_on": pd.to_datetime([])})


def accepted(level_from: str) -> pd.DataFrame:
    line = {"step": "accepted", "level_from": pd.Timestamp(level_from)}
    return pd.DataFrame([line], columns=list(columns_of(life.LineRow)))


def test_newborns_before_a_date_of_policy_say_nothing_of_those_after() -> None:
    changes = pd.DataFrame(
        {"kind": ["policy", "change"], "start_on": pd.to_datetime(["2025-05-10", "2026-01-01"])}
    )
    told = newborns(QUIET)
    (start,) = harm._starts(told, changes, NO_LINES)
    assert told.loc[told["month"] >= start, "month"].min() == pd.Timestamp("2025-06-01")
    (start,) = harm._starts(told, changes.tail(1), NO_LINES)
    assert (told["month"] >= start).sum() == 2400


def test_an_accepted_level_is_tried_before_what_was_expected_earlier() -> None:
    """The latest first; one before a date of policy is of another measure and counts no more."""
    told = newborns(QUIET)
    both = pd.concat([accepted("2025-03-01"), accepted("2025-09-01")])
    starts = harm._starts(told, NO_CHANGES, both)
    assert [f"{one:%Y-%m}" for one in starts] == ["2025-09", "2025-03", "2024-11"]
    changes = pd.DataFrame({"kind": ["policy"], "start_on": pd.to_datetime(["2025-05-01"])})
    starts = harm._starts(told, changes, both)
    assert [f"{one:%Y-%m}" for one in starts] == ["2025-09", "2025-05"]


@pytest.mark.parametrize(("since", "begins"), [(24, 24), (6, 0)])
def test_a_new_level_counts_once_it_has_a_baseline(since: int, begins: int) -> None:
    """Until then the sum goes on as before: nobody is without one because a level was accepted."""
    told = newborns((*(1,) * 20, *(4,) * since))
    starts = [LAST - pd.DateOffset(months=since - 1), told["month"].min()]
    one = harm.first_watched("back_again", "Back again", told, starts)
    assert one is not None
    first = LAST - pd.DateOffset(months=begins - 1) if begins else told["month"].min()
    assert one.newborns["month"].min() == first
    assert bool(one.signals) == (begins == 0)
    assert harm.first_watched("back_again", "Back again", told, starts[:1]) is None or begins


def months_of(one: harm.Harm) -> list[pd.Timestamp]:
    return [pd.Timestamp(each) for each in one.months["month"]]


def test_an_alarm_is_there_from_its_month_on_and_not_before() -> None:
    one = one_of(*WORSE)
    first = one.signals[0].month
    for month in months_of(one):
        alarm = one.alarm(month)
        assert (alarm is None) == (month < first), month
        if alarm is not None:
            assert alarm.speaks and alarm.began_on == first and alarm.last_on == month


@pytest.mark.parametrize("stays", [2, 3, 5])
def test_an_alarm_never_falls_silent_while_the_harm_goes_on(stays: int) -> None:
    """Twice as often as before for three years: the sum begins anew, the alarm does not end."""
    one = one_of(*(1,) * 18, *(5,) * 4, *(stays,) * 36)
    first = one.signals[0].month
    for month in months_of(one):
        if month >= first:
            alarm = one.alarm(month)
            assert alarm is not None and alarm.speaks, month


def test_an_alarm_ends_once_it_comes_as_often_as_expected_again() -> None:
    """One a month expected: log(100) / (1 - log 2) = 15 months say so, give or take one event."""
    one = one_of(*(1,) * 18, *(5,) * 4, *(1,) * 20)
    last = one.signals[-1].month
    told = {month: one.alarm(month) for month in months_of(one) if month >= last}
    silent = [month for month, alarm in told.items() if alarm is not None and not alarm.speaks]
    back = LAST - pd.DateOffset(months=19)  # the first month that was as before
    assert back + pd.DateOffset(months=12) <= silent[0] <= back + pd.DateOffset(months=16)
    assert silent == [month for month in told if month >= silent[0]]
    ended = told[silent[-1]]
    assert ended is not None and ended.last_on == silent[0]


def test_an_alarm_that_was_over_and_comes_back_asks_anew() -> None:
    one = one_of(*(1,) * 18, *(6,) * 2, *(0,) * 8, *(6,) * 3)
    first, *_, again = one.signals
    assert first.over_in is not None and first.over_in < again.month
    alarm = one.alarm(LAST)
    assert alarm is not None and alarm.began_on == alarm.spoke_on > first.over_in


@pytest.mark.parametrize("events", [QUIET, WORSE])
def test_the_picture_shows_line_limit_and_every_signal(events: tuple[int, ...]) -> None:
    data = data_of(one_of(*events))
    one = data.harms[0]
    spec = harm_charts.sum_chart(one, data).to_dict()
    text = json.dumps(spec)
    assert not re.search(r"\bNaN\b|\bInfinity\b", text)
    rows: list[dict[str, Any]] = [row for each in spec["datasets"].values() for row in each]
    dots = [row for row in rows if "Sum" in row]
    assert [row["Month"] for row in dots] == [f"{each:%b %y}" for each in one.months["month"]]
    assert f"limit {one.watched.limit.height:.2f}" in text
    diamonds = [each for each in spec["layer"] if each["mark"].get("shape") == "diamond"]
    assert bool(diamonds) == bool(one.signals)
    if one.signals:
        (name,) = [each["data"]["name"] for each in diamonds]
        assert len(spec["datasets"][name]) == len(one.signals)
        assert "more often than expected" in text


@pytest.fixture
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    """A baseline of six months and two events, which a store of one year has."""
    told = {**rare_harm.numbers(), "baseline_months": 6, "fewest_events": 2}
    monkeypatch.setattr(rare_harm, "numbers", lambda: told)


@pytest.mark.build
def test_months_of_the_store_are_counted_anew_from_its_rows(clean: Built, short: None) -> None:
    review = read_review(clean.store, OWN_UNIT)
    data = review.harms
    with open_store(clean.store) as store:
        judged = read_judged(store, OWN_UNIT, review.month)
    names = {row["measure_id"] for row in harm.chosen(judged.info, judged.series)}
    assert "readmission" in names and "first_temperature" not in names
    assert {one.measure_id for one in data.harms} <= names
    assert len(data.harms) + len(data.too_few) == len(names) and data.harms
    with open_store(clean.store) as store:
        for one in data.harms:
            rows = store.execute(
                "select period, count(*), count(*) filter (where state = 'met') from membership "
                "where unit = $1 and measure_id = $2 and is_counted group by 1 order by 1",
                [OWN_UNIT, one.measure_id],
            ).fetchall()
            known = {pd.Timestamp(month): (of, some) for month, of, some in rows}
            for month, of, some in one.months[["month", "newborns", "events"]].to_numpy():
                assert known[pd.Timestamp(month)] == (of, some)
            learned = one.watched.chance[: one.watched.baseline].sum()
            assert learned == pytest.approx(one.watched.events, abs=1e-6)
    (table,) = tables(read(harm_sections.sums(data).html))
    assert [row["Measure"] for row in table.rows] == [one.title for one in data.harms]
    for row, one in zip(table.rows, data.harms, strict=True):
        assert row["Twelve months"] == plain(harm_words.twelve_words(one))
        assert row["Sum, of its limit"] == harm_words.sum_words(one)


@pytest.mark.build
def test_a_store_of_one_year_says_that_there_is_no_sum_yet(whole_review: Path) -> None:
    page = read(whole_review.read_text(encoding="utf-8"))
    told = [one.words for one in statements(page) if one.section == "rare"]
    assert any(words.startswith("No sum yet: ") for words in told)

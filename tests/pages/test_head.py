"""The first screen of a review: at most five lines, the gravest first, true of the page's data."""

import dataclasses
import html
import re
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pandas as pd
import pytest

from pipelines.base.errors import DeclarationError
from pipelines.build.every_stage import build_store
from pipelines.definitions.leading import leading_ids
from pipelines.definitions.read_measures import read_measures
from pipelines.definitions.read_units import find_unit
from pipelines.pages.review import discuss, leading, records, signal_life
from pipelines.pages.review import head as first
from pipelines.pages.review.page import REVIEW
from pipelines.pages.review.read import ReviewData, read_review
from pipelines.reading import harms, judged, standing, verdict
from pipelines.reading.harms import HarmData
from pipelines.words import of_verdicts

from .make_change import WORSE
from .make_store import UNIT


@pytest.fixture(scope="module")
def data(fake_store: Path) -> ReviewData:
    return read_review(fake_store, UNIT)


@pytest.fixture(scope="module")
def harmed(fake_change_store: Path) -> ReviewData:
    """A change that worked, and made a balancing measure worse."""
    return read_review(fake_change_store, UNIT)


def quiet(data: ReviewData) -> ReviewData:
    """The same month with nothing out of order."""
    calm = data.measures.assign(
        rank=4, change="same", target_state=standing.MET, is_urgent=False, is_left=False
    )
    return dataclasses.replace(
        data, measures=calm, record_measures=data.record_measures.head(0), verdicts=[]
    )


def words(data: ReviewData) -> str:
    return " ".join(line.text for line in first.lines(data)).replace("\xa0", " ")


def test_at_most_five_lines_and_the_last_says_what_to_trust(
    data: ReviewData, harmed: ReviewData
) -> None:
    for one in (data, harmed, quiet(data)):
        lines = first.lines(one)
        assert 2 <= len(lines) <= first.LINES
        assert lines[-1].subject == "Can the figures be trusted"
        places = {section.id for section in REVIEW.sections}
        for line in lines:
            assert line.fact.rstrip().endswith("."), line
            assert line.place in places or line.place.startswith("m-")


def test_what_should_never_happen_stands_first_with_the_number_of_the_list(
    data: ReviewData,
) -> None:
    now = records.records_to_read(data)
    number = int((now["tier"] == "read_now").sum())
    line = first.lines(data)[0]
    assert number > 0
    assert line.place == "records"
    assert re.search(rf"In {number} records? of the month: ", line.fact)
    for title in set(records.gravest(data)["measure_id"].map(_titles(data))):
        assert title in line.fact


def _titles(data: ReviewData) -> dict[str, str]:
    return dict(zip(data.measures["measure_id"], data.measures["title"], strict=True))


def test_a_change_that_did_harm_says_both_in_one_line_and_once(harmed: ReviewData) -> None:
    title = f"{_titles(harmed)[WORSE]} rose"
    (line,) = [one for one in first.lines(harmed) if title in one.text]
    assert line.subject.startswith("Did it work: ")
    assert "not explained yet" in line.fact
    assert line.step == "Find out why it got worse, and write it into the unit's file."
    for other in first.lines(harmed)[: first.lines(harmed).index(line)]:
        assert other.place == "records" or "not explained" in other.fact


# ---- what is rare and comes more often than expected

RARE_ID = "arrival_cold_severe"
DOUBLED = [2] * 14 + [5] * 10
AS_BEFORE = [2] * 24


def watched(months: pd.DatetimeIndex, a_month: list[int], name: str) -> HarmData:
    """Return the sum of a measure of the store, of so many events among 300 newborns a month."""
    frame = pd.DataFrame({"month": months.repeat(300)})
    events = np.repeat(a_month, 300)
    place = np.tile(np.arange(300), len(months))
    frame["happened"] = place * events % 300 < events
    known = dict.fromkeys(harms.KNOWN, "37")
    one = harms.harm_of(name, "Cold at arrival, below 32 degrees C", frame.assign(**known))
    assert one is not None
    return HarmData(months[-1], (one,))


def with_sum(
    store: Path,
    a_month: list[int],
    monkeypatch: pytest.MonkeyPatch,
    line: str | None = None,
    name: str = RARE_ID,
) -> ReviewData:
    """Read the review anew with that sum; ``line``: the date on which somebody explained it."""
    months = pd.date_range("2024-05-01", "2026-04-01", freq="MS")
    found = watched(months, a_month, name)
    monkeypatch.setattr(judged, "read_harms", lambda *_: found)
    if line:
        plain = judged.query

        def answered(store: duckdb.DuckDBPyConnection, name: str, *rest: Any, **asked: Any) -> Any:
            rows = plain(store, name, *rest, **asked)
            if name != "reading/signal_lines":
                return rows
            said = {"measure_id": RARE_ID, "said_on": pd.Timestamp(line), "step": "explained",
                    "level_from": pd.NaT, "role": "educator", "reason": "a new ward"}  # fmt: skip
            return pd.DataFrame([said]).astype(rows.dtypes.to_dict())

        monkeypatch.setattr(judged, "query", answered)
    return read_review(store, UNIT)


def test_what_came_more_often_than_expected_stands_on_the_first_screen(
    fake_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No chart of months speaks of it: the reader must not have to find the sum to hear of it."""
    data = with_sum(fake_store, DOUBLED, monkeypatch)
    (one,) = data.harms.harms
    signal = one.signals[-1]
    (point,) = [each for each in discuss.attention(data) if RARE_ID in each.about]
    told = point.fact.replace("\xa0", " ").replace("\u202f", " ")
    assert (
        "no month stands out, but added up newborn by newborn it came more often than expected: "
        in told
    )
    assert f"expected: {signal.since:%b %y} to {signal.month:%b %y}: " in told
    assert "no change beyond chance" not in told
    count = f"{signal.events} of {signal.newborns:,}".replace(",", " ")
    assert f"{count} newborns, {signal.expected:.1f} expected" in told and "not explained" in told
    assert point.place == "rare" and "of 100 such sums" in point.sure
    row = data.measures.set_index("measure_id").loc[RARE_ID]
    assert row["rank"] == 0 and row["change"] in {"same", "not_compared"}
    assert point.subject in [each.subject for each in first.ranked(data)]
    began = one.signals[0].month
    assert began < data.month and "still open: " in first.since(data)[0]
    named = signal_life.signals(data).html.replace("\xa0", " ")
    assert (
        f"{one.title}" in html.unescape(named) and "newborn by newborn it came more often" in named
    )


def test_what_came_no_more_often_is_not_told_there(
    fake_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = with_sum(fake_store, AS_BEFORE, monkeypatch)
    assert not data.harms.harms[0].signals
    assert "newborn by newborn" not in words(data)
    assert not data.measures["life_by_sum"].any()


def test_what_was_explained_asks_for_nothing_and_stays_to_be_seen(
    fake_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = with_sum(fake_store, DOUBLED, monkeypatch, "2026-04-10")
    assert not [each for each in discuss.attention(data) if RARE_ID in each.about]
    (point,) = discuss.answered(data)
    assert RARE_ID in point.about and "explained" in point.fact


def test_a_harm_of_a_change_that_only_the_sum_sees_is_told_with_what_carries_it(
    fake_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The verdict on the change says by what: no rule of the chart has spoken."""
    without = read_review(fake_store, UNIT)
    assert WORSE not in {one.measure_id for each in without.verdicts for one in each.unanswered}
    data = with_sum(fake_store, DOUBLED, monkeypatch, name=WORSE)
    (harm,) = [one for each in data.verdicts for one in each.unanswered if one.measure_id == WORSE]
    assert harm.because == verdict.BY_SUM
    assert "more often than expected, newborn by newborn" in of_verdicts.mark(harm)[2]
    (point,) = [each for each in discuss.attention(data) if WORSE in each.about]
    assert "added up newborn by newborn it came more often than expected" in point.fact


# ---- one matter, one line


def test_what_the_line_of_a_change_says_already_is_no_second_line(harmed: ReviewData) -> None:
    assert [one for one in discuss.changes(harmed) if WORSE in one.unanswered]

    def ended(*names: str) -> ReviewData:
        rows = harmed.measures
        left = rows.assign(
            is_left=rows["measure_id"].isin(names), life_sense="worse", life_state="new",
            life_last_on=harmed.month,
        )  # fmt: skip
        return dataclasses.replace(harmed, measures=left)

    assert discuss.left(ended(WORSE)) == []
    (point,) = discuss.left(ended(WORSE, "arrival_cold_severe"))
    assert point.about == ("arrival_cold_severe",)


def test_every_kind_of_news_is_named_once_and_what_is_empty_together(harmed: ReviewData) -> None:
    told = html.unescape(re.sub(r"<[^>]+>", "|", signal_life.signals(harmed).html))
    news = signal_life.since_last_review(harmed)["news"]
    empty = [kind for kind in signal_life.NEWS if kind not in set(news)]
    assert empty and len(news)
    for kind in set(news):
        assert f"|{kind.capitalize()}|" in told
    assert f"|{', '.join(empty).capitalize()}||none|" in told


def test_a_quiet_month_names_its_two_weakest_and_two_best(data: ReviewData) -> None:
    calm = quiet(data)
    rows = calm.measures
    rows = rows[(rows["direction"] != "neither") & (rows["counted"] >= 20)]
    missed = rows["rate"].where(rows["direction"] == "lower", 1 - rows["rate"])
    lines = first.lines(calm)
    assert [one.subject for one in lines[:2]] == ["Nothing is out of order; weakest", "Best"]
    assert lines[0].fact.count(" of ") == lines[1].fact.count(" of ") == 2
    weakest = rows.assign(missed=missed).sort_values("missed", ascending=False)
    grave = weakest[weakest["gravity_place"] <= 2]
    chosen = grave if len(grave) >= 4 else weakest
    assert str(chosen["title"].iloc[0]) in lines[0].fact
    assert str(chosen["title"].iloc[0]) not in lines[1].fact


def test_luck_is_said_in_words_and_only_of_what_moved(data: ReviewData) -> None:
    moved = [line for line in first.lines(data) if line.sure.startswith("Luck alone would give")]
    assert moved
    for line in moved:
        assert re.search(r"signals now among \d+ measures", line.sure)
        assert re.search(r"than the .* of \w{3} \d\d to |rose|fell", line.fact)
    assert "standard deviation" not in words(data) and "sigma" not in words(data)


def test_the_page_shows_the_lines_as_they_are(data: ReviewData) -> None:
    shown = html.unescape(re.sub(r"<[^>]+>", "", REVIEW.first_screen(data).html))
    flat = " ".join(shown.split())
    for line in first.lines(data):
        assert " ".join(line.fact.split()) in flat
    assert " ".join(first.since(data)[0].split()) in flat


# ---- the measures that a unit leads with


def _with_leading(data: ReviewData, names: list[str]) -> ReviewData:
    place = {name: float(at) for at, name in enumerate(names, start=1)}
    rows = data.measures.assign(leading_place=data.measures["measure_id"].map(place))
    return dataclasses.replace(data, measures=rows)


def test_the_unit_chooses_its_measures_and_without_it_targets_and_gravity_do(
    data: ReviewData,
) -> None:
    chosen = leading.leading(_with_leading(data, ["vitamin_k", WORSE]))
    assert set(chosen["measure_id"]) == {"vitamin_k", WORSE}
    default = leading.leading(data)
    assert 0 < len(default) <= 12
    assert (default["direction"] != "neither").all()
    left = data.measures[~data.measures["measure_id"].isin(default["measure_id"])]
    with_figure = left[
        left["target"].notna()
        & (left["direction"] != "neither")
        & ~left["target_state"].isin(standing.WITHOUT_FIGURE)
    ]
    assert with_figure.empty  # the fabricated unit has fewer targets than the table has room
    graver = left.loc[(left["direction"] != "neither") & left["counted"].gt(0), "gravity_place"]
    none = default[default["target"].isna()]
    assert none["gravity_place"].max() <= graver.min()


def test_last_month_a_year_before_and_the_mean_are_those_of_the_months(data: ReviewData) -> None:
    page = leading.leading_table(_with_leading(data, ["vitamin_k"])).html.replace("\xa0", " ")
    cells = dict(re.findall(r'<td class="number(?: strong)?" data-label="([^"]+)">([^<]*)', page))
    own = data.series[data.series["measure_id"] == "vitamin_k"].set_index("month")
    back = [data.month - pd.DateOffset(months=months) for months in range(13)]
    share = own["numerator"] / own["counted"]
    year = own.loc[[month for month in back[:12] if month in own.index]]
    expected = {
        f"{back[1]:%b %y}": share[back[1]],
        f"{back[12]:%b %y}": share[back[12]],
        "Twelve months": year["numerator"].sum() / year["counted"].sum(),
    }
    for name, value in expected.items():
        assert cells[name] in {f"{value:.0%}".replace("%", " %"), f"{100 * value:.1f} %"}, name


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("first_temperature", "write a list"),
        ([], "write a list"),
        (["first_temperatur"], "Did you mean 'first_temperature'"),
        (["first_temperature", "first_temperature"], "each once"),
    ],
)
def test_a_mistake_in_the_list_is_named(given: object, said: str) -> None:
    unit = dataclasses.replace(find_unit("quillmere"), leading=given)
    with pytest.raises(DeclarationError, match=rf"quillmere.toml leading: .*{said}"):
        leading_ids(unit, read_measures())


@pytest.mark.build
@pytest.mark.parametrize(
    "wrong", [{"leading": ["no_such"]}, {"worklist": {"find": "x"}}, {"gravity": {"by": "x"}}]
)
def test_a_mistake_is_told_before_anything_is_read(
    wrong: dict[str, object], tmp_path: Path
) -> None:
    unit = dataclasses.replace(find_unit("quillmere"), **wrong)  # type: ignore[arg-type]
    told: list[str] = []
    with pytest.raises(DeclarationError, match="is not known"):
        build_store([(unit, tmp_path)], tmp_path / "store.duckdb", told.append)
    assert told == []

"""What to discuss: each point carries its fact and a question, and leads to a place of the page."""

import dataclasses
import re
from pathlib import Path

import pandas as pd
import pytest

from pipelines.pages.review import discuss
from pipelines.pages.review.read import ReviewData, read_review
from pipelines.reading.signals import MovedRow

from .make_store import UNIT


@pytest.fixture(scope="module")
def month(fake_store: Path) -> ReviewData:
    return read_review(fake_store, UNIT)


def subjects(data: ReviewData) -> list[str]:
    return [point.subject for point in discuss.points(data)]


def test_what_needs_attention_is_asked_about_and_what_is_at_rest_is_not(month: ReviewData) -> None:
    urgent = month.measures.loc[month.measures["rank"] == 0, "title"]
    assert len(urgent) > 0
    told = subjects(month)
    assert set(urgent[: discuss.MOST_OF_A_KIND]) & set(told)
    assert "First stool within 24 hours" not in told
    for point in discuss.points(month):
        assert point.question.endswith("?")
        assert re.search(r"\d", point.fact), "a fact carries its number"


def test_every_point_leads_to_a_place_of_the_page(month: ReviewData, fake_page: Path) -> None:
    page = fake_page.read_text(encoding="utf-8")
    assert 'id="discuss"' in page
    points = discuss.points(month)
    assert points
    for point in points:
        assert f'id="{point.place}"' in page, point.place


def test_a_kind_of_point_is_limited(month: ReviewData) -> None:
    many = dataclasses.replace(month, measures=month.measures.assign(rank=0))
    question = "When and for whom"
    asked = [one for one in discuss.points(many) if one.question.startswith(question)]
    assert len(asked) == discuss.MOST_OF_A_KIND


def test_what_got_better_waits_behind_what_did_not(month: ReviewData) -> None:
    moved = month.measures[month.measures["rule"].notna()].iloc[0]
    said = {name: moved[name] for name in MovedRow.__annotations__ if name != "measure_id"}
    better = month.measures.assign(**said).assign(change="better", unknown_since=pd.NaT)
    asked = [
        one
        for one in discuss.points(dataclasses.replace(month, measures=better))
        if one.question.startswith("What did we do differently")
    ]
    assert len(asked) == discuss.MOST_WITHOUT_HURRY


def test_a_quiet_month_says_nothing(month: ReviewData) -> None:
    quiet = dataclasses.replace(
        month,
        measures=month.measures.assign(
            rank=4, change="same", target_state="met", is_urgent=False, is_left=False
        ),
        record_measures=month.record_measures.head(0),
        record_flags=month.record_flags.head(0),
        unjudged=month.unjudged.head(0),
        restated=month.restated.head(0),
        verdicts=[],
    )
    assert discuss.points(quiet) == []
    one = month.unjudged.head(1)
    if len(one):
        told = discuss.points(dataclasses.replace(quiet, unjudged=one))
        assert [point.place for point in told] == ["quality"]

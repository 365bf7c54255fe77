"""The meeting sheet and the text for a mail: the review's own words and figures, on two sheets."""

import dataclasses
import html
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pipelines.pages.meeting import mail, room_on_paper
from pipelines.pages.meeting.key_charts import named
from pipelines.pages.meeting.read import further
from pipelines.pages.review import discuss
from pipelines.pages.review import head as first
from pipelines.pages.review.frames import RecordRow
from pipelines.pages.review.read import ReviewData, read_review
from pipelines.pages.review.records import records_to_read
from pipelines.words.caution import CLOSING

from .make_change import WORSE
from .make_store import UNIT
from .test_print import RECORD, text_of
from .visit import Visit, open_page, printed

Visited = Callable[[str, int], Visit]
CHART = re.compile(r'<h3 id="m-(\w+)".*?<script type="application/json">(.*?)</script>', re.S)


@pytest.fixture(scope="module")
def data(fake_store: Path) -> ReviewData:
    return read_review(fake_store, UNIT)


@pytest.fixture(scope="module")
def harmed(fake_change_store: Path) -> ReviewData:
    """A change that worked, and made a balancing measure worse."""
    return read_review(fake_change_store, UNIT)


def shown(page: Path) -> str:
    """Return what a page says, without its markup and its scripts."""
    text = re.sub(r"<(style|script)\b.*?</\1>", "", page.read_text(encoding="utf-8"), flags=re.S)
    return flat(html.unescape(re.sub(r"<[^>]+>", "", text)))


def flat(text: str) -> str:
    return " ".join(text.split())


# On paper


@pytest.mark.browser
@pytest.mark.parametrize("page_name", ["fake_meeting", "whole_meeting"])
def test_it_takes_two_sheets_and_every_chart_is_drawn(visited: Visited, page_name: str) -> None:
    visit = visited(page_name, 1280)
    assert visit.sheets["A4"].number == 2
    assert 1 <= len(visit.charts) <= room_on_paper.MOST_CHARTS
    assert {one["drawn"] for one in visit.charts} == {"yes"}


@pytest.mark.browser
@pytest.mark.parametrize("width", [1280, 390])
def test_no_text_of_a_picture_touches_another(visited: Visited, width: int) -> None:
    visit = visited("whole_meeting", width)
    assert visit.charts and visit.crowded == []
    assert visit.over_px <= 0 and visit.outside == []


@pytest.mark.browser
def test_the_first_sheet_names_no_record_and_the_mail_is_not_printed(
    browser: Any, fake_meeting: Path
) -> None:
    open_page(browser, fake_meeting, 1280)
    sheets = printed(browser, "A4")
    assert not RECORD.search(sheets.pages[0].extract_text())
    assert RECORD.search(sheets.pages[1].extract_text())
    assert "Text for a mail" not in text_of(sheets)
    assert "share not documented" in sheets.pages[1].extract_text()  # the words of a chart


@pytest.mark.browser
def test_the_text_is_copied_or_chosen(browser: Any, fake_meeting: Path) -> None:
    open_page(browser, fake_meeting, 1280)
    browser.execute_script("document.querySelector('.off-paper details').open = true")
    button = browser.find_element("css selector", "button[data-copies]")
    button.click()
    told = "return document.querySelector('.took').textContent"
    for _ in range(50):
        if browser.execute_script(
            f"{told} && document.querySelector('[data-copies] ~ .took').value"
        ):
            break
    chosen = browser.execute_script("return String(window.getSelection())")
    text = browser.execute_script("return document.getElementById('mail').textContent")
    assert flat(chosen) == flat(text) != ""


# The review's own words, figures and charts


def test_it_says_what_the_review_says(fake_meeting: Path, data: ReviewData) -> None:
    text, told = shown(fake_meeting), first.head(data)
    assert told.since is not None
    for line in told.lines:
        assert flat(f"{line.subject}: {line.fact} {line.sure}") in text
        assert not line.step or flat(f"Next: {line.step}") in text
    assert flat(told.since[0]) in text
    assert flat(CLOSING) in text


def test_every_point_of_the_review_stands_once_or_is_counted(
    fake_meeting: Path, data: ReviewData
) -> None:
    text, points = shown(fake_meeting), discuss.points(data)
    lines = first.ranked(data)[: first.LINES - 1]
    beside = further(data)
    assert {one.subject for one in points} == {one.subject for one in [*lines, *beside]}
    for one in lines:
        assert flat(one.question) in text
    stands = [one for one in beside if flat(f"{one.subject}: {one.fact} {one.question}") in text]
    left = len(beside) - len(stands)
    assert stands == beside[: len(stands)] and stands
    assert (f"{left} more point" in text) == bool(left)


def _cells(page: Path) -> list[list[str]]:
    """Return the first table of measures as its texts, row by row."""
    (table,) = re.findall(
        r'<table class="measures leading">.*?</table>', page.read_text(encoding="utf-8"), re.S
    )
    rows = re.findall(r"<tr.*?</tr>", table, re.S)
    texts = [re.findall(r"<t[hd].*?</t[hd]>", row, re.S) for row in rows]
    return [[flat(html.unescape(re.sub(r"<[^>]+>", "", cell))) for cell in row] for row in texts]


def test_its_table_is_the_first_table_of_the_review(fake_meeting: Path, fake_page: Path) -> None:
    rows = _cells(fake_meeting)
    assert rows == _cells(fake_page)
    assert len(rows) > 3 and any("%" in cell for cell in rows[1])


def test_its_charts_are_those_of_the_review_and_of_what_the_lines_name(
    fake_meeting: Path, fake_page: Path, data: ReviewData
) -> None:
    charts = CHART.findall(fake_meeting.read_text(encoding="utf-8"))
    review = dict(CHART.findall(fake_page.read_text(encoding="utf-8")))
    assert charts
    for measure_id, spec in charts:
        assert json.loads(spec) == json.loads(review[measure_id])
    wanted = [name for name in named(data) if name in review]
    assert [measure_id for measure_id, _ in charts] == wanted[: len(charts)]


def test_a_harm_that_nobody_answered_has_its_chart_first(harmed: ReviewData) -> None:
    lines = first.ranked(harmed)[: first.LINES - 1]
    unanswered = set[str]().union(*(one.unanswered for one in lines))
    assert WORSE in unanswered
    assert set(named(harmed)[: len(unanswered)]) == unanswered


def test_the_records_are_the_first_of_those_read_now(fake_meeting: Path, data: ReviewData) -> None:
    every = records_to_read(data)
    now = list(every.loc[every["tier"] == "read_now", "record_id"])
    keys = list(dict.fromkeys(RECORD_KEY.findall(shown(fake_meeting))))
    assert 0 < len(keys) <= room_on_paper.MOST_RECORDS
    assert keys == now[: len(keys)]
    assert (f"{len(now) - len(keys)} more record" in shown(fake_meeting)) == (keys != now)


RECORD_KEY = re.compile(RECORD.pattern)


# How much fits


def _record(letters: int) -> RecordRow:
    return RecordRow(
        record_id="A", tier="read_now", reasons=1, what=["x" * letters], why=[], also=[],
        look_at=["a value, a time"], minutes_late=None,
    )  # fmt: skip


def test_what_must_be_read_goes_before_charts() -> None:
    panels = [("A measure", "A finding of a few words.")] * 4
    few = room_on_paper.second_sheet([_record(30)] * 2, panels)
    assert (few.charts, few.records) == (4, 2)
    many = room_on_paper.second_sheet([_record(30)] * 14, panels)
    assert (many.charts, many.records) == (2, 10)
    long = room_on_paper.second_sheet([_record(2000)] * 14, panels)
    assert long.charts == 2 and long.records < 3


# The mail


@pytest.fixture(params=["data", "harmed"])
def either(request: pytest.FixtureRequest) -> ReviewData:
    found: ReviewData = request.getfixturevalue(request.param)
    return found


def test_the_mail_says_what_the_first_screen_says(either: ReviewData) -> None:
    text, told = flat(mail.mail(either, ["index.html"])), first.head(either)
    kept = [line for line in told.lines if flat(mail.sentence(line)) in text]
    assert kept[0] == told.lines[0] and kept[-1] == told.lines[-1]
    left = len(told.lines) - len(kept)
    assert (f"{left} more on the first screen" in text) == bool(left)
    assert told.since is not None and flat(told.since[0]) in text
    assert "index.html" in text
    assert text.count(flat(CLOSING)) == 1


def test_the_mail_counts_the_records_and_names_none(either: ReviewData) -> None:
    text = mail.mail(either, ["index.html"])
    for key in set(either.born["record_id"]):
        assert key not in text
    every = records_to_read(either)
    number = int((every["tier"] == "read_now").sum())
    assert f"{number} record" in text or not number


def test_the_mail_is_plain_and_narrow(either: ReviewData) -> None:
    """RFC 5322, 2.1.1: each line should be no more than 78 characters."""
    lines = mail.mail(either, ["index.html"]).splitlines()
    assert max(map(len, lines)) < 78
    assert len(lines) <= mail.MOST
    assert flat(either.title) in flat(" ".join(lines)), "nothing is escaped: it is no HTML"
    assert not any(line.lstrip().startswith("%") for line in lines), "a number and its sign"


def test_a_long_month_keeps_the_gravest_line_and_what_to_trust(data: ReviewData) -> None:
    lines = [dataclasses.replace(one, fact="word " * 90) for one in first.lines(data)]
    text = mail._fitting(lines, room=20)
    assert text[0].startswith(f"1. {lines[0].subject[:10]}")
    assert f"2. {lines[-1].subject}"[:20] in "\n".join(text)
    assert text[-1] == f"{len(lines) - 2} more on the first screen of the review."

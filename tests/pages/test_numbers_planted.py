"""A wrong number on a page is noticed: one is planted for each kind of check, in the page's text.

What test_numbers.py holds could otherwise pass because nothing was read.
"""

import re
from pathlib import Path

import pytest

from .hold_numbers import held_alone
from .hold_others import held_change, held_quality, held_together
from .hold_review import held_review
from .make_store import UNIT
from .read_numbers import read
from .true_numbers import Truth, truth

pytestmark = pytest.mark.build
SPACE = "\N{NO-BREAK SPACE}"
CELL = '<td class="number">'
MONTH_ROW = f'(<tr><th scope="row">Apr 26</th>(?:{CELL}[^<]*</td>){{%d}}{CELL})'

# What is noticed -> what is found on the page, and what is put in its place.
ALONE = {
    "words": ('<h2 id="signals">', '<h2 id="signals">undefined '),
    "links": ('href="#m-', 'href="#m-no-such-'),
    "some of a whole": (r"(Read beside it</dt><dd>[^<]*: )\d+ of", r"\g<1>999 of"),
    "percent of its counts": (r"(newborns \()\d+", r"\g<1>3"),
    "way": (
        rf"(lower than the 87{SPACE}% of May 24 to Apr 25: )",
        rf"\g<1>88{SPACE}% on average, ",
    ),
}
REVIEW = {
    "n of N": (MONTH_ROW % 0 + r"\d+ of", r"\g<1>3 of"),
    "percent": (MONTH_ROW % 1 + r"\d+", r"\g<1>12"),
    "interval": (r'("Interval":")\d+', r"\g<1>1"),
    "target": (MONTH_ROW % 3 + r"\d+", r"\g<1>91"),
    "Late": (MONTH_ROW % 4 + r"\d+", r"\g<1>7"),
    "parts of N": (MONTH_ROW % 7 + r"\d+", r"\g<1>7"),
    "parts of all": (MONTH_ROW % 10 + r"\d+", r"\g<1>7"),
    "dot": (r'("rate":)[\d.]+', r"\g<1>1.5"),
    "past": (r'(data-label="Mar 26">)\d+', r"\g<1>11"),
    "named": (r"(Read beside it</dt><dd>[^<]*: )\d+ of", r"\g<1>2 of"),
    "finding": (r'(<p class="finding">)\d+ of', r"\g<1>2 of"),
    "baseline": (rf"(the )\d+({SPACE}% of May 24 to)", r"\g<1>11\g<2>"),
    "at most 60 newborns": (r"of 62 records of", "of 62 newborns of"),
    "trend": (r"(lowest )\d+", r"\g<1>11"),
    "bar": (r'(aria-label="[^"]*: )\d+( to [^"]*, target)', r"\g<1>11\g<2>"),
    "Not met": (r"(Not met: )\d+ not", r"\g<1>60 not"),
    "reasons": (r"(Left out for an accepted reason: )\d+", r"\g<1>0"),
    "records of a tier": (r"\d+( records to read now)", r"7\g<1>"),
    "targets": (r"On target: \d", "On target: 5"),
    "parts of targets": (r"; 1 short of it, more than chance", ""),
    "flags": (r'(<th scope="row">cannot be right</th><td class="number"[^>]*>)\d', r"\g<1>8"),
    "births": (r"\d+( births and)", r"62\g<1>"),
}
QUALITY = {
    "flags in all": (r"\d+( flags on values of)", r"175\g<1>"),
    "flags by kind": (r"(cannot be right: )\d+", r"\g<1>23"),
    "to check": (r"\d+( values of \d+ records wait)", r"27\g<1>"),
}
CHANGE = {
    "pooled": (r'(data-label="Before">[^<]*<span class="where">)\d', r"\g<1>2"),
    "verdict before": (r"(rose from )\d+", r"\g<1>71"),
    "verdict after": (rf"(rose from \d+ to )\d+({SPACE}%)", r"\g<1>86\g<2>"),
}


@pytest.fixture(scope="module")
def true(fake_store: Path) -> Truth:
    return truth(fake_store, UNIT)


def planted(page: Path, found: str, put: str) -> str:
    text, number = re.subn(found, put, page.read_text(encoding="utf-8"), count=1)
    assert number == 1, "the page has no such words"
    return text


def kinds(faults: list[str]) -> set[str]:
    return {fault.split(":")[0] for fault in faults}


@pytest.mark.parametrize("kind", ALONE)
def test_a_page_that_disagrees_with_itself(fake_page: Path, kind: str) -> None:
    assert kind in kinds(held_alone(read(planted(fake_page, *ALONE[kind]))).faults)


@pytest.mark.parametrize("kind", REVIEW)
def test_a_review_that_disagrees_with_its_store(fake_page: Path, true: Truth, kind: str) -> None:
    page = read(planted(fake_page, *REVIEW[kind]))
    assert kind in kinds(held_review(page, true, true.months[-1]).faults)


@pytest.mark.parametrize("kind", QUALITY)
def test_flags_that_do_not_add_up(fake_quality: Path, true: Truth, kind: str) -> None:
    page = read(planted(fake_quality, *QUALITY[kind]))
    assert kind in kinds(held_quality(page, true).faults)


@pytest.mark.parametrize("kind", CHANGE)
def test_a_change_study_that_disagrees_with_its_store(
    fake_change: Path, fake_change_store: Path, kind: str
) -> None:
    page = read(planted(fake_change, *CHANGE[kind]))
    assert kind in kinds(held_change(page, truth(fake_change_store, UNIT)).faults)


def test_two_verdicts_on_one_change(fake_change: Path) -> None:
    pages = [fake_change.read_text("utf-8"), planted(fake_change, *CHANGE["verdict after"])]
    assert kinds(held_together(map(read, pages)).faults) == {"one verdict"}

"""Every number of every page is right: read as a reader reads it, held against the store.

The reader (read_numbers.py) and the truth (true_numbers.py) use nothing of what they judge.
"""

import re
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from pipelines.pages.review.page import render_review
from tests.conftest import Built
from tests.once import Once

from .conftest import OWN_UNIT, written
from .hold_numbers import Held, held_alone
from .hold_others import held_change, held_quality, held_together
from .hold_review import held_review, hold_named
from .make_store import UNIT
from .read_numbers import Node, read, statements
from .test_awkward import OTHERS, REVIEWS, Awkward, awkward, others_of, review_of
from .test_index import folder
from .true_numbers import Truth, truth

__all__ = ["awkward", "folder"]  # fixtures
pytestmark = pytest.mark.build
EARLIER = 8  # a month of the clean store, counted from its first

# Page -> its store, and whose.
STORES = {
    "whole_review": ("clean", OWN_UNIT),
    "earlier_review": ("clean", OWN_UNIT),
    "whole_quality": ("clean", OWN_UNIT),
    "whole_fair": ("clean", OWN_UNIT),
    "change_study": ("clean", OWN_UNIT),
    "messy_review": ("synthetic", OWN_UNIT),
    "messy_change": ("synthetic", OWN_UNIT),
    "fake_page": ("fake_store", UNIT),
    "fake_meeting": ("fake_store", UNIT),
    "whole_meeting": ("clean", OWN_UNIT),
    "fake_quality": ("fake_store", UNIT),
    "fake_fair": ("fake_fair_store", UNIT),
    "fake_change": ("fake_change_store", UNIT),
    "released": ("clean", OWN_UNIT),
}


@pytest.fixture(scope="session")
def earlier_review(once: Once, clean: Built) -> Path:
    month = f"{truth(clean.store, OWN_UNIT).months[EARLIER]:%Y-%m}"
    return written(
        once, "earlier_review", lambda out: render_review(clean.store, OWN_UNIT, month, out)
    )


PAGES: dict[Path, Node] = {}
TRUTHS: dict[tuple[Path, str], Truth] = {}


def read_once(path: Path) -> Node:
    return PAGES.setdefault(path, read(path.read_text(encoding="utf-8")))


def truth_once(store: Path, unit: str) -> Truth:
    return TRUTHS.setdefault((store, unit), truth(store, unit))


@pytest.fixture
def read_page(request: pytest.FixtureRequest) -> Callable[[str], tuple[Node, Truth]]:
    """A page as it is read, and what is true of its unit."""

    def give(name: str) -> tuple[Node, Truth]:
        store, unit = STORES[name]
        made = request.getfixturevalue(store)
        place = made.store if isinstance(made, Built) else made
        return read_once(request.getfixturevalue(name)), truth_once(place, unit)

    return give


ReadPage = Callable[[str], tuple[Node, Truth]]


def reviewed(page: Node, true: Truth) -> pd.Timestamp:
    """Return the month that a page names in its heading: the last of a messy store may be short."""
    named = [
        month
        for one in statements(page)
        for month in true.months
        if re.search(rf"{month:%B %Y}$", one.words.strip()) and one.section == ""
    ]
    return named[0]


def assert_held(held: Held, **least: int) -> None:
    """No fault; and by kind at least so much was compared, so that nothing passes unread."""
    assert not held.faults, "\n".join(map(str, held.faults[:20]))
    for kind, number in least.items():
        assert held.compared[kind.replace("_", " ")] >= number, (kind, held.compared)


@pytest.mark.parametrize("name", STORES)
def test_a_page_agrees_with_itself(read_page: ReadPage, name: str) -> None:
    page, _ = read_page(name)
    assert_held(held_alone(page), words=100)


# Page -> how many figures it is known to give at least.
SHOWN = {"whole_review": 500, "earlier_review": 400, "messy_review": 500, "fake_page": 300}


@pytest.mark.parametrize("name", SHOWN)
def test_a_review_says_what_its_store_says(read_page: ReadPage, name: str) -> None:
    page, true = read_page(name)
    month = true.months[EARLIER if name == "earlier_review" else -1]
    held = held_review(page, true, month)
    least = dict.fromkeys(("percent", "interval", "Not_documented", "parts_of_all"), SHOWN[name])
    assert_held(held, **least, bar=10, trend=10, past=20, finding=10, named=5, births=1, flags=2)


@pytest.mark.slow
@pytest.mark.parametrize("awkward", REVIEWS, indirect=True)
def test_an_awkward_store_is_reported_right(awkward: Awkward, once: Once) -> None:
    page = read_once(review_of(once, awkward))
    true = truth_once(awkward.store, awkward.unit)
    assert_held(held_alone(page), words=100)
    assert_held(held_review(page, true, reviewed(page, true)), percent=10, parts_of_all=10)


@pytest.mark.slow
@pytest.mark.parametrize("awkward", OTHERS, indirect=True)
def test_the_other_pages_of_an_awkward_store_are_right(awkward: Awkward, once: Once) -> None:
    pages = {kind: read_once(path) for kind, path in others_of(once, awkward).items()}
    true = truth_once(awkward.store, awkward.unit)
    for page in pages.values():
        assert_held(held_alone(page), words=50)
    assert_held(held_quality(pages["quality"], true), flags_in_all=1, to_check=1)
    assert_held(held_change(pages["change"], true))


@pytest.mark.parametrize("name", ["change_study", "fake_change", "messy_change"])
def test_a_change_study_says_what_its_store_says(read_page: ReadPage, name: str) -> None:
    page, true = read_page(name)
    assert_held(held_change(page, true), percent=20, dot=20, pooled=2, verdict_before=1)


@pytest.mark.parametrize("name", ["whole_quality", "fake_quality"])
def test_flags_add_up(read_page: ReadPage, name: str) -> None:
    page, true = read_page(name)
    assert_held(held_quality(page, true), flags_in_all=1, flags_by_kind=1, to_check=1)


@pytest.mark.parametrize(
    "names", [("whole_review", "change_study"), ("messy_review", "messy_change")]
)
def test_two_pages_say_one_verdict(read_page: ReadPage, names: tuple[str, ...]) -> None:
    assert_held(held_together(read_page(name)[0] for name in names), one_verdict=2)


def test_the_index_says_what_its_pages_say(folder: Path, fake_change_store: Path) -> None:
    true = truth_once(fake_change_store, UNIT)
    pages = [read_once(path) for path in sorted(folder.glob("*.html"))]
    held = held_together(pages)
    for page in pages:
        assert_held(held_alone(page))
        if next(page.every("h1")).text().strip().startswith("Newborn admission"):
            hold_named(held, statements(page), true, true.months[-1])
    assert_held(held, one_verdict=1)

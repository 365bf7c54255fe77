"""The index as HTML, and what stands in the place of a page that cannot be had."""

from collections.abc import Mapping, Sequence
from typing import Any

from pipelines.drawing import theme
from pipelines.drawing.packed import POLICY
from pipelines.pages.index.read import KINDS, REVIEW, Planned, Written
from pipelines.pages.shell.markup import part
from pipelines.pages.shell.page import Other
from pipelines.words.caution import CLOSING, PAGE_KIND


def _document(title: str, name: str, **values: Any) -> str:
    return part(
        f"pages/index/{name}",
        title=title,
        style=theme.stylesheet(),
        policy=POLICY,
        kind=PAGE_KIND,
        closing=CLOSING,
        **values,
    ).html


def stand_in(page: Planned, others: Sequence[Other], why: str) -> str:
    """Return the page that stands in a page's place and says why it could not be written."""
    return _document(page.words, "stand_in", others=others, why=why)


def _entry(one: Written) -> dict[str, str]:
    told = KINDS[one.page.kind].answers
    if one.head is None:
        told = f"Could not be written: {one.why_not}"
    when = one.head.when if one.head and KINDS[one.page.kind].is_of_a_month else ""
    return {"file": one.page.file, "words": f"{one.page.words} {when}".strip(), "told": told}


def index(titles: Mapping[str, str], written: Sequence[Written]) -> str:
    """Return the index: each unit, what its review answers, its pages. ``titles``: of units."""
    units = []
    for unit in dict.fromkeys(one.page.unit for one in written):
        own = [one for one in written if one.page.unit == unit]
        head = next((one.head for one in own if one.page.kind == REVIEW and one.head), None)
        units.append(
            {
                "title": titles[unit],
                "when": head.when if head else "",
                "lines": head.lines if head else (),
                "pages": [_entry(one) for one in own],
            }
        )
    return _document("Newborn admission quality: all pages", "index", units=units)

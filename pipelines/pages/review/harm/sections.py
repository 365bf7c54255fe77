"""The section 'Rare and unwanted' of the monthly review, and how its pictures are shown."""

from typing import Any, Final

from pipelines.pages.review.harm import charts as harm_charts
from pipelines.pages.review.harm import words as harm_words
from pipelines.pages.review.harm.read import read_harm
from pipelines.pages.shell.markup import Part, panel_head, part
from pipelines.pages.shell.page import Section
from pipelines.pages.shell.show import show
from pipelines.reading.harms import Harm, HarmData
from pipelines.words import of_numbers


def _line(one: Harm, data: HarmData) -> dict[str, Any]:
    return {
        "measure_id": one.measure_id,
        "title": one.title,
        "twelve": harm_words.twelve_words(one),
        "expected": harm_words.twelve_expected(one),
        "sum": harm_words.sum_words(one),
        "words": harm_words.now_words(one, data),
        "is_above": bool(one.recent(data.month)),
    }


def intro(data: HarmData) -> Part:
    """Return what came more often than expected; where no sum is kept, why."""
    words = harm_words.intro(data)
    return part("pages/review/harm/intro", words=words[:1] if data.harms else words)


def sums(data: HarmData) -> Part:
    """Return how the sums are made, and each measure's own; what follows lies behind its press."""
    return part(
        "pages/review/harm/open",
        words=harm_words.intro(data)[1:],
        lines=[_line(one, data) for one in data.harms],
        month=of_numbers.month_name(data.month),
        number=len(data.harms),
    )


def show_sums(data: HarmData) -> None:
    """Display each measure's sum and its picture, behind one press."""
    if not data.harms:
        return
    show(sums(data))
    for one in data.harms:
        finding = harm_words.finding(one, data)
        show(panel_head(one.title, finding, place=f"h-{one.measure_id}"), panel="open")
        show(harm_charts.sum_chart(one, data))
        show(part("pages/review/harm/foot", doubts=harm_words.doubts(one)), panel="close")
    show(part("pages/review/harm/close", truth=harm_words.truth()))


RARE: Final = Section(
    "rare",
    "Rare and unwanted",
    (intro, show_sums),
    link="Rare",
    read=read_harm,
    leaves_off="the sums of what is rare and unwanted, newborn by newborn",
)

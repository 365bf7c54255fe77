"""The section 'What was measured' of the monthly review, and how its pictures are shown."""

from typing import Final

from pipelines.pages.review.spread import charts as spread_charts
from pipelines.pages.review.spread import words as spread_words
from pipelines.pages.review.spread.read import SpreadData, read_spread
from pipelines.pages.shell.markup import Part, panel_head, part
from pipelines.pages.shell.page import Section, panels
from pipelines.pages.shell.show import show


def intro(data: SpreadData) -> Part:
    """Return what the section shows."""
    words = spread_words.METHOD if data.measured else spread_words.NOTHING
    return part("pages/review/spread/intro", words=words)


def show_measured(data: SpreadData) -> None:
    """Display each measured value: its sentence, means, spreads, months in figures."""
    for one in data.measured:
        months = one.months[one.months["month"] >= data.first]
        if months.empty:
            continue
        head = panel_head(
            f"{one.title}: mean and spread",
            spread_words.finding(one),
            place=f"v-{one.measure_id}",
            at_rest=one.is_at_rest,
        )
        show(head, panel="open")
        for what in (spread_charts.MEAN, spread_charts.SPREAD):
            show(spread_charts.over_months(one, what, data.first))
        foot = part(
            "pages/review/spread/foot",
            title=one.title,
            doubts=spread_words.doubts(one),
            columns=spread_charts.TOLD,
            months=spread_charts.cells_of(one, months)[::-1],
        )
        show(foot, panel="close")


MEASURED: Final = Section(
    "measured",
    "What was measured",
    (intro, panels(show_measured)),
    read=read_spread,
    link=None,
    folded="Charts: what was measured, mean and spread by month",
)

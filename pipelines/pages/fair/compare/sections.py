"""The section of units and groups side by side, and how its funnels are shown."""

from collections.abc import Sequence
from itertools import groupby
from typing import Any, Final

from pipelines.base.frames import rows_of
from pipelines.pages.fair.compare import charts as compare_charts
from pipelines.pages.fair.compare import words as compare_words
from pipelines.pages.fair.compare.frames import PointRow
from pipelines.pages.fair.compare.read import KINDS, CompareData, Funnel, read_compare
from pipelines.pages.shell.markup import Part, panel_head, part
from pipelines.pages.shell.page import Section
from pipelines.pages.shell.show import show
from pipelines.words import of_numbers


def intro(data: CompareData) -> Part:
    """Return what the funnels say and cannot say."""
    words = compare_words.intro(data)
    return part("pages/fair/compare/intro", words=words, standardised=compare_words.STANDARDISED)


def _line(data: CompareData, row: PointRow) -> dict[str, Any]:
    return {
        "kind": KINDS[str(row["kind"])],
        "name": compare_words.name_of(data, str(row["kind"]), str(row["name"])),
        "fraction": f"{of_numbers.count(row['numerator'])} of {of_numbers.count(row['counted'])}",
        "percent": of_numbers.percent(row["rate"]),
        "interval": of_numbers.interval(row["lower"], row["upper"]),
        "shrunk": compare_words.shrunk_words(row),
        "limits": of_numbers.interval(row["limit_low"], row["limit_high"]),
        "direct": compare_words.direct_words(row),
        "against": compare_words.against_words(row),
        "words": compare_words.point_words(row),
    }


def _show_one(data: CompareData, one: Funnel) -> None:
    finding = compare_words.finding(data, one)
    show(panel_head(one.title, finding, place=f"c-{one.measure_id}"), panel="open")
    if not one.is_flat and len(compare_charts.drawn(one)):
        show(compare_charts.funnel_chart(data, one))
    lines = [_line(data, row) for row in rows_of(one.points, PointRow)]
    side = "Not met" if one.counts_missed else "Met"
    foot = part(
        "pages/fair/compare/foot",
        title=one.title,
        lines=lines,
        side=side,
        apart="" if one.is_flat else compare_words.apart_words(one),
    )
    show(foot, panel="close")


def _outside(funnels: Sequence[Funnel]) -> int:
    return sum(int(one.points["lies"].isin(["above", "below"]).sum()) for one in funnels)


def show_funnels(data: CompareData) -> None:
    """Display the funnels, one block to open for each group of measures."""
    for name, found in groupby(data.funnels, key=lambda one: one.group_name):
        funnels = list(found)
        show(
            part(
                "pages/fair/compare/open",
                group=name,
                number=len(funnels),
                outside=_outside(funnels),
            )
        )
        for one in funnels:
            _show_one(data, one)
        show(part("pages/fair/compare/close"))


BESIDE: Final = Section(
    "beside",
    "Units and groups beside one another",
    (intro, show_funnels),
    link="Units and groups",
    read=read_compare,
)

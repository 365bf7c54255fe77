"""The section 'Why it was missed' of the monthly review, and how its pictures are shown."""

from typing import Any, Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.definitions.strata import STRATUM_ORDER
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.review.why import charts as why_charts
from pipelines.pages.review.why import cold_factors
from pipelines.pages.review.why import read as why
from pipelines.pages.review.why import words as why_words
from pipelines.pages.review.why.frames import AssignedRow, FactorRow, LevelRow
from pipelines.pages.review.why.read import WhyData
from pipelines.pages.shell.markup import PanelHead, Part, panel_head, part
from pipelines.pages.shell.page import Section, panels
from pipelines.pages.shell.show import show
from pipelines.words import of_numbers

# State -> the swatch of the key: (fill, stroke) as roles of the palette.
_SWATCHES: Final = {
    "late": "known",
    "met": "known",
    "not_done": "dark",
    "not_met": "open",
    "not_documented": "hatched",
    "unusable": "hatched framed",
}


def _in_order(levels: pd.DataFrame) -> pd.DataFrame:
    order = {name: place for place, name in enumerate(why.SPLITS)}
    known = {name: place for place, name in enumerate(STRATUM_ORDER)}
    keyed = levels.assign(
        split_place=levels["split_by"].map(order),
        is_last=levels["level"] == "not recorded",
        level_place=levels["level"].map(known).fillna(len(known)),
    )
    keys = ["split_place", "is_last", "level_place", "level"]
    return keyed.sort_values(keys, ignore_index=True)


def _counts(row: LevelRow) -> dict[str, int]:
    """Return the row's counts by state."""
    return {
        "met": row["met"],
        "late": row["late"],
        "not_done": row["not_done"],
        "not_met": row["not_met"],
        "not_documented": row["not_documented"],
        "unusable": row["unusable"],
    }


def _line(row: LevelRow, states: dict[str, str]) -> dict[str, Any]:
    apart, low, high = row["difference"], row["lower"], row["upper"]
    numbers = _counts(row)
    return {
        "split": why.SPLITS[str(row["split_by"])],
        "level": why_words.level(row),
        "denominator": of_numbers.count(row["denominator"]),
        "counts": [of_numbers.count(numbers[name]) for name in states],
        "share": of_numbers.percent(row["share"]),
        "difference": of_numbers.NONE if apart is None else of_numbers.points(apart),
        "interval": ""
        if low is None or high is None
        else f"{of_numbers.points(low)} to {of_numbers.points(high)}",
    }


def intro(data: WhyData) -> Part:
    """Return the section's first words; a link of the page leads here."""
    return part("pages/review/why/intro", words=why_words.intro(data), measures=len(data.measures))


def show_missed(data: WhyData) -> None:
    """Display, for each measure that needs attention: the sentence, the picture, the figures."""
    for row in rows_of(data.measures, MeasureRow):
        levels = _in_order(data.levels[data.levels["measure_id"] == row["measure_id"]])
        states = why.states_of(str(row["direction"]))
        key = [(words, _SWATCHES[name]) for name, words in states.items()]
        sentence = why_words.sentence(row, levels)
        title = f"{row['title']}: what is missing, and where"
        show(
            panel_head(title, sentence, more=part("pages/review/why/key", key=key)),
            panel="open",
        )
        if len(levels):
            show(why_charts.missed(levels, row))
        lines = [_line(one, states) for one in rows_of(levels, LevelRow)]
        foot = part(
            "pages/review/why/foot", title=row["title"], lines=lines, states=list(states.values())
        )
        show(foot, panel="close")


def show_cold(data: WhyData) -> None:
    """Display the two pictures of cold arrivals: assigned causes, and factors."""
    found = data.cold
    if not sum(found.newborns[name] for name in cold_factors.BANDS):
        show(part("pages/review/why/no_cold"))
        return
    words = why_words.assigned_finding(found)
    show(_cold_head("the cause assigned in review", words, why_words.CAUSES), panel="open")
    show(why_charts.assigned(found.assigned))
    causes = [
        {**row, "band": cold_factors.BANDS[str(row["band"])]}
        for row in rows_of(found.assigned, AssignedRow)
    ]
    show(part("pages/review/why/causes_foot", lines=causes), panel="close")
    words = why_words.factors_finding(found)
    show(_cold_head("factors, beside newborns in range", words, why_words.FACTORS), panel="open")
    if len(found.factors):
        show(why_charts.factors(found.factors))
    lines = [_factor_line(row) for row in rows_of(found.factors, FactorRow)]
    show(part("pages/review/why/factors_foot", lines=lines), panel="close")


def _cold_head(title: str, finding: str, words: str) -> PanelHead:
    more = part("pages/review/why/question", words=words)
    return panel_head(f"Cold at arrival: {title}", finding, more=more)


def _factor_line(row: FactorRow) -> dict[str, Any]:
    return {
        "factor": cold_factors.FACTORS[str(row["factor"])],
        "band": cold_factors.BANDS[str(row["band"])],
        "cold": f"{of_numbers.count(row['present'])} of {of_numbers.count(row['recorded'])}",
        "share": of_numbers.percent(row["share"]),
        "warm": f"{of_numbers.count(row['in_range_present'] or 0)} of "
        f"{of_numbers.count(row['in_range_recorded'] or 0)}",
        "warm_share": of_numbers.percent(row["in_range_share"]),
        "ratio": of_numbers.NONE
        if row["ratio"] is None
        else f"{row['ratio']:.2f} ({row['ratio_lower']:.2f} to {row['ratio_upper']:.2f})",
        "not_recorded": f"{of_numbers.count(row['not_recorded'])} and "
        f"{of_numbers.count(row['in_range_not_recorded'] or 0)}",
    }


WHY: Final = Section(
    "why",
    "Why it was missed",
    (intro, panels(show_missed)),
    read=why.read_why,
    folded="Charts: what happened instead, and when",
)
COLD: Final = Section(
    "cold",
    "Cold at arrival",
    (panels(show_cold),),
    link=None,
    read=why.read_why,
    folded="Charts: the cause that stands in the records, and what cold newborns have in common",
)

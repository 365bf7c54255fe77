"""The written parts of the fair-care page, and how its pictures are shown."""

from collections.abc import Mapping
from typing import Any, Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.definitions.strata import BIRTH, FAMILY
from pipelines.pages.fair import charts as fair_charts
from pipelines.pages.fair import read as fair
from pipelines.pages.fair import words as fair_words
from pipelines.pages.fair.frames import FairMeasureRow, LineRow
from pipelines.pages.fair.read import FairData
from pipelines.pages.shell.markup import PanelHead, Part, measure_head, part
from pipelines.pages.shell.page import About, Head, Section, about_section, panels
from pipelines.pages.shell.show import show
from pipelines.reading import gaps
from pipelines.words import of_numbers, of_silence, of_strata
from pipelines.words.of_numbers import count, month_name

FIRST_LINES: Final = 12  # of a table, before it must be opened
MOST_DRAWN: Final = 24  # gaps in one picture; the table has them all


def _line(row: LineRow) -> dict[str, Any]:
    gap, low, high = row["gap"], row["gap_lower"], row["gap_upper"]
    return {
        "stratum": of_strata.stratum(str(row["stratum"])),
        "title": row["title"],
        "stratifier": fair.SHOWN[str(row["stratifier"])],
        "fraction": f"{count(row['numerator'])} of {count(row['counted'])}",
        "percent": of_numbers.percent(row["rate"]),
        "interval": of_numbers.interval(row["lower"], row["upper"]),
        "all_percent": of_numbers.percent(row["all_rate"]),
        "gap": of_numbers.NONE if gap is None else of_numbers.points(gap),
        "gap_interval": fair_words.points_interval(low, high),
        "ratio": fair_words.ratio_words(row),
        "out": row["stands_out"],
        "word": fair_words.word_of(row),
        "not_documented": _share(row.get("not_documented"), row.get("denominator")),
        "apart": _share(row.get("exception"), row.get("denominator")),
    }


def _share(some: float | None, of: float | None) -> str:
    """Write a count with its share of the denominator; blank where the frame has none."""
    if some is None or not of:
        return ""
    return f"{of_numbers.count(some)} ({of_numbers.percent(some / of)})"


def _show_found(rows: pd.DataFrame, found: pd.DataFrame, subject: str, intro: str) -> None:
    """Display how many comparisons there are, the picture of those that stand out, the table."""
    drawn = found.loc[found["width"].nlargest(MOST_DRAWN).index.sort_values()]
    chance = fair_words.chance(rows, len(found))
    told = part(
        "pages/fair/found_head", intro=intro, chance=chance, drawn=len(drawn), all=len(found)
    )
    show(PanelHead(told.html, finding=chance), panel="open")
    if len(drawn):
        show(fair_charts.gap_picture(drawn))
    lines = [_line(row) for row in rows_of(found, LineRow)]
    show(
        part("pages/fair/found_foot", lines=lines, subject=subject, first=FIRST_LINES),
        panel="close",
    )


def show_family(data: FairData) -> None:
    """Display the gaps between families that stand out."""
    rows = data.strata[data.strata["stratifier"].isin(list(FAMILY))]
    intro = (
        "By self-reported race and ethnicity, preferred language and payer. Race stands for "
        "exposure to unequal conditions, not for biology."
    )
    _show_found(rows, fair.standing_out(rows, FAMILY), "gaps between families", intro)


def show_birth(data: FairData) -> None:
    """Display the gaps by mode of birth, gestational age and shift that stand out."""
    rows = data.strata[data.strata["stratifier"].isin(list(BIRTH))]
    intro = (
        "These say how births differ, and often why a gap between families is there or is not: "
        "a group with more early births can differ for that. They stand beside the others and "
        "are not adjusted away."
    )
    _show_found(rows, fair.standing_out(rows, BIRTH), "gaps by birth and shift", intro)


def show_consent(data: FairData) -> None:
    """Display the shares that declined, or were set apart otherwise, by family."""
    declined = data.reasons[data.reasons["outcome"] == fair.DECLINED]
    found = fair.standing_out(declined, FAMILY)
    intro = (
        "Of the newborns whose family was asked, or should have been. A difference by language or "
        "payer can be a problem of consent: of how, when and in which language families were asked."
    )
    _show_found(declined, found, "declined by family", intro)
    other = data.reasons[data.reasons["outcome"] == fair.OTHER_REASON]
    marked = len(fair.standing_out(other, FAMILY))
    chance = fair_words.chance(other, marked)
    show(part("pages/fair/reasons", groups=_reason_groups(data), chance=chance))


def _reason_groups(data: FairData) -> list[dict[str, Any]]:
    words = {fair.DECLINED: "declined", fair.OTHER_REASON: "set apart for another listed reason"}
    return [
        {
            "title": f"{rows['title'].iloc[0]}: {words[str(outcome)]}",
            "lines": [_line(row) for row in rows_of(rows, LineRow)],
            "out": int((rows["stands_out"] != "").sum()),
            "all": of_numbers.percent(rows["all_rate"].iloc[0]),
        }
        for (_, outcome), rows in data.reasons.groupby(["position", "outcome"], sort=True)
    ]


def _out_words(strata: pd.DataFrame, stratifiers: Mapping[str, str]) -> str:
    """Name the strata that stand out, with the side they stand on."""
    out = strata[(strata["stands_out"] != "") & strata["stratifier"].isin(list(stratifiers))]
    said = [
        f"{of_strata.stratum(str(name))} {side}"
        for name, side in zip(out["stratum"], out["stands_out"], strict=True)
    ]
    return of_numbers.listed(said, 3) if said else ""


def index(data: FairData) -> Part:
    """Return every measure in one line, with a link to its picture."""
    by_measure = dict(list(data.strata.groupby("measure_id")))
    lines = []
    for row in rows_of(data.measures, FairMeasureRow):
        strata = by_measure.get(row["measure_id"], data.strata.head(0))
        rate = row["numerator"] / row["counted"] if row["counted"] else None
        lines.append(
            {
                "measure_id": row["measure_id"],
                "title": row["title"],
                "fraction": f"{count(row['numerator'])} of {count(row['counted'])}",
                "percent": of_numbers.percent(rate),
                "compared": of_numbers.count(fair.compared(strata)),
                "family": _out_words(strata, FAMILY),
                "birth": _out_words(strata, BIRTH),
            }
        )
    return part("pages/fair/index", lines=lines, left_out=of_silence.left_out(data.silent))


def show_measures(data: FairData) -> None:
    """Display every measure: its finding, its picture, its numbers."""
    by_measure = dict(list(data.strata.groupby("measure_id")))
    for row in rows_of(data.measures, FairMeasureRow):
        strata = by_measure.get(row["measure_id"], data.strata.head(0))
        finding = fair_words.finding(row, strata)
        show(measure_head(row, finding, at_rest=True), panel="open")
        if len(strata) and row["numerator"]:
            show(fair_charts.by_stratum(row, strata))
        lines = [_line(one) for one in rows_of(strata, LineRow)]
        show(part("pages/fair/measure_foot", row=row, lines=lines), panel="close")


def head(data: FairData) -> Head:
    """Return line 1 and the three answers of the page."""
    return Head(
        title=data.title,
        when=f"fair care, {month_name(data.first)} to {month_name(data.last)}",
        remark=f"{of_numbers.number_of(data.newborns, 'newborn')}. {fair_words.PAGE_KIND}.",
        answers=[
            ("Do measures differ between families", fair_words.first_answer(data)),
            ("Do families decline differently", fair_words.second_answer(data)),
            ("How much is chance", fair_words.third_answer(data)),
        ],
    )


def about(data: FairData) -> About:
    """Return what the foot says: cautions, method, words, build."""
    glossary = {
        "gap": "percent in a group less percent of all newborns, in percentage points",
        "ratio": "percent in a group divided by percent of all newborns",
        "marked": "the 99 % interval of the gap leaves out no difference; about 1 in 100 "
        "comparisons is marked by chance alone",
        "interval": "the range that fits the newborns counted (95 %)",
        "fewer than 30": f"below {gaps.FEW} newborns in the group, or outside it, no gap is given "
        "and nothing is ranked; groups stand in a fixed order throughout",
        "set apart": "not met for a listed reason, such as declined; left out of the rate",
        "not recorded": "the export says nothing of this newborn; a group of its own",
    }
    cautions = [*fair_words.CAUTIONS, fair_words.METHOD]
    return About(cautions, glossary, data.build, data.loads, rows_of(data.measures, FairMeasureRow))


FAMILIES: Final = Section(
    "family",
    "Gaps between families that stand out",
    (show_family,),
    link="Gaps between families",
)
CONSENT: Final = Section(
    "consent",
    "Declined and set apart, by family",
    (show_consent,),
    link="Declined, by family",
)
BIRTHS: Final = Section(
    "birth",
    "Gaps by birth and shift that stand out",
    (show_birth,),
    link="Gaps by birth and shift",
)
EACH: Final = Section(
    "each",
    "Each measure by group",
    (index, panels(show_measures)),
    intro="A dot is the percent of a group, its line the 95 % interval; the upright line is all "
    "newborns. A diamond with a word is a gap that stands out, an open dot a group of fewer than "
    "30, a hatched square the newborns for whom the group is not recorded. Groups stand in a fixed "
    "order: nothing is ranked.",
    link="Each measure",
    leaves_off="the pictures of single measures: the table of every measure says in which a "
    "group stands out",
)
ABOUT: Final = about_section(about)

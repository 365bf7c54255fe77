"""The words of the fair-care page: a gap is a question, not a verdict."""

from typing import Final, TypedDict

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.definitions.strata import FAMILY
from pipelines.pages.fair import read as fair
from pipelines.pages.fair.frames import FairMeasureRow, LineRow, MarkedRow
from pipelines.pages.fair.read import FairData
from pipelines.reading import gaps
from pipelines.words import of_numbers
from pipelines.words.of_numbers import count, number_of, percent
from pipelines.words.of_strata import stratum

PAGE_KIND: Final = "Internal page: it shows small numbers and stays inside the unit"
CAUTIONS: Final = (
    "A gap is a question, not a verdict. It says that two groups of records differ; it does not "
    "say why, and it says nothing about any one family or any one member of staff.",
    "Race and ethnicity are self-reported and stand for exposure to unequal conditions, not for "
    "biology. Clinical differences between births are shown beside them and are not adjusted "
    "away.",
    "Not recorded is a group of its own: whoever is missing there may be missing from every "
    "other group in an uneven way.",
    "A gap can come from the charting. The count of not documented stands beside every percent; "
    "look there first.",
    "A share that declined, or was set apart, differing by language can be a problem of consent: "
    "of how, when and in which language the family was asked, not of what families prefer.",
    "Groups overlap, measures share values and two groups mirror each other, so comparisons are "
    "not independent: the number expected by chance is right on average, and can come in clumps.",
    "How complete the record is stays off this page: it counts the columns that make the groups. "
    "So do measures of how long something took; their percent says only how many were timed.",
    "The absence of a marked gap does not show that care is equal: a small group can hide one.",
)
METHOD: Final = (
    "Each group is compared with all newborns of the unit. A group is part of the whole, so the "
    "interval is found for the group against everyone else (Newcombe 1998 for differences; on the "
    "log scale, Katz and others 1978, for ratios) and carried over to the whole. Intervals are "
    "95 %; a gap is marked where its 99 % interval leaves out no difference. Where a newborn "
    "counts several times, as with episodes or observations, intervals take newborns as the unit "
    "(Rao and Scott 1992)."
)


class WordRow(TypedDict):
    """What ``word_of`` asks of a gap."""

    is_few: bool
    stands_out: str


def points_interval(lower: float | None, upper: float | None) -> str:
    """Write an interval in percentage points; blank where there is none."""
    if lower is None or upper is None:
        return ""
    return f"{of_numbers.points(lower)} to {of_numbers.points(upper)}"


def ratio_words(row: LineRow) -> str:
    """Write a ratio with its interval; a dash where there is none."""
    if row["ratio"] is None:
        return of_numbers.NONE
    if row["ratio_lower"] is None:
        return f"{row['ratio']:.2f}"
    return f"{row['ratio']:.2f} ({row['ratio_lower']:.2f} to {row['ratio_upper']:.2f})"


def gap_words(row: MarkedRow) -> str:
    """Say one gap as a clause: "12.1 points lower than all newborns (5.0 to 19.2)"."""
    low, high = sorted((abs(row["gap_lower"]), abs(row["gap_upper"])))
    return (
        f"{100 * abs(row['gap']):.1f} points {row['stands_out']} than "
        f"{percent(row['all_rate'])} of all ({100 * low:.1f} to {100 * high:.1f})"
    )


def gap_sentence(row: MarkedRow) -> str:
    """Say one gap that stands out, with its numbers, as briefly as a first screen needs."""
    low, high = sorted((abs(row["gap_lower"]), abs(row["gap_upper"])))
    return (
        f"{row['title']}, {stratum(str(row['stratum']))}: {count(row['numerator'])} of "
        f"{count(row['counted'])} ({percent(row['rate'])}) against {percent(row['all_rate'])} of "
        f"all, {100 * low:.0f} to {100 * high:.0f} points {row['stands_out']}"
    )


def _are(found: int) -> str:
    return "none is" if not found else f"{count(found)} {'is' if found == 1 else 'are'}"


def chance(rows: pd.DataFrame, found: int) -> str:
    """Say how many comparisons are made and how many would stand out by chance alone."""
    number = fair.compared(rows)
    expected = gaps.by_chance(number)
    text = (
        f"{number_of(number, 'comparison')}; about {expected:.1f} would be marked by chance alone "
        f"where nothing differs, {_are(found)}."
    )
    if 0 < found <= expected * 2:
        text += " That is hardly more than chance: read the marks as hints."
    return text


def first_answer(data: FairData) -> str:
    """Say which gaps between families stand out; at most three by name."""
    found = fair.standing_out(data.strata, FAMILY)
    family = data.strata[data.strata["stratifier"].isin(list(FAMILY))]
    if not fair.compared(family):
        return (
            "No group of families is large enough to compare: each needs "
            f"{gaps.FEW} newborns. Nothing can be said either way."
        )
    if found.empty:
        return (
            "No gap by race and ethnicity, language or payer is larger than chance explains. "
            "A small group can still hide one."
        )
    widest = rows_of(found.sort_values("width", ascending=False), MarkedRow)
    number = fair.compared(family)
    expected = gaps.by_chance(number)
    said = of_numbers.listed([gap_sentence(row) for row in widest], 2)
    enough = (
        f", more than the {expected:.1f} expected by chance alone"
        if len(found) > 2 * expected
        else f"; chance alone would mark about {expected:.1f}, so read them as hints"
    )
    return (
        f"{count(len(found))} of {number_of(number, 'gap')} between families "
        f"{'stands' if len(found) == 1 else 'stand'} out{enough}. Widest: {said}."
    )


def second_answer(data: FairData) -> str:
    """Say how refusals differ between families."""
    declined = data.reasons[data.reasons["outcome"] == fair.DECLINED]
    if declined.empty:
        return "No measure of this unit has a recorded refusal."
    found = fair.standing_out(declined, FAMILY)
    if found.empty:
        return "The share of families who declined differs nowhere by more than chance explains."
    widest = rows_of(found.sort_values("width", ascending=False), MarkedRow)
    said = [f"{row['title']}, {reason_clause(row)}" for row in widest]
    return of_numbers.listed(said, 2) + ". A difference can be a problem of consent."


def reason_clause(row: MarkedRow) -> str:
    """Say "Spanish: 31 of 400 declined (7.8 %), 4.0 points higher than ..."."""
    verb = "declined" if row["outcome"] == fair.DECLINED else "set apart for another reason"
    return (
        f"{stratum(str(row['stratum']))}: {count(row['numerator'])} of {count(row['counted'])} "
        f"{verb} ({percent(row['rate'])}), {gap_words(row)}"
    )


def third_answer(data: FairData) -> str:
    """Say how many would stand out by chance, and for whom the page can say nothing."""
    found = int((data.strata["stands_out"] != "").sum())
    small = data.strata[data.strata["is_few"]]
    text = f"All measures and groups: {chance(data.strata, found)}"
    if len(small):
        text += (
            f" For {number_of(len(small), 'further pair')} of measure and group there are fewer "
            f"than {gaps.FEW} newborns: no gap is given."
        )
    return text


def finding(row: FairMeasureRow, strata: pd.DataFrame) -> str:
    """Say what one measure's picture shows, in a sentence or two."""
    if not row["counted"]:
        return f"No eligible {of_numbers.noun(row)} in these months."
    text = (
        f"{count(row['numerator'])} of {count(row['counted'])} {of_numbers.noun(row)} "
        f"({percent(row['numerator'] / row['counted'])}). "
    )
    if not row["numerator"]:
        return text + "None in any group: nothing to compare."
    out = strata[strata["stands_out"] != ""]
    if out.empty:
        return text + "No group stands out."
    said = [
        f"{stratum(str(one['stratum']))} ({percent(one['rate'])})"
        for one in rows_of(out, MarkedRow)
    ]
    return text + f"Groups that stand out: {of_numbers.listed(said, 4)}."


def word_of(row: WordRow) -> str:
    """Say in the last column whether a gap is marked, and why there is none.

    >>> word_of({"is_few": True, "stands_out": ""})
    'fewer than 30: no gap given'
    """
    if row["is_few"]:
        return f"fewer than {gaps.FEW}: no gap given"
    return f"{row['stands_out']}, more than chance" if row["stands_out"] else "within chance"


def chart_text(row: FairMeasureRow, strata: pd.DataFrame) -> str:
    """Return the alternative text of one measure's picture."""
    return (
        f"{row['title']}: percent with 95 % interval for each of {len(strata)} groups, in a fixed "
        f"order, beside a line for all newborns. {finding(row, strata)} "
        "Every number stands in the table below."
    )

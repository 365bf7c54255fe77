"""The words of why care was missed: what goes together, never what made it so."""

from typing import Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.definitions.read_measures import ITEM_KINDS
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.review.why import cold_factors
from pipelines.pages.review.why import read as why
from pipelines.pages.review.why.cold_factors import ColdData
from pipelines.pages.review.why.frames import AssignedRow, FactorRow, RatioRow, SplitRow
from pipelines.pages.review.why.read import WhyData
from pipelines.reading.gaps import FEW
from pipelines.words import of_numbers, of_strata
from pipelines.words.of_numbers import count, number_of, percent

_WEEKDAYS: Final = (
    "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday",
)  # fmt: skip
_PLACES: Final = {
    "birth_room": "Birth room",
    "operating_room": "Operating room",
    "before_arrival": "On the way, before arrival",
    "other_site": "Another site",
}

CAUSES: Final = (
    "One cause per newborn, so the bars of a band sum to its newborns. Not reviewed yet is hatched "
    "and stands last."
)
FACTORS: Final = (
    "A ring is the share among newborns in range, a filled mark the share among cold ones. A "
    "newborn may have many factors. A factor as common in range is no cause; a ratio says that two "
    "things go together, not that one made the other."
)


def inside(text: str) -> str:
    """Write a heading as it stands inside a sentence.

    >>> inside("Mother below 36.5 C")
    'mother below 36.5 C'
    """
    return text[0].lower() + text[1:]


def level(row: SplitRow) -> str:
    """Say one level of a split.

    >>> level({"split_by": "weekday_of_birth", "level": "7"})
    'Sunday'
    >>> level({"split_by": "mode_of_birth", "level": "assisted_vaginal"})
    'Vaginal, assisted'
    """
    name = str(row["level"])
    if row["split_by"] == "weekday_of_birth" and name.isdigit():
        return _WEEKDAYS[int(name) - 1]
    return _PLACES.get(name, of_strata.stratum(name))


def _verb(measure: MeasureRow) -> str:
    return "it happened" if measure["direction"] == "lower" else "missed"


def sentence(measure: MeasureRow, levels: pd.DataFrame) -> str:
    """Say the largest difference with its interval, and that many splits are looked at."""
    compared = int(levels["difference"].notna().sum())
    several = (
        " Several of them may be of one newborn, so the interval is somewhat too narrow."
        if measure["kind"] in ITEM_KINDS
        else ""
    )
    row = why.largest(levels)
    if not compared:
        return f"Too few newborns to compare: each group needs {FEW}."
    looked = (
        f"{number_of(compared, 'group')} are looked at here, so about {compared * 0.025:.1f} would "
        "stand out like this by chance alone"
    )
    if row is None:
        return f"No group stands out beyond its 95 % interval. {looked}."
    return (
        f"Largest difference: {inside(why.SPLITS[str(row['split_by'])])}, {level(row)}: "
        f"{_verb(measure)} in {count(row['missed'])} of {count(row['base'])} "
        f"({percent(row['share'])}) against {percent(row['rest_share'])} in the rest, "
        f"{100 * row['difference']:.1f} points more "
        f"(95 % interval {100 * row['lower']:.1f} to {100 * row['upper']:.1f}). {looked}, and the "
        f"largest of many looks larger than it is.{several} It shows where to look, not why."
    )


def missed_text(measure: MeasureRow, levels: pd.DataFrame) -> str:
    """Return the alternative text of one measure's stacked shares."""
    states = why.states_of(str(measure["direction"]))
    return (
        f"{measure['title']}: share of newborns in each of {len(levels)} groups by what is "
        f"missing: {', '.join(states.values())}. {sentence(measure, levels)} Every number "
        "stands in the table below."
    )


def ratio_told(row: RatioRow) -> str:
    """Say one factor's ratio beside its row."""
    if row["ratio"] is None:
        return f"{count(row['present'])} of {count(row['recorded'])}, no ratio"
    return f"{row['ratio']:.1f} times ({row['ratio_lower']:.1f} to {row['ratio_upper']:.1f})"


def assigned_finding(data: ColdData) -> str:
    """Say how many cold newborns were reviewed and which cause was assigned most."""
    rows = data.assigned
    total = int(rows["newborns"].sum())
    open_rows = rows[rows["cause"] == cold_factors.NOT_REVIEWED]
    left = int(open_rows["newborns"].sum())
    if left == total:
        return (
            f"None of the {number_of(total, 'cold newborn')} has a cause assigned yet. Name a file "
            "of cause reviews in the unit's file to see them here."
        )
    named = rows[~rows["cause"].isin(list(cold_factors.LAST))].groupby("title")["newborns"].sum()
    text = f"{count(total - left)} of {number_of(total, 'cold newborn')} are reviewed"
    if named.empty:
        return f"{text}; no cause was assigned."
    return f"{text}; assigned most often: {named.idxmax()} ({count(named.max())})."


def assigned_text(causes: pd.DataFrame) -> str:
    """Return the alternative text of the assigned causes."""
    said = "; ".join(
        f"{cold_factors.BANDS[str(row['band'])]}, {row['title']}: {row['newborns']}"
        for row in rows_of(causes, AssignedRow)
    )
    return f"Assigned causes of cold arrivals, one per newborn: {said}."


def factors_finding(data: ColdData) -> str:
    """Say which factors were more common among cold newborns, beyond their interval."""
    rows = data.factors
    more = rows[rows["ratio_lower"] > 1].sort_values("ratio", ascending=False)
    compared = int(rows["ratio"].notna().sum())
    if not compared:
        return "Too few newborns, or too little recorded, to compare any factor."
    if more.empty:
        return "No factor is more common among cold newborns beyond its 95 % interval."
    said = [
        f"{inside(cold_factors.FACTORS[str(row['factor'])])}, "
        f"{inside(cold_factors.BANDS[str(row['band'])])}: "
        f"{percent(row['share'])} against {percent(row['in_range_share'])} in range, "
        f"{ratio_told(row)}"
        for row in rows_of(more, FactorRow)
    ]
    said[0] = said[0][0].upper() + said[0][1:]
    return (
        f"{of_numbers.listed(said, 2)}. {number_of(compared, 'ratio')} are looked at; about "
        f"{compared * 0.025:.1f} would stand out like this by chance alone."
    )


def factor_headings(shares: pd.DataFrame) -> list[str]:
    """Name each row's factor, and say for how many newborns it is not recorded."""
    missing = shares["not_recorded"].groupby(shares["factor"]).transform("sum")
    newborns = shares["newborns"].groupby(shares["factor"]).transform("sum")
    unknown = (missing + shares["in_range_not_recorded"].fillna(0)) / (
        newborns + shares["in_range_newborns"].fillna(0)
    )
    return [
        f"{cold_factors.FACTORS[str(name)]}" + (f" (not recorded: {percent(part)})" if part else "")
        for name, part in zip(shares["factor"], unknown, strict=True)
    ]


def factors_text(shares: pd.DataFrame) -> str:
    """Return the alternative text of the factors."""
    said = "; ".join(
        f"{cold_factors.FACTORS[str(row['factor'])]}, {cold_factors.BANDS[str(row['band'])]}: "
        f"{percent(row['share'])} against {percent(row['in_range_share'])} in range"
        for row in rows_of(shares, FactorRow)
    )
    return f"Share of newborns with each factor, cold and in range: {said}."


def intro(data: WhyData) -> str:
    """Say what the section shows, and over which months."""
    which = (
        "The measures that need attention"
        if data.has_urgent
        else "No measure needs attention this month; those with the most newborns missed"
    )
    return (
        f"{which}, over the twelve months from "
        f"{of_numbers.month_name(data.first)} to {of_numbers.month_name(data.last)}: one month "
        "holds too few newborns to split. Not documented is not the same as not done."
    )

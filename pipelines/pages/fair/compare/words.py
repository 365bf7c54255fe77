"""The words of units and groups side by side: what the limits say, and what they cannot."""

from typing import Final

from pipelines.base.frames import rows_of
from pipelines.definitions.strata import BIRTH
from pipelines.pages.fair.compare import read as compare
from pipelines.pages.fair.compare.frames import PointRow
from pipelines.pages.fair.compare.read import KINDS, UNIT, CompareData, Funnel
from pipelines.reading.small_numbers import SMALL
from pipelines.statistics import funnel, standardise
from pipelines.words import of_numbers, of_strata
from pipelines.words.of_numbers import count, number_of, percent

LIES: Final = {
    "above": "above the limits",
    "below": "below the limits",
    "within": "within the limits",
    "not_judged": "shown, not judged",
}
REASONS: Final = {
    standardise.NOBODY: "mix not recorded",
    standardise.EMPTY_STRATUM: "no newborn in part of the mix",
    standardise.NO_RATE: "no rate to expect",
    standardise.NONE_EXPECTED: "none expected",
}
METHOD: Final = (
    "The funnel shows how far a percent may lie from that of all newborns of the store by chance, "
    f"given how many newborns it is made of: of {count(1000)} points alike about 2 lie "
    "outside the outer line and 50 outside the inner one (exact binomial limits, Spiegelhalter "
    "2005)."
)
STANDARDISED: Final = (
    "Standardised percents ask what a unit or group would have with the gestational ages and "
    "modes of birth of all newborns of the store (direct; Fay and Feuer 1997). Parts of the mix "
    "without anyone of a group, or of one of the units, are left out; where they hold more than 1 "
    "in 20 of all newborns, no standardised percent is given. Against expected "
    "is how many it has, over how many its own newborns would have at the store's rates "
    "(indirect): that compares each with the store, not one with another. Only what is recorded "
    "can be taken into account."
)


def name_of(data: CompareData, kind: str, name: str) -> str:
    """Say a unit or a group."""
    return data.units.get(name, name) if kind == UNIT else of_strata.stratum(name)


def intro(data: CompareData) -> list[str]:
    """Say what is shown, how much of it is chance, and how units are judged."""
    if not data.funnels:
        return ["No measure of this unit has newborns to compare in these months."]
    number, expected, outside = compare.looked_at(data)
    found = f"{count(outside)} {'does' if outside == 1 else 'do'}" if outside else "none does"
    chance = (
        f"{number_of(number, 'point')} are judged; at most about {expected:.1f} would lie outside "
        f"by chance alone where nothing differs, {found}. Groups of one unit differ in who they "
        "are: a point outside is a question, not a verdict, and nothing here is ranked."
    )
    return [text for text in (METHOD, chance, alone_words(data), unit_words(data)) if text]


def alone_words(data: CompareData) -> str:
    """Name, in the page's order, each group that lies outside where all others lie within."""
    told = [
        f"{one.title}, {name_of(data, row['kind'], row['name'])}: {percent(row['rate'])} (all: "
        f"{percent(one.centre)}), {LIES[str(row['lies'])]}"
        for one in data.funnels
        if not one.is_flat
        for row in compare.alone(one)
    ]
    if not told:
        return ""
    return (
        f"In {number_of(len(told), 'measure')} one group alone lies outside; in the page's "
        f"order: {of_numbers.listed(told, len(told))}. Ask there first what is done otherwise for "
        "that group."
    )


def unit_words(data: CompareData) -> str:
    """Say how many units there are, and what that allows to say of them."""
    number = len(data.units)
    if number == 1:
        return "This store holds one unit, so only its own groups are compared."
    if number < compare.FEWEST_UNITS:
        return (
            f"This store holds {number} units: they are shown as {number} points with limits and "
            "not judged. Whether units differ more than chance has them cannot be told from so few."
        )
    if number < funnel.FEWEST:
        return (
            f"This store holds {number} units. Whether they differ more than chance alone would "
            f"have them (overdispersion) cannot be told from fewer than {funnel.FEWEST}: the "
            "limits allow for chance alone, and units that care for other newborns will lie "
            "outside more often than stated."
        )
    return (
        f"This store holds {number} units. Where they differ more than chance alone would have "
        "them, their limits are widened by the spread between units (a tenth at each end pulled "
        "in); each measure says so."
    )


def spread_words(one: Funnel) -> str:
    """Say how much more units differ than chance; empty where that is not estimated."""
    if one.spread is None:
        return ""
    if one.spread.tau2_winsor <= 0:
        return "Units differ no more than chance alone would have them."
    return (
        f"Units differ {one.spread.phi_winsor:.1f} times as much as chance alone would have them; "
        f"the limits of units allow for {100 * one.spread.tau2_winsor**0.5:.1f} points between "
        "them."
    )


def _unit_clause(data: CompareData, row: PointRow) -> str:
    """Say "Fern Hollow 84 % (standardised 85 %)"."""
    text = f"{name_of(data, UNIT, str(row['name']))} {percent(row['rate'])}"
    if row["direct"] is None:
        return text
    return f"{text} (standardised {percent(row['direct'])})"


def finding(data: CompareData, one: Funnel) -> str:
    """Say one measure: all newborns, the units where they are two, which groups lie outside."""
    text = f"All newborns: {count(one.numerator)} of {count(one.counted)} ({percent(one.centre)})."
    if one.is_flat:
        return f"{text} Nothing can differ."
    rows = rows_of(one.points, PointRow)
    if one.units == compare.FEWEST_UNITS - 1:
        said = [_unit_clause(data, row) for row in rows if row["kind"] == UNIT]
        text += f" {'; '.join(said)}: not judged."
    text += f" {spread_words(one)}" if spread_words(one) else ""
    outside = [
        f"{name_of(data, row['kind'], row['name'])} {row['lies']} ({percent(row['rate'])})"
        for row in rows
        if row["lies"] in {"above", "below"}
    ]
    if not outside:
        return f"{text} No point lies outside the limits."
    return f"{text} Outside the limits: {of_numbers.listed(outside, 2)}."


def point_words(row: PointRow) -> str:
    """Say where one point lies, for the last column."""
    few = f"; fewer than {SMALL}" if row["counted"] < SMALL else ""
    return LIES[str(row["lies"])] + few


def direct_words(row: PointRow) -> str:
    """Write a directly standardised percent with its interval, or why there is none."""
    if row["direct"] is None:
        return REASONS[str(row["direct_reason"])]
    span = of_numbers.interval(row["direct_lower"], row["direct_upper"])
    return f"{percent(row['direct'])} ({span})"


def shrunk_words(row: PointRow) -> str:
    """Write a percent drawn towards the others, its interval, and how much of it is theirs.

    "84 % (78 to 89 %), 31 of 100 borrowed"
    """
    if row["shrunk"] is None or row["borrowed"] is None:
        return of_numbers.NONE
    span = of_numbers.interval(row["shrunk_lower"], row["shrunk_upper"])
    return f"{percent(row['shrunk'])} ({span}), {round(100 * row['borrowed'])} of 100 borrowed"


def apart_words(one: Funnel) -> str:
    """Say how far the true percents of units and groups lie apart beyond chance."""
    told = []
    for kind, spreads in one.apart.items():
        middle, low, high = (f"{of_numbers.by_hand(100 * each, 1):g}" for each in spreads)
        told.append(f"{KINDS[kind].lower()} {middle} ({low} to {high})")
    if not told:
        return ""
    return (
        "How far true percents lie apart beyond chance, in points (one standard deviation, with "
        "what fits): "
        f"{of_numbers.listed(told, len(told))}. A small group's percent is drawn towards the "
        "others of its kind as far as its own newborns are too few to say; the table shows both."
    )


def against_words(row: PointRow) -> str:
    """Write observed over expected with its interval, or why there is none."""
    if row["against"] is None:
        return REASONS[str(row["against_reason"])]
    return (
        f"{count(row['observed'])} to {row['expected']:.0f}: {row['against']:.2f} "
        f"({row['against_lower']:.2f} to {row['against_upper']:.2f})"
    )


def chart_text(data: CompareData, one: Funnel) -> str:
    """Return the alternative text of one funnel."""
    kinds = ", ".join(words.lower() for words in BIRTH.values())
    return (
        f"{one.title}: funnel of percent by number of newborns, with limits about "
        f"{percent(one.centre)} of all. Points are units and this unit's groups by {kinds}. "
        f"{finding(data, one)} Every number stands in the table below."
    )

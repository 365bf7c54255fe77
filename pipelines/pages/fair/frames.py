"""The frames of the fair care page: one class a frame, its grain, its columns with unit.

Counts over several quarters are newborns, or items of newborns; shares are of 1.
"""

from typing import Annotated, NotRequired, TypedDict

import pandas as pd

from pipelines.reading.frames import InfoRow
from pipelines.reading.gaps import GapRow

MeasureId = Annotated[str, "name of its file, or of the band"]


class SpanRow(TypedDict):
    """One row: the months that the page is about."""

    first_month: Annotated[pd.Timestamp | None, "month of birth, its first day"]
    last_month: Annotated[pd.Timestamp | None, "month of birth, its first day"]
    newborns: Annotated[int, "newborns"]


class WholeCounts(TypedDict):
    """The counts of one measure over the page's months."""

    initial_population: Annotated[float, "whom the measure is about"]
    denominator: Annotated[float, "initial population less exclusions"]
    exception: Annotated[float, "not met for an accepted reason"]
    numerator: Annotated[float, "met"]
    not_documented: Annotated[float, "nothing on record"]
    unusable: Annotated[float, "recorded, not believable"]
    counted: Annotated[float, "whom the rate is made of"]


class CountRow(WholeCounts):
    """One row per measure, stratifier and stratum; stratifier 'all newborns' is the whole."""

    measure_id: MeasureId
    stratifier: Annotated[str, "by what newborns are grouped"]
    stratum: Annotated[str, "the group"]


class SetApartRow(TypedDict):
    """One row per measure, stratifier and stratum: how many were set apart, and why."""

    measure_id: MeasureId
    stratifier: Annotated[str, "by what newborns are grouped"]
    stratum: Annotated[str, "the group"]
    counted: Annotated[int, "newborns asked, or to be asked"]
    declined: Annotated[int, "newborns whose family declined"]
    other_reason: Annotated[int, "newborns set apart for another listed reason"]


class ClusterRow(TypedDict):
    """One row per measure whose rows are many to a newborn."""

    measure_id: MeasureId
    design: Annotated[float | None, "design effect: variance by newborn over that by row"]


class FairMeasureRow(InfoRow, WholeCounts):
    """``measures``: one row per measure, with its counts over all newborns."""


class GroupHead(TypedDict):
    """What a row of a group says of its measure and its place on the page."""

    measure_id: MeasureId
    stratifier: Annotated[str, "by what newborns are grouped"]
    stratum: Annotated[str, "the group"]
    title: Annotated[str, "of the measure"]
    kind: Annotated[str, "of the measure"]
    direction: Annotated[str, "higher, lower or neither is better"]
    position: Annotated[int, "place of the measure in the order of the pages"]
    stratifier_place: Annotated[int, "place of the stratifier on the page"]


class StratumRow(GroupHead, GapRow):
    """``strata``: one row per measure, stratifier and stratum, with its gap to all newborns."""

    initial_population: Annotated[float, "whom the measure is about"]
    denominator: Annotated[float, "initial population less exclusions"]
    exception: Annotated[float, "not met for an accepted reason"]
    not_documented: Annotated[float, "nothing on record"]
    unusable: Annotated[float, "recorded, not believable"]
    design: Annotated[float | None, "design effect, where rows are many to a newborn"]


class OutcomeRow(GroupHead, GapRow):
    """``reasons``: one row per measure, outcome (declined, other_reason) and stratum."""

    outcome: Annotated[str, "declined or other_reason; numerator counts it"]


class LineRow(GapRow):
    """What a line of a table asks of a row of ``strata`` or of ``reasons``."""

    title: str
    stratifier: str
    stratum: str
    denominator: NotRequired[float]
    exception: NotRequired[float]
    not_documented: NotRequired[float]


class MarkedRow(TypedDict):
    """What is told of a gap that stands out, of ``strata`` or of ``reasons``; shares."""

    title: str
    stratum: str
    outcome: NotRequired[str]
    numerator: float
    counted: float
    rate: float
    all_rate: float
    gap: float
    gap_lower: float
    gap_upper: float
    stands_out: Annotated[str, "higher or lower"]

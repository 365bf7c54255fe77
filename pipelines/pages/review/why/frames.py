"""The frames of why it was missed: grain, columns, units. Shares are of 1."""

from typing import Annotated, TypedDict


class _Split(TypedDict):
    """One row per measure, split and level; counts are newborns or items."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    split_by: Annotated[str, "a key of read.SPLITS"]
    level: Annotated[str, "the group, or 'not recorded'"]
    denominator: Annotated[int, "less exceptions"]
    met: Annotated[int, "met"]
    late: Annotated[int, "done after the window"]
    not_done: Annotated[int, "recorded as not done"]
    not_met: Annotated[int, "not as the measure asks"]
    not_documented: Annotated[int, "nothing on record"]
    unusable: Annotated[int, "recorded, not believable"]


class StateRow(_Split):
    """``states``: one row per measure, split and level."""

    counted: Annotated[int, "whom the rate is made of"]


class LevelRow(_Split):
    """``levels``: one row per measure, split and level, against all other levels of the split."""

    missed: Annotated[int, "missed; of a measure of harm: happened"]
    base: Annotated[int, "of how many"]
    share: Annotated[float | None, "missed, share of base"]
    rest_missed: Annotated[int, "missed in the other levels"]
    rest_base: Annotated[int, "of how many in the other levels"]
    rest_share: Annotated[float | None, "share in the other levels"]
    difference: Annotated[float | None, "share less rest_share; missing where few"]
    lower: Annotated[float | None, "share; end of its 95 % interval"]
    upper: Annotated[float | None, "share; end of its 95 % interval"]


class SplitRow(TypedDict):
    """What names a level."""

    split_by: str
    level: str


class ApartRow(SplitRow):
    """A level that stands apart from the rest of its split; shares."""

    missed: int
    base: int
    share: float
    rest_share: float
    difference: float
    lower: float
    upper: float


class ColdRow(TypedDict):
    """One row per newborn with an arrival temperature in range or cold; factors: was it so."""

    record_id: Annotated[str, "study key"]
    band: Annotated[str, "colder, mild or in_range"]
    room_cold: bool | None
    caesarean: bool | None
    resuscitation: bool | None
    early: bool | None
    small: bool | None
    not_dried: bool | None
    head_bare: bool | None
    no_contact: bool | None
    moved: bool | None
    mother_cold: bool | None
    night: bool | None
    winter: bool | None


class CauseRow(TypedDict):
    """One row per cause review of the unit."""

    record_id: Annotated[str | None, "study key"]
    cause: Annotated[str | None, "id of the cause"]


class AssignedRow(TypedDict):
    """``ColdData.assigned``: one row per band and cause, the most common first."""

    band: Annotated[str, "mild or colder"]
    cause: Annotated[str, "id of the cause, no_factor_found or not_reviewed"]
    newborns: Annotated[int, "newborns"]
    title: Annotated[str, "the cause in words"]
    band_place: Annotated[int, "place of the band"]
    last_place: Annotated[float, "0, or place among those that stand last"]


class FactorRow(TypedDict):
    """``ColdData.factors``: one row per factor and band of cold newborns; counts are newborns."""

    factor: Annotated[str, "a key of cold_factors.FACTORS"]
    band: Annotated[str, "mild or colder"]
    present: Annotated[int, "with the factor"]
    recorded: Annotated[int, "of whom it is recorded"]
    newborns: Annotated[int, "of the band"]
    not_recorded: Annotated[int, "of whom it is not recorded"]
    share: Annotated[float | None, "present, share of recorded"]
    in_range_present: Annotated[float | None, "with the factor, among newborns in range"]
    in_range_recorded: Annotated[float | None, "of whom it is recorded, in range"]
    in_range_newborns: Annotated[float | None, "in range"]
    in_range_not_recorded: Annotated[float | None, "of whom it is not recorded, in range"]
    in_range_share: Annotated[float | None, "share in range"]
    ratio: Annotated[float | None, "share over in_range_share; missing where few"]
    ratio_lower: Annotated[float | None, "end of its 95 % interval"]
    ratio_upper: Annotated[float | None, "end of its 95 % interval"]


class RatioRow(TypedDict):
    """What is told of a ratio."""

    present: int
    recorded: int
    ratio: float | None
    ratio_lower: float | None
    ratio_upper: float | None

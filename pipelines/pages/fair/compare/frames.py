"""The frames of units and groups beside one another: grain, columns, units."""

from typing import Annotated, TypedDict


class CellRow(TypedDict):
    """One row per measure, unit and kind of birth."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    unit: Annotated[str, "id"]
    gestation_band: Annotated[str, "gestational age in words, or 'not recorded'"]
    mode_of_birth: Annotated[str, "or 'not recorded'"]
    shift: Annotated[str, "day or night, or 'not recorded'"]
    counted: Annotated[int, "newborns the rate is made of"]
    numerator: Annotated[int, "newborns, met"]


class TitledRow(TypedDict):
    """What a funnel takes over from its measure."""

    measure_id: str
    title: str
    group_name: str


class PointRow(TypedDict):
    """``Funnel.points``: one row per unit and per group of this unit."""

    kind: Annotated[str, "unit, or the stratifier"]
    name: Annotated[str, "unit id, or the stratum"]
    numerator: Annotated[float, "newborns, met"]
    counted: Annotated[float, "newborns the rate is made of"]
    direct: Annotated[float | None, "directly standardised share"]
    direct_lower: Annotated[float | None, "share; end of its 95 % interval"]
    direct_upper: Annotated[float | None, "share; end of its 95 % interval"]
    direct_reason: Annotated[str | None, "why there is none"]
    observed: Annotated[float, "newborns of the rarer side"]
    expected: Annotated[float | None, "newborns of the rarer side, at the store's rates"]
    against: Annotated[float | None, "observed over expected"]
    against_lower: Annotated[float | None, "ratio; end of its 95 % interval"]
    against_upper: Annotated[float | None, "ratio; end of its 95 % interval"]
    against_reason: Annotated[str | None, "why there is none"]
    rate: Annotated[float, "share"]
    lower: Annotated[float | None, "share; end of the 95 % Wilson interval"]
    upper: Annotated[float | None, "share; end of the 95 % Wilson interval"]
    limit_low: Annotated[float, "share; lower outer limit at this many newborns"]
    limit_high: Annotated[float, "share; upper outer limit at this many newborns"]
    lies: Annotated[str, "above, below, within or not_judged"]
    shrunk: Annotated[float | None, "share drawn towards the others of its kind; missing: too few"]
    shrunk_lower: Annotated[float | None, "share; end of its 95 % interval"]
    shrunk_upper: Annotated[float | None, "share; end of its 95 % interval"]
    borrowed: Annotated[float | None, "share of it that comes from the others"]


class NamedRow(TypedDict):
    """One row per point whose name stands beside it in the picture."""

    label: Annotated[str, "name in words"]
    counted: Annotated[float, "newborns"]
    percent_met: Annotated[float, "percent"]
    x_px: Annotated[float, "px from the left"]
    y_px: Annotated[float, "px from the top"]

"""What a chart over time holds: its points, signals and phases, and the columns of each."""

from typing import Annotated, Final, TypedDict

import pandas as pd


class PointRow(TypedDict):
    """``points``: one row per period with data. Rates and limits are in what is charted."""

    period: Annotated[int, "number of the period, from 1"]
    start_on: Annotated[pd.Timestamp | None, "first day; missing: births without a month"]
    n: Annotated[float, "how many newborns (or items) it is made of"]
    numerator: Annotated[float | None, "of these, met; missing: not a chart of counts"]
    rate: Annotated[float, "share, events per exposure, count, value, births or days between"]
    phase: Annotated[int, "number of the stretch with its own limits"]
    is_baseline: Annotated[bool, "limits stand on it"]
    has_limits: Annotated[bool, "chance gives limits for it"]
    centre: Annotated[float | None, "middle of its phase"]
    lower_limit: Annotated[float | None, "lowest that chance allows"]
    upper_limit: Annotated[float | None, "highest that chance allows"]
    limit_sds: Annotated[float | None, "standard deviations of chance that limits stand for"]
    earlier_centre: Annotated[float | None, "of the phase before an accepted level, drawn on"]
    earlier_lower_limit: Annotated[float | None, "of the phase before, drawn on"]
    earlier_upper_limit: Annotated[float | None, "of the phase before, drawn on"]
    rules: Annotated[tuple[str, ...], "names of the rules that speak about it"]


class SignalRow(TypedDict):
    """``signals``: one row per signal."""

    start_on: Annotated[pd.Timestamp | None, "period in which the rule first spoke"]
    rule: Annotated[str, "its name"]
    direction: Annotated[str, "up, down or blank"]
    sense: Annotated[str, "better, worse or moved"]
    first_on: Annotated[pd.Timestamp | None, "first period it is about"]
    last_on: Annotated[pd.Timestamp | None, "last period it is about"]
    period: Annotated[int, "number of the period in which it first spoke"]
    first_period: Annotated[int, "number of the first period it is about"]
    last_period: Annotated[int, "number of the last period it is about"]
    phase: Annotated[int, "number of the phase whose limits speak"]


class PhaseRow(TypedDict):
    """``phases``: one row per stretch with its own limits, or its own median."""

    phase: Annotated[int, "its number, from 1"]
    start_on: Annotated[pd.Timestamp | None, "first period"]
    reason: Annotated[str, "start, policy or accepted: why it began"]
    first_period: Annotated[int, "number of its first period"]
    last_period: Annotated[int, "number of its last period"]
    baseline_first_on: Annotated[pd.Timestamp | None, "first period of its baseline"]
    baseline_last_on: Annotated[pd.Timestamp | None, "last period of its baseline"]
    baseline_periods: Annotated[int, "periods"]
    baseline_numerator: Annotated[float, "met in the baseline"]
    baseline_n: Annotated[float, "newborns (or items) of the baseline"]
    baseline_rate: Annotated[float, "its centre, in what is charted"]
    has_limits: Annotated[bool, "chance gives limits"]
    sigma_z: Annotated[float, "how many times wider than chance the baseline varies; 1 if not"]


POINT_COLUMNS: Final = tuple(PointRow.__annotations__)
SIGNAL_COLUMNS: Final = tuple(SignalRow.__annotations__)
PHASE_COLUMNS: Final = tuple(PhaseRow.__annotations__)

"""The frames of rare harm: grain, columns, units."""

from typing import Annotated, TypedDict

import pandas as pd


class NewbornRow(TypedDict):
    """One row per newborn and measure, in order of birth."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    month: Annotated[pd.Timestamp, "of birth; first day"]
    happened: Annotated[bool, "the event came"]
    gestation_band: Annotated[str, "gestational age in words, or 'not recorded'"]
    mode_of_birth: Annotated[str, "or 'not recorded'"]
    birth_place: Annotated[str, "or 'not recorded'"]


class MonthRow(TypedDict):
    """``Harm.months``: one row per month after the baseline."""

    month: Annotated[pd.Timestamp, "first day"]
    newborns: Annotated[int, "whom the rate is made of"]
    events: Annotated[int, "newborns to whom it happened"]
    expected: Annotated[float, "events, by what was known before care"]
    height: Annotated[float, "the sum after the last newborn of the month"]

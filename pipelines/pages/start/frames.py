"""The frame of the start notebook: grain, columns, units."""

from typing import Annotated, TypedDict

import pandas as pd


class HeldRow(TypedDict):
    """One row per unit of the store and month of birth."""

    unit: Annotated[str, "id"]
    title: Annotated[str, "name for readers"]
    month: Annotated[pd.Timestamp, "first day"]
    births: Annotated[int, "live births"]
    newborns: Annotated[int, "all newborns of the export"]

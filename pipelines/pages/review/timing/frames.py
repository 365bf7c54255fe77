"""The frames of how long it took: grain, columns, units."""

from typing import Annotated, TypedDict

import pandas as pd


class WaitRow(TypedDict):
    """One row per newborn and timed measure, of twelve months."""

    measure_id: Annotated[str, "name of its file"]
    month: Annotated[pd.Timestamp, "month of birth"]
    state: Annotated[str, "met, late, not_done, ..."]
    is_apart: Annotated[bool, "set apart by an exclusion or an accepted reason"]
    minutes: Annotated[float | None, "minutes after birth; missing: no usable time"]
    due_minutes: Annotated[float | None, "last minute of the window"]
    left_minutes: Annotated[float | None, "minutes after birth until it left; missing: stayed"]
    birth: Annotated[str, "vaginal, caesarean or 'not recorded'"]


class OpenRow(TypedDict):
    """One row per timed measure: from when its window is open."""

    measure_id: Annotated[str, "name of its file"]
    opens_minutes: Annotated[float | None, "minutes after birth"]


class SpreadFigures(TypedDict):
    """The minutes of one measure and period."""

    period_start: Annotated[pd.Timestamp, "first day of the period"]
    measured: Annotated[int, "newborns that could be timed"]
    not_measured: Annotated[int, "newborns that could not"]
    median_minutes: Annotated[float | None, "minutes"]
    p90_minutes: Annotated[float | None, "minutes; 90th centile"]


class SpreadRow(SpreadFigures):
    """``spread``: one row per measure of kind minutes and month or whole quarter."""

    measure_id: Annotated[str, "name of its file"]
    title: Annotated[str, "of the measure"]
    question: Annotated[str | None, "the question it answers"]
    documentation_trap: Annotated[str | None, "how records mislead"]
    position: Annotated[int, "place in the order of the pages"]
    period_kind: Annotated[str, "month or quarter"]

"""Why it was missed: how the states of a measure fall by hour, weekday, birth and place.

Frame in, frame out; the query is ``sql/states.sql``. It looks at twelve months, because one
month split by hour holds too few newborns to say anything.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pandas as pd

from pipelines.base.frames import checked, columns_of, rows_of
from pipelines.base.store_file import open_store
from pipelines.definitions.states import MISSED, UNKNOWN, state_words
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.review.read import ReviewData
from pipelines.pages.review.why import cold_factors
from pipelines.pages.review.why.cold_factors import ColdData
from pipelines.pages.review.why.frames import ApartRow, CauseRow, ColdRow, LevelRow, StateRow
from pipelines.reading.gaps import FEW
from pipelines.reading.queries import query
from pipelines.statistics.intervals import difference

# Split -> its words, in reading order.
SPLITS: Final = {
    "hour_of_birth": "Hour of birth",
    "weekday_of_birth": "Weekday of birth",
    "mode_of_birth": "Mode of birth",
    "gestation_band": "Gestational age",
    "birth_place": "Birth place",
}
MOST_MISSED: Final = 2
_STACKED: Final = state_words("stacked")
# State -> its words, in the order in which they are stacked: what is known, then what is not.
STATES: Final = {state: _STACKED[state] for state in MISSED}
# For a measure of harm, what is counted is that it happened; what is not known stands beside it.
HARM: Final = {state: _STACKED[state] for state in ("met", *UNKNOWN)}


@dataclass(frozen=True)
class WhyData:
    """What a month's section says; ``frames.py`` declares the columns of each frame."""

    first: pd.Timestamp
    last: pd.Timestamp
    has_urgent: bool  # whether any measure of the month needs attention
    measures: (
        pd.DataFrame
    )  # MeasureRow of the review: one row per measure shown: those, or else the most often missed
    levels: pd.DataFrame  # one row per measure, split and level
    cold: ColdData


def states_of(direction: str) -> dict[str, str]:
    """Return the states that count as missed, with their words, in the order of stacking."""
    return dict(HARM if direction == "lower" else STATES)


def with_shares(counts: pd.DataFrame, direction: str) -> pd.DataFrame:
    """Add to each level how many were missed and how far that stands from all other levels.

    ``counts``: split_by, level, denominator, counted (by the rate) and a count for each state,
    of one measure. Adds missed, share (of denominator), rest_share, difference, lower, upper
    (95 %, Newcombe 1998; missing where the level or the rest has fewer than 30). For a measure
    of harm, missed is that it happened, among those counted.
    """
    rows = counts.copy()
    base, counted = rows["denominator"], rows.pop("counted")
    if direction == "lower":
        rows["missed"] = rows["met"]
        base = counted
    else:
        rows["missed"] = rows[list(STATES)].sum(axis=1)
    rows["base"] = base
    whole = rows.groupby("split_by")[["missed", "base"]].transform("sum")
    rest = whole - rows[["missed", "base"]]
    rows["share"] = rows["missed"] / base.where(base > 0)
    rows["rest_missed"], rows["rest_base"] = rest["missed"], rest["base"]
    rows["rest_share"] = rest["missed"] / rest["base"].where(rest["base"] > 0)
    enough = (base >= FEW) & (rest["base"] >= FEW)
    rows["difference"] = (rows["share"] - rows["rest_share"]).where(enough)
    rows[["lower", "upper"]] = float("nan")
    if enough.any():
        ours, others = (
            (frame.loc[enough, "missed"].to_numpy(float), frame.loc[enough, "base"].to_numpy(float))
            for frame in (rows, rest)
        )
        rows.loc[enough, "lower"], rows.loc[enough, "upper"] = difference(ours, others)
    return rows


def largest(levels: pd.DataFrame) -> ApartRow | None:
    """Return the level missed more than the rest by most, beyond its 95 % interval, or None."""
    more = levels[levels["lower"] > 0]
    last = rows_of(more.sort_values("difference").tail(1), ApartRow)
    return last[0] if last else None


def _read(store_path: Path, values: dict[str, Any]) -> dict[str, pd.DataFrame]:
    with open_store(store_path) as store:
        return {
            "states": query(store, "pages/review/why/states", StateRow, **values),
            "cold": query(store, "pages/review/why/cold", ColdRow, **values, **cold_factors.LIMITS),
            "causes": query(store, "pages/review/why/causes", CauseRow, **values),
        }


def needing_attention(data: ReviewData) -> pd.DataFrame:
    """Return the measures of the page that need attention and count missed care or harm."""
    rows = data.measures
    chosen = (rows["rank"] == 0) & (rows["direction"] != "neither") & (rows["counted"] > 0)
    return rows[chosen & (rows["kind"] != "minutes")].reset_index(drop=True)


def most_missed(data: ReviewData) -> pd.DataFrame:
    """Return the measures of care that the most newborns of the month missed."""
    rows = data.measures
    # What nobody met, or nobody wrote down, is a matter of the export or of policy: no split helps.
    chosen = (rows["direction"] == "higher") & (rows["kind"] != "minutes") & (rows["numerator"] > 0)
    missed = rows[list(STATES)].sum(axis=1).where(chosen, 0)
    return (
        rows.assign(missed=missed)[missed > 0]
        .nlargest(MOST_MISSED, "missed")
        .drop(columns="missed")
    )


def read_why(store_path: Path | str, data: ReviewData) -> WhyData:
    """Read the twelve months to the page's, for the measures that need attention."""
    urgent = needing_attention(data)
    measures = urgent if len(urgent) else most_missed(data).reset_index(drop=True)
    values = {
        "unit": data.unit,
        "month": data.month.date(),
        "measures": [str(name) for name in measures["measure_id"]],
    }
    frames = _read(Path(store_path), values)
    direction = dict(zip(measures["measure_id"], measures["direction"], strict=True))
    found = [
        with_shares(counts, str(direction[name]))
        for name, counts in frames["states"].groupby("measure_id")
    ]
    nothing = frames["states"].reindex(columns=list(columns_of(LevelRow)))
    levels = pd.concat(found, ignore_index=True) if found else nothing
    return WhyData(
        first=data.month - pd.DateOffset(months=11),
        last=data.month,
        has_urgent=len(urgent) > 0,
        measures=checked(measures, MeasureRow),
        levels=checked(levels, LevelRow),
        cold=cold_factors.picture(frames["cold"], frames["causes"]),
    )

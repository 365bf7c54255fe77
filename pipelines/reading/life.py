"""The life of a signal: when it began, whether it still speaks, who answered it and how.

A signal here is an episode: what the rules say of one measure in one sense (better, worse,
moved), joined where fewer than six quiet periods lie between. An answer is a dated line of the
unit's file, written in or after the month in which a rule first spoke, or first spoke again after
three quiet periods: what was explained and comes back is asked about anew.

What is rare and unwanted has a sum beside its chart (:mod:`harms`); its alarms are part of the
same episodes.

No line takes an alarm away that still speaks, but two: one that explains it, for a year, and an
accepted level, which begins new limits (:mod:`pipelines.statistics.phases`); worse than those is
a signal again. The quiet periods and the twelve months are common practice, no published source.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final, TypedDict, cast

import pandas as pd

from pipelines.base.frames import checked, columns_of, rows_of
from pipelines.definitions.signal_lines import ACCEPTED, OPENED, SETTLED
from pipelines.statistics import phases
from pipelines.statistics.over_time import BETTER, MOVED, WORSE, OverTime
from pipelines.statistics.reasons import CHANGES_CANNOT_BE_PLACED, LEVEL_TOO_SHORT

NEW: Final = "new"
NOTHING: Final = "none"
NOT_ANSWERED: Final = (NEW, OPENED)
QUIET: Final = 6  # periods without a signal that end an episode
QUIET_ANSWER: Final = 3  # that end what an answer answers
REMEMBERED: Final = pd.DateOffset(months=12)
# Of one measure, what is told first.
_TOLD_FIRST: Final = {WORSE: 0, BETTER: 1, MOVED: 2}


class LineRow(TypedDict):
    """``lines``: one row per measure and dated line that the unit wrote of one of its signals."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    said_on: Annotated[pd.Timestamp, "date of the line"]
    step: Annotated[str, "opened, explained, accepted or settled"]
    level_from: Annotated[pd.Timestamp | None, "first month of an accepted level"]
    role: Annotated[str, "of who said it"]
    reason: Annotated[str, "why, in the unit's words"]


class LifeRow(TypedDict):
    """One row per measure and signal of the last twelve months; of each sense the latest."""

    measure_id: Annotated[str, "name of its file, or of the band"]
    sense: Annotated[str, "worse, better or moved"]
    began_on: Annotated[
        pd.Timestamp | None, "in which a rule first spoke of it; first of a new level"
    ]
    spoke_on: Annotated[pd.Timestamp | None, "in which a rule first spoke, or again after quiet"]
    last_on: Annotated[pd.Timestamp | None, "last period it is about"]
    speaks: Annotated[bool, "it reaches the last period"]
    state: Annotated[str, "new, opened, explained, accepted or settled"]
    said_on: Annotated[pd.Timestamp | None, "date of the line that says so"]
    role: Annotated[str | None, "of who said it"]
    reason: Annotated[str | None, "why, in the unit's words"]
    is_urgent: Annotated[bool, "worse, speaks, and nobody has answered it (within a year)"]
    is_left: Annotated[bool, "worse, ended, and nobody has answered it"]
    by_sum: Annotated[bool, "the sum of what is rare and unwanted spoke, and no rule of the chart"]


class LifeNow(TypedDict):
    """One measure's signal that is told first: what ``now`` adds."""

    life_state: Annotated[str, "state of the signal; none: no signal of the last twelve months"]
    life_sense: Annotated[str | None, "worse, better or moved"]
    life_last_on: Annotated[pd.Timestamp | None, "last period it is about"]
    life_speaks: Annotated[bool, "it reaches the last period"]
    life_said_on: Annotated[pd.Timestamp | None, "date of the line that answers it"]
    life_role: Annotated[str | None, "of who said it"]
    life_reason: Annotated[str | None, "why"]
    is_urgent: Annotated[bool, "worse, speaks, and nobody has answered it"]
    is_left: Annotated[bool, "worse, ended within a year, and nobody has answered it"]
    life_by_sum: Annotated[bool, "the sum of what is rare spoke, and no rule of the chart"]


@dataclass(frozen=True)
class Alarm:
    """The signals of a sum as an episode; the columns of LifeRow of the same names."""

    began_on: pd.Timestamp
    spoke_on: pd.Timestamp
    last_on: pd.Timestamp
    speaks: bool


def lives(
    over: Mapping[str, OverTime],
    lines: pd.DataFrame,
    month: pd.Timestamp,
    alarms: Mapping[str, Alarm] | None = None,
) -> pd.DataFrame:
    """Return every signal of the twelve months up to ``month`` with its state.

    ``over``: measure_id -> its chart over time. ``lines``: LineRow. ``alarms``: measure_id -> what
    its sum says, of what is rare and unwanted. Columns: LifeRow.
    """
    alarms = alarms or {}
    by_measure = dict(list(lines.groupby("measure_id")))
    rows: list[dict[str, object]] = []
    for name, one in over.items():
        own = by_measure.get(name, lines.head(0))
        found = [*_with_alarm(_episodes(one), alarms.get(name)), *_accepted(one, own)]
        told = (_answered(each, one, own, month) for each in found)
        rows += [{"measure_id": name, **each} for each in told if _is_remembered(each, month)]
    frame = pd.DataFrame(rows, columns=list(columns_of(LifeRow)))
    for column, kind in columns_of(LifeRow).items():
        if kind is bool:
            frame[column] = frame[column].astype(bool)
        elif kind == pd.Timestamp | None:
            frame[column] = pd.to_datetime(frame[column])
    return checked(frame, LifeRow)


def _level(one: OverTime) -> pd.Series | None:
    """Return the latest phase that begins at an accepted level; None where there is none."""
    found = one.phases[one.phases["reason"] == phases.ACCEPTED]
    return None if found.empty else found.iloc[-1]


def _episodes(one: OverTime) -> list[dict[str, object]]:
    """Return the latest episode in each sense, of what was not accepted meanwhile."""
    level, told = _level(one), one.signals
    if level is not None:
        told = told[told["phase"] >= level["phase"]]
    found = []
    for sense, own in told.groupby("sense"):
        latest = _latest(own, QUIET)
        last = latest.sort_values("last_period", kind="stable").iloc[-1]
        found.append(
            {
                "sense": sense,
                "began_on": latest["start_on"].min(),
                "spoke_on": _latest(own, QUIET_ANSWER)["start_on"].min(),
                "last_on": last["last_on"],
                "speaks": bool(last["last_period"] == len(one.points)),
            }
        )
    return found


def _with_alarm(found: list[dict[str, object]], alarm: Alarm | None) -> list[dict[str, object]]:
    """Join the episode of a sum to what the chart says is worse, or add it."""
    if alarm is None:
        return found
    chart = next((one for one in found if one["sense"] == WORSE), None)
    if chart is None:
        return [*found, {"sense": WORSE, **vars(alarm), "by_sum": True}]
    others = [one for one in found if one is not chart]
    dated = [chart[key] for key in ("began_on", "spoke_on", "last_on")]
    if not all(isinstance(at, pd.Timestamp) and not pd.isna(at) for at in dated):
        return found  # points without dates, which speak for themselves
    began, spoke, last = cast(list[pd.Timestamp], dated)
    own = Alarm(began, spoke, last, bool(chart["speaks"]))
    by_sum = alarm.speaks and not own.speaks
    return [*others, {"sense": WORSE, **vars(_joined(own, alarm)), "by_sum": by_sum}]


def _joined(one: Alarm, other: Alarm) -> Alarm:
    """Return two episodes as one, where no more quiet months lie between than within one.

    Else the later of them.
    """
    first, second = sorted((one, other), key=lambda each: each.last_on)

    def since(quiet: int, at: str) -> pd.Timestamp:
        ends = first.last_on + pd.DateOffset(months=quiet + 1)
        own: pd.Timestamp = getattr(second, at)
        return min(own, getattr(first, at)) if own <= ends else own

    began, spoke = since(QUIET, "began_on"), since(QUIET_ANSWER, "spoke_on")
    return Alarm(began, spoke, second.last_on, one.speaks or other.speaks)


def _latest(told: pd.DataFrame, quiet: int) -> pd.DataFrame:
    """Return the signals of the latest stretch that ``quiet`` periods without one do not cut."""
    rows = told.sort_values("first_period")
    reached = rows["last_period"].cummax().shift()
    part = (rows["first_period"] > reached + quiet).cumsum()
    return rows[part == part.iloc[-1]]


def _accepted(one: OverTime, lines: pd.DataFrame) -> list[dict[str, object]]:
    """Return the accepted level that holds now, as a life of its own."""
    level = _level(one)
    if level is None:
        return []
    said = rows_of(lines[lines["level_from"] == level["start_on"]].tail(1), LineRow)
    before = one.phases.loc[one.phases["phase"] == level["phase"] - 1, "baseline_rate"].iloc[0]
    return [
        {
            "sense": _sense(one, float(level["baseline_rate"]) - float(before)),
            "began_on": level["start_on"],
            "spoke_on": None,
            "last_on": line["said_on"],
            "speaks": False,
            "state": ACCEPTED,
            "said_on": line["said_on"],
            "role": line["role"],
            "reason": line["reason"],
        }
        for line in said
    ]


def _sense(one: OverTime, step: float) -> str:
    """Say what a step to an accepted level means."""
    if not one.better or not step:
        return MOVED
    return BETTER if (step > 0) == (one.better == "up") else WORSE


def _answered(
    told: dict[str, object], one: OverTime, lines: pd.DataFrame, month: pd.Timestamp
) -> dict[str, object]:
    """Add state, who said so, and whether it is urgent."""
    if "state" not in told:
        told = {**told, **_answer(told, one, lines, month)}
    is_worse, speaks = told["sense"] == WORSE, bool(told["speaks"])
    is_open = is_worse and told["state"] in NOT_ANSWERED
    is_told = {"is_urgent": is_open and speaks, "is_left": is_open and not speaks}
    return {**told, **is_told, "by_sum": bool(told.get("by_sum"))}


def _answer(
    told: dict[str, object], one: OverTime, lines: pd.DataFrame, month: pd.Timestamp
) -> dict[str, object]:
    """Return the state of an episode by its latest line that counts."""
    nothing: dict[str, object] = {"state": NEW, "said_on": None, "role": None, "reason": None}
    spoke = told["spoke_on"]
    counts = lines
    if isinstance(spoke, pd.Timestamp) and not pd.isna(spoke):
        counts = lines[lines["said_on"] >= spoke]
    # An accepted level that has its limits answers what was before it, never what they say.
    waiting = [why.start_on for why in one.reasons if why.name == LEVEL_TOO_SHORT]
    is_placed = all(why.name != CHANGES_CANNOT_BE_PLACED for why in one.reasons)
    if is_placed and not told.get("by_sum"):
        counts = counts[(counts["step"] != ACCEPTED) | counts["level_from"].isin(waiting)]
    if told["speaks"]:  # what still speaks is not over, and no answer holds for ever
        still = counts["said_on"] > month + pd.offsets.MonthEnd(1) - REMEMBERED
        counts = counts[(counts["step"] != SETTLED) & (still | (counts["step"] == OPENED))]
    if counts.empty:
        return nothing
    # Taken up after it was explained: the explanation still holds.
    answers = counts[counts["step"] != OPENED]
    last = (answers if len(answers) else counts).iloc[-1]
    return {"state": last["step"], **{key: last[key] for key in ("said_on", "role", "reason")}}


def _is_remembered(told: Mapping[str, object], month: pd.Timestamp) -> bool:
    if told["speaks"]:
        return True
    last = told["last_on"]
    return isinstance(last, pd.Timestamp) and not pd.isna(last) and last > month - REMEMBERED


def now(measures: pd.Series, told: pd.DataFrame) -> pd.DataFrame:
    """Return measure_id and the columns of LifeNow: each measure's signal that is told first.

    ``measures``: their ids. What is urgent is told before what was left, that before what still
    speaks, worse before better.
    """
    order = told.assign(place=told["sense"].map(_TOLD_FIRST))
    keys = ["is_urgent", "is_left", "speaks", "place"]
    order = order.sort_values(keys, ascending=[False, False, False, True], kind="stable")
    first = order.drop_duplicates("measure_id").drop(columns=["place", "began_on", "spoke_on"])
    names = {
        name: f"life_{name}"
        for name in ("state", "sense", "last_on", "speaks", "said_on", "role", "reason", "by_sum")
    }
    rows = measures.to_frame("measure_id").merge(
        first.rename(columns=names), on="measure_id", how="left"
    )
    rows["life_state"] = rows["life_state"].fillna(NOTHING)
    for flag in ("life_speaks", "is_urgent", "is_left", "life_by_sum"):
        rows[flag] = rows[flag].eq(True)
    return rows

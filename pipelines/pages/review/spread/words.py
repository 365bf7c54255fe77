"""The words of what was measured: mean and spread of a month, and whether either moved."""

import math
from typing import Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.pages.review.spread.read import Measured, SpreadMonthRow
from pipelines.statistics.over_time import SignalRow
from pipelines.words import of_numbers, of_states
from pipelines.words.of_numbers import NONE, SPACE, by_hand, count, month_name

SHORT: Final = 10  # minutes: below it a tenth is told
TIMES: Final = "times"
NOTHING: Final = "Nothing is measured often enough to show its mean and spread."
METHOD: Final = (
    "A share asks on which side of a limit a reading lies; its mean and its spread use all of it. "
    "The pale area is what chance, season and good months allow of the mean, and what chance "
    "allows of the spread (one standard deviation; of minutes how many times more or less). "
    "Minutes are averaged as logarithms. Of 100 charts of spreads over 24 months fewer than 10 "
    "show a month outside by luck, heavy tails among the readings included."
)


def mean_words(one: Measured, mean: float | None) -> str:
    """Write a mean of readings with its unit: of minutes back from their logarithms."""
    if mean is None or of_numbers.is_missing(mean):
        return NONE
    if not one.is_time:
        return f"{by_hand(mean, 2):.2f}{SPACE}{one.unit}"
    minutes = math.exp(mean)
    digits = 1 if minutes < SHORT else 0
    return f"{by_hand(minutes, digits):.{digits}f}{SPACE}{one.unit}"


def spread_words(one: Measured, spread: float | None) -> str:
    """Write a spread with its unit: of minutes how many times more or less."""
    if spread is None or of_numbers.is_missing(spread):
        return NONE
    if one.is_time:
        return f"{by_hand(math.exp(spread), 2):.2f}{SPACE}{TIMES}"
    return f"{by_hand(spread, 2):.2f}{SPACE}{one.unit}"


def span_words(low: str, high: str) -> str:
    """Write two ends; a dash where there are none."""
    return NONE if NONE in (low, high) else f"{low} to {high}"


def finding(one: Measured) -> str:
    """Say the last month, and whether mean or spread moved."""
    (last,) = rows_of(one.months.tail(1), SpreadMonthRow)
    return (
        f"{month_name(last['month'])}: mean {mean_words(one, last['mean'])}, spread "
        f"{spread_words(one, last['spread'])}, of {count(last['readings'])} readings. "
        f"{_means(one)} {_spreads(one)}"
    )


def _means(one: Measured) -> str:
    if not bool(one.means.points["has_limits"].any()):
        return "Too few months for limits yet."
    current = rows_of(one.means.current, SignalRow)
    if not current:
        return "The mean is where it was, as far as chance allows to tell."
    first = current[0]
    way = {"up": "higher", "down": "lower"}.get(first["direction"], "uneven")
    when = f" since {month_name(first['first_on'])}" if first["first_on"] is not None else ""
    return f"The mean is {way}{when}: {of_states.RULE_WORDS[first['rule']]}."


def _spreads(one: Measured) -> str:
    if one.within is None:
        return ""
    outside = one.spread_outside
    if outside.empty:
        return "No month's spread lies outside its limits."
    (last,) = rows_of(outside.tail(1), SpreadMonthRow)
    is_wider = last["spread_high"] is not None and last["spread"] > last["spread_high"]
    side = "wider" if is_wider else "narrower"
    number = of_numbers.number_of(len(outside), "month")
    return (
        f"The spread lies outside its limits in {number}, last {side} in "
        f"{month_name(last['month'])}."
    )


def doubts(one: Measured) -> str:
    """Say how much more months differ than their readings explain; empty without limits."""
    if one.within is None:
        return ""
    if one.within.between <= 1:
        return "Months differ no more than the readings within them explain."
    return (
        f"Months differ {one.within.between:.1f} times as much as the readings within them "
        "explain: season, and what one month has in common. The limits of the mean allow for it."
    )


def chart_text(one: Measured, what: str, months: pd.DataFrame) -> str:
    """Return the alternative text of one picture; ``what``: mean or spread."""
    first, last = months["month"].iloc[0], months["month"].iloc[-1]
    return (
        f"{one.title}: {what} of what was measured, by month from {first:%b %y} to {last:%b %y}. "
        f"{finding(one)}"
    )

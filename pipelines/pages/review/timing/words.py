"""The words of how long it took: minutes, shares, doubt, and what has no time on record."""

from typing import Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.definitions.states import state_words
from pipelines.pages.review.timing import read as timing
from pipelines.pages.review.timing.frames import SpreadFigures
from pipelines.pages.review.timing.read import Group, Timed, TimingData
from pipelines.reading.small_numbers import CHANGE_LEVEL, SMALL
from pipelines.statistics import survival
from pipelines.statistics.intervals import wilson
from pipelines.statistics.many import expected_by_chance
from pipelines.statistics.survival import Compared
from pipelines.words import of_numbers
from pipelines.words.of_numbers import count, number_of, percent

NAMES: Final = {
    "vaginal": "vaginal birth",
    "caesarean": "caesarean birth",
    timing.ALL: "all newborns",
}
_STATES: Final = state_words("waiting")
CENSORING: Final = (
    "A newborn without a usable time is counted as still waiting until it died, was transferred "
    "or went home, or to the end of the picture. So the curve is the share on record, and not "
    "documented is not the same as not done. The method takes whoever has no time on record to "
    "be like the rest, which records cannot promise: read the plain count beside it."
)
FEW_MINUTES: Final = 10  # below which half a minute is told


def minute(value: float | None) -> str:
    """Write a minute after birth; a dash where there is none.

    Charts hold whole minutes: a half is told of a few minutes only.

    >>> minute(30.0), minute(31.5), minute(4.5), minute(None) == of_numbers.NONE
    ('30', '32', '4.5', True)
    """
    if value is None or of_numbers.is_missing(value):
        return of_numbers.NONE
    digits = 0 if value >= FEW_MINUTES else 1
    return f"{of_numbers.by_hand(value, digits):.1f}".removesuffix(".0")


def p_words(p_value: float) -> str:
    """Say a p-value as a chance.

    >>> p_words(0.0000004).replace("\\N{NARROW NO-BREAK SPACE}", "_"), p_words(0.6)
    ('less than 1 in 1_000', '60 in 100')
    """
    if p_value < 0.001:
        return f"less than 1 in {of_numbers.count(1000)}"
    if p_value < 0.1:
        return f"{1000 * p_value:.0f} in {of_numbers.count(1000)}"
    return f"{100 * p_value:.0f} in 100"


def _by(group: Group, share: float, end: int) -> str:
    value = timing.minute_of(group.curve, share)
    return f"not by minute {end}" if value is None else f"by minute {minute(value)}"


def half_words(one: Timed) -> str:
    """Say by when half and nine in ten had it on record, for each curve."""
    said = [
        f"{NAMES[group.name]}: half {_by(group, 0.5, one.end)}, nine in ten "
        f"{_by(group, 0.9, one.end)}"
        for group in one.groups
    ]
    text = "; ".join(said) + "."
    return text[0].upper() + text[1:]


def plain_words(one: Timed) -> str:
    """Say the plain share within the window, of all newborns, as the measure counts it."""
    lower, upper = (float(end) for end in wilson(one.met, one.whole.curve.newborns))
    return (
        f"Within the window: {count(one.met)} of {number_of(one.whole.curve.newborns, 'newborn')} "
        f"({percent(one.met / one.whole.curve.newborns)}, 95 % interval "
        f"{of_numbers.interval(lower, upper)})."
    )


def untimed_words(one: Timed) -> str:
    """Say who has no usable time, and what the share would be if they were like the rest."""
    total = sum(one.states.values())
    newborns = one.whole.curve.newborns
    if not total:
        return "Every newborn has a time on record."
    parts = [f"{_STATES.get(name, name)} {count(number)}" for name, number in one.states.items()]
    known = newborns - total
    if not known:
        return f"No newborn has a usable time on record ({', '.join(parts)})."
    return (
        f"{count(total)} of them ({percent(total / newborns)}) have no usable time on record "
        f"({', '.join(parts)}); were they like the rest, it would be {percent(one.met / known)}."
    )


def compared_words(of: Compared, subject: str) -> str:
    """Say what the log-rank test found, or why there is none."""
    if of.p_value is None:
        why = {
            survival.ONE_GROUP: f"fewer than {SMALL} newborns on one side",
            survival.NOBODY: "no newborns",
            survival.NO_EVENT: "no time on record",
            survival.NEVER_TOGETHER: "nobody waiting at the same time",
        }[str(of.reason)]
        return f"{subject}: not compared, {why}."
    found = "differ by more than chance explains" if timing.differs(of) else "no more than chance"
    return f"{subject}: {found} (log-rank test, {p_words(of.p_value)} by chance)."


def finding(one: Timed) -> str:
    """Say what one measure's picture shows."""
    return f"{plain_words(one)} {half_words(one)}"


def doubts(one: Timed) -> list[str]:
    """Say what stands behind the picture: no time, set apart, comparisons."""
    said = [untimed_words(one)]
    said.append(compared_words(one.by_birth, "Vaginal against caesarean birth"))
    said.append(compared_words(one.by_time, "The last three months against the nine before"))
    if any(group.moved for group in one.groups):
        said.append("The window was another in earlier months: the band is the one of the last.")
    if one.apart:
        said.append(f"{number_of(one.apart, 'newborn')} set apart for a listed reason or excluded.")
    if one.birth_not_recorded and len(one.groups) > 1:
        said.append(
            f"{number_of(one.birth_not_recorded, 'newborn')} without a mode of birth on record "
            f"{'is' if one.birth_not_recorded == 1 else 'are'} in no curve."
        )
    return said


def window_words(group: Group) -> str:
    """Say a curve's window: "to 60 min", "60 to 360 min"; empty where it differs within."""
    if group.due is None:
        return ""
    start = f"{minute(group.opens)} " if group.opens else ""
    return f"{start}to {minute(group.due)} min"


def curve_text(one: Timed) -> str:
    """Return the alternative text of one measure's curves."""
    at_window = "; ".join(
        f"{NAMES[group.name]}, window {window_words(group) or 'differs'}" for group in one.groups
    )
    return (
        f"{one.title}: share of newborns with it on record by minutes after birth, a rising step "
        f"curve from 0 to {one.end} minutes with numbers still waiting beneath ({at_window}). "
        f"{finding(one)} Every number stands in the table below."
    )


def intro(data: TimingData) -> str:
    """Say what the section shows, and over which months."""
    if not data.timed and data.spread.empty:
        return "No measure of this unit has minutes to show in these months."
    text = (
        f"Births from {of_numbers.month_name(data.first)} to {of_numbers.month_name(data.last)}. A "
        "percent within a window hides how late the late ones are: the curve shows every minute."
    )
    made = [one for timed in data.timed for one in (timed.by_birth, timed.by_time)]
    number = sum(one.p_value is not None for one in made)
    if number:
        text += (
            f" {number_of(number, 'comparison')} of curves; about "
            f"{expected_by_chance(CHANGE_LEVEL, number):.2f} would be called different by chance."
        )
    return text


def spread_finding(rows: pd.DataFrame) -> str:
    """Say the last month of one measure's minutes; ``rows``: its months in order."""
    known = rows[rows["measured"] > 0]
    if known.empty:
        return "No newborn of these months could be timed."
    (last,) = rows_of(known.tail(1), SpreadFigures)
    newborns = number_of(last["measured"], "newborn")
    text = (
        f"{of_numbers.month_name(last['period_start'])}: half of {newborns} "
        f"at most {minute(last['median_minutes'])} minutes, nine in ten at most "
        f"{minute(last['p90_minutes'])}"
    )
    if last["not_measured"]:
        text += f"; {count(last['not_measured'])} could not be timed"
    if last["measured"] < SMALL:
        text += f". Fewer than {SMALL}: read with care"
    return text + "."


def spread_text(title: str, rows: pd.DataFrame) -> str:
    """Return the alternative text of one measure's months."""
    first, last = rows["period_start"].iloc[0], rows["period_start"].iloc[-1]
    return (
        f"{title}: median and 90th centile of the minutes, by month from {first:%b %y} to "
        f"{last:%b %y}; lower is sooner. {spread_finding(rows)}"
    )

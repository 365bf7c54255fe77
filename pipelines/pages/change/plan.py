"""Before a change starts: how many months it takes to see an effect, from the unit's own months."""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import pandas as pd

from pipelines.base.errors import LanugoError, StoreError
from pipelines.pages.change.read import read_measure
from pipelines.reading import before_after as change_study
from pipelines.reading.frames import InfoRow
from pipelines.statistics import effects, interrupted, power
from pipelines.statistics.power import Start
from pipelines.words import of_numbers

RATE_MONTHS: Final = 12  # the share that a change starts from: the last year
OTHER_POINTS: Final = (5.0, 10.0, 15.0)
HUNDRED: Final = 100


@dataclass(frozen=True)
class Plan:
    """What the unit's own months say before a change. ``points`` carries the direction's sign."""

    unit_title: str
    row: InfoRow
    months: pd.DataFrame  # the months before, those with newborns
    start: Start
    points: float  # a share of 1


def _signed(points: float, direction: str, before: float) -> float:
    """Return the effect as a share of 1, towards the better; errors where there is no room."""
    share = points / HUNDRED * (-1 if direction == "lower" else 1)
    if not 0 < before + share < 1:
        room = before if direction == "lower" else 1 - before
        raise LanugoError(
            f"points {points:g}: the measure is at {before:.1%}, so it can move by less than "
            f"{HUNDRED * room:.1f} points. Give a smaller number."
        )
    return share


def read_plan(
    store_path: Path | str,
    unit: str,
    measure: str,
    points: float,
    *,
    newborns: float | None = None,
    months_before: int | None = None,
) -> Plan:
    """Read what a change of ``measure`` by ``points`` percentage points would start from.

    ``newborns``: a month, ``months_before``: how many (None: as the store has them, up to three
    years, none of them under earlier numbers of the measure).
    Raises StoreError where the unit or measure is not there or has too few months, and
    LanugoError where the share has no room for the effect.
    """
    read = read_measure(Path(store_path), unit, measure)
    row, months, breaks = read.row, read.months, read.breaks
    after_break = breaks[breaks <= months["month"].max()]
    if len(after_break):
        months = months[months["month"] >= after_break.max()]
    months = months[months["counted"] > 0].tail(change_study.MOST_BEFORE)
    if len(months) < interrupted.FEWEST_MONTHS:
        raise StoreError(
            f"measure '{measure}': {len(months)} months with newborns; "
            f"{interrupted.FEWEST_MONTHS} are needed to plan with."
        )
    year = months.tail(RATE_MONTHS)
    before = float(year["numerator"].sum() / year["counted"].sum())
    share = _signed(points, str(row["direction"]), before)
    counted = change_study.counts(
        months.assign(place=change_study.place(months["month"])), str(row["missing"])
    )
    if not 0 < before < 1:
        raise StoreError(f"measure '{measure}': it is {before:.0%} in every month of a year.")
    apart, likeliest, alike = power.variation(counted)
    start = Start(
        before=before,
        newborns_a_month=newborns or float(year["counted"].mean()),
        months_before=months_before or len(months),
        apart=apart,
        likeliest=likeliest,
        alike=alike,
        priors=read.priors,
    )
    return Plan(read.unit_title, row, months, start, share)


def _line(plan: Plan, share: float) -> str:
    start = plan.start
    wait = power.months_needed(start, share)
    before = power.months_before_needed(start, share)
    chance = power.series_power(start, share, effects.MONTHS)
    most = power.MOST_MONTHS
    return (
        f"{HUNDRED * abs(share):6.1f}   {chance:>14.0%}   "
        f"{str(wait) if wait else f'not in {most}':>12}   "
        f"{str(before) if before else f'not with {most}':>13}"
    )


def plan_words(plan: Plan) -> str:
    """Return the answer as text: what it starts from, what it takes, what that leaves out."""
    start, share = plan.start, plan.points
    first, last = plan.months["month"].min(), plan.months["month"].max()
    sign = -1 if share < 0 else 1
    others = [sign * points / HUNDRED for points in OTHER_POINTS]
    fits = [one for one in others if 0 < start.before + one < 1]
    shares = sorted({*fits, share}, key=abs)
    after = start.before + share
    plain = power.newborns_each(start.before, after)
    corrected = power.newborns_each_corrected(start.before, after)
    lines = [
        f"{plan.row['title']}, {plan.unit_title}",
        f"Starts from: {start.before:.1%} (last {min(RATE_MONTHS, len(plan.months))} months with "
        f"newborns), {start.newborns_a_month:.0f} newborns a month. {len(plan.months)} months, "
        f"{first:%b %y} to {last:%b %y}, differ by {start.apart:.2f} log-odds beyond chance, trend "
        "and season apart.",
        "",
        f"With {start.months_before} months before, and as 'lanugo change' will analyse it:",
        "points   seen after 12 m   months after   months before",
        *(_line(plan, one) for one in shares),
        f"seen after 12 m: chance that 'lanugo change' says improvement after {effects.MONTHS} "
        "months, by the same rule",
        f"months after: for a chance of {power.POWER:.0%}",
        f"months before: how many it would take for that chance after {effects.MONTHS} months",
        "",
        f"If nothing else moved, {start.before:.0%} and {after:.0%} side by side take "
        f"{of_numbers.count(-(-plain // 1))} newborns before and as many after "
        f"({of_numbers.count(corrected)} with the continuity correction).",
        "Who is born can move a measure as much as care does: no number of months tells the two "
        "apart.",
    ]
    return "\n".join(lines)

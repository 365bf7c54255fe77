"""The words of rare harm: what came, what was expected, and what the sum allows to say."""

from typing import Final

from pipelines.base.frames import rows_of
from pipelines.reading.harms import RECENT, Harm, HarmData, HarmMonthRow, Signal
from pipelines.statistics import rare_harm
from pipelines.words import of_numbers
from pipelines.words.of_measures import ABOVE, SUM_ABOVE
from pipelines.words.of_numbers import count, listed, month_name, number_of

KNOWN: Final = "gestational age, mode of birth and place of birth"  # the columns of harms.KNOWN
WITHIN: Final = "no more often than chance allows"


def height(value: float) -> str:
    """Write a sum or its limit.

    >>> height(6.3), height(0)
    ('6.30', '0.00')
    """
    return f"{of_numbers.by_hand(value, 2):.2f}"


def expected(value: float) -> str:
    """Write how many were to be expected.

    >>> expected(3.44), expected(0.04)
    ('3.4', '0.0')
    """
    return f"{of_numbers.by_hand(value, 1):.1f}"


def intro(data: HarmData) -> list[str]:
    """Say what the section is about, what signals now, and what has too few events."""
    if not data.harms:
        return [NOTHING, *_too_few(data)]
    spoken = [one for one in data.harms if one.recent(data.month)]
    if spoken:
        told = [f"{one.title} ({_when(one, data)})" for one in spoken]
        said = (
            f"In the last {RECENT} months {listed(told, len(told))} came {ABOVE} (which says that "
            "something differs, not what)."
        )
    else:
        said = (
            f"None of {number_of(len(data.harms), 'measure')} came {ABOVE} in the last {RECENT} "
            "months."
        )
    return [said, METHOD, *_too_few(data)]


def _when(one: Harm, data: HarmData) -> str:
    return f"signal of {month_name(one.recent(data.month)[-1].month)}"


def _too_few(data: HarmData) -> list[str]:
    told = [f"{title} ({count(events)} in all)" for title, events in data.too_few]
    if not told:
        return []
    number = rare_harm.numbers()
    return [
        f"No sum yet: {listed(told, len(told))}. First months must say what to expect "
        f"({number['baseline_months']} to {number['longest_baseline']} of them, with at least "
        f"{number['fewest_events']} such newborns), and months after them be there to weigh. "
        "Until then, read each record."
    ]


def _twelve(one: Harm) -> tuple[int, int, float]:
    rows = one.months.tail(RECENT)
    return int(rows["events"].sum()), int(rows["newborns"].sum()), float(rows["expected"].sum())


def twelve_words(one: Harm) -> str:
    """Say "30 of 2713 newborns" of the last twelve months after the baseline."""
    some, of, _ = _twelve(one)
    return f"{count(some)} of {number_of(of, 'newborn')}"


def twelve_expected(one: Harm) -> str:
    """Write how many of the last twelve months were to be expected."""
    return expected(_twelve(one)[2])


def sum_words(one: Harm) -> str:
    """Say where the sum stands."""
    last = rows_of(one.months.tail(1), HarmMonthRow)[0]
    return f"{height(last['height'])} of {height(one.watched.limit.height)}"


def signal_words(one: Signal) -> str:
    """Say one signal with its newborns.

    >>> import pandas as pd
    >>> one = Signal(pd.Timestamp("2026-03-01"), pd.Timestamp("2025-11-01"), 640, 14, 6.23)
    >>> signal_words(one)
    'Nov 25 to Mar 26: 14 of 640 newborns, 6.2 expected'
    """
    return (
        f"{one.since:%b %y} to {one.month:%b %y}: {count(one.events)} of "
        f"{number_of(one.newborns, 'newborn')}, {expected(one.expected)} expected"
    )


def alarm_words(data: HarmData, measure_id: str) -> str:
    """Say what a measure's sum says, with its signal where that is of these twelve months."""
    one = data.of(measure_id)
    recent = one.recent(data.month) if one is not None else ()
    return f"{SUM_ABOVE}: {signal_words(recent[-1])}" if recent else SUM_ABOVE


def luck_words(data: HarmData, measure_id: str) -> str:
    """Say how often luck alone makes such a sum signal; empty where there is none."""
    one = data.of(measure_id)
    if one is None:
        return ""
    alarms = one.watched.limit.false_alarms
    months = min(alarms)
    return (
        f"Where nothing changes, luck alone makes {round(100 * alarms[months])} of 100 such sums "
        f"signal within {months} months."
    )


def now_words(one: Harm, data: HarmData) -> str:
    """Say what a reader concludes of one measure: signals of the last twelve months, or none."""
    recent = one.recent(data.month)
    if not recent:
        return WITHIN
    return f"{ABOVE}: {'; '.join(signal_words(each) for each in recent)}"


def finding(one: Harm, data: HarmData) -> str:
    """Say one measure in a sentence or two."""
    some, of, likely = _twelve(one)
    months = number_of(min(RECENT, len(one.months)), "month")
    return (
        f"Last {months}: {count(some)} of {number_of(of, 'newborn')}, {expected(likely)} expected; "
        f"{now_words(one, data)}. The sum stands at {sum_words(one)}."
    )


def doubts(one: Harm) -> list[str]:
    """Say what the expectation stands on, what the limit costs, and what it finds."""
    watched, limit = one.watched, one.watched.limit
    chance = 100 * watched.chance[watched.baseline :]
    alarms = " and ".join(
        f"{round(100 * share)} within {months} months"
        for months, share in sorted(limit.false_alarms.items())
    )
    ratio = rare_harm.numbers()["odds_ratio"]
    return [
        f"Expected by {KNOWN} from {number_of(watched.events, 'event')} "
        f"among {number_of(watched.baseline, 'newborn')} of the first {watched.months} months: of "
        f"one newborn between {chance.min():.1f} and {chance.max():.1f} in 100.",
        f"Of 100 such sums in which nothing changes {alarms} signal by luck (drawn, with a season "
        f"and the doubt of the first months). Were the odds {ratio:g} times as high from one month "
        f"on, {round(100 * limit.found)} of 100 would signal within a year.",
    ]


def truth() -> list[dict[str, str]]:
    """Return what such sums say of drawn histories whose truth is known."""
    return [
        {
            "name": str(row["name"]),
            "series": count(row["series"]),
            **{
                f"in_{months}": of_numbers.percent(row[f"in_{months}_months"])
                for months in (12, 24, 60)
            },
        }
        for row in rare_harm.measured()
    ]


def chart_text(one: Harm, data: HarmData) -> str:
    """Return the alternative text of one picture."""
    first, last = one.months["month"].iloc[0], one.months["month"].iloc[-1]
    return (
        f"{one.title}: the sum of what was not expected, newborn by newborn, from {first:%b %y} to "
        f"{last:%b %y}, beneath its limit of {height(one.watched.limit.height)}. "
        f"{finding(one, data)}"
    )


NOTHING: Final = "No measure of this unit counts what is rare and unwanted often enough to watch."
METHOD: Final = (
    "Each newborn is weighed against what was to be expected before care began. What comes adds "
    "to a sum, the more the less it was expected; what does not come takes a little from it. At "
    "its limit it says: more often than expected, by more than chance."
)

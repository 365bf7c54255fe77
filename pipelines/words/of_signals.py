"""What a chart over time says in words: its kind, where its limits come from, its signals."""

from collections.abc import Callable, Mapping
from typing import Final, TypedDict

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.statistics import reasons, rules
from pipelines.statistics.false_alarms import gaps, measured
from pipelines.statistics.frames import PhaseRow
from pipelines.statistics.many import MOVE, SOON, expected_by_chance
from pipelines.statistics.over_time import OverTime
from pipelines.statistics.reasons import Reason
from pipelines.words import of_numbers, of_states

ENOUGH: Final = 80  # of 100: the power that is usually asked for (common practice)
FEWEST_SAID: Final = 0.1
_CHART: Final = {
    "p": "Share by {period}",
    "p_prime": "Share by {period}, limits widened",
    "g": "Newborns between one newborn of the rare kind and the next",
    "t": "Days between one newborn of the rare kind and the next",
    "run": "Run chart by {period}: no limits",
}
_WHY: Final = {
    "start": "the first months there are",
    "policy": "from a date of policy on",
    "accepted": "from the level that was accepted on",
}


def _more(one: Reason) -> str:
    return f"{one.found:g} of the {one.needed:g} needed"


# Reason -> its sentence. A reason that says nothing to a reader is not among them.
_REASONS: Final[Mapping[str, Callable[[Reason], str]]] = {
    reasons.NO_DATA: lambda _: "No month has newborns that count.",
    reasons.TOO_FEW_POINTS: lambda one: f"Too few points for limits yet: {_more(one)}.",
    reasons.TOO_FEW_OFF_THE_LINE: lambda one: (
        f"Too few points beside the median to look for runs: {_more(one)}."
    ),
    reasons.LINE_DOES_NOT_DIVIDE: lambda _: (
        "The median does not divide the points evenly enough to look for runs."
    ),
    reasons.NONE_MET: lambda _: "It never happened, so there is nothing to compare.",
    reasons.ALL_MET: lambda _: "It always happened, so there is nothing to compare.",
    reasons.NO_VARIATION: lambda _: "All values are alike, which gives no limits.",
    reasons.SHORT_BASELINE: lambda one: (
        f"The limits of the accepted level are preliminary: they stand on {_more(one)} months, "
        "and move until all are there."
    ),
    reasons.OVERDISPERSED: lambda one: (
        f"Months here vary {one.found:.1f} times as much as chance alone; the limits are wider "
        "for it."
    ),
    reasons.QUARTERS: lambda one: (
        f"About {one.found:g} newborns a month are too few for a point each: quarters instead."
    ),
    reasons.BLOCKS: lambda one: (
        f"About {one.found:g} newborns a month are too few for a point each: blocks of births in "
        "the order of the export instead."
    ),
    reasons.BLOCKS_WITHOUT_MONTHS: lambda _: "Births without a month stand in blocks, in order.",
    reasons.OPEN_BLOCK: lambda one: f"The next block is open: {_more(one)}.",
    reasons.RARE: lambda one: (
        f"About {one.found:.1g} such newborns a month are too rare for a share by month: the "
        "newborns between one and the next instead, in the order of the export."
    ),
    reasons.TOO_FEW_EVENTS: lambda one: (
        f"Too few such newborns for a chart from one to the next: {_more(one)}."
    ),
    reasons.LEVEL_TOO_SHORT: lambda one: (
        f"The accepted level has no limits of its own yet: {_more(one)} months. Until then the "
        "old limits speak."
    ),
    reasons.CHANGE_IN_BASELINE: lambda one: (
        f"A change is recorded after {one.found:g} of the {one.needed:g} points that the limits "
        "stand on, so its effect shows smaller here than it is."
    ),
    reasons.CHANGES_CANNOT_BE_PLACED: lambda _: (
        "Births without months cannot be set against the dates of changes."
    ),
}
_PERIOD: Final = {"month": "month", "quarter": "quarter", "gap": "birth"}


def chart_words(over: OverTime) -> list[str]:
    """Say which chart it is, where its limits begin, and what is missing; one sentence each."""
    period = f"block of {over.block_of} births" if over.block_of else _PERIOD[over.period_kind]
    kind = _CHART[over.chart_kind].format(period=period)
    said = [f"{kind}."]
    said += [_phase(one) for one in rows_of(over.phases, PhaseRow) if one["has_limits"]]
    told = (_REASONS[one.name](one) for one in _now(over) if one.name in _REASONS)
    return list(dict.fromkeys([*said, *_season(over), *told, *_sees(over)]))


def _season(over: OverTime) -> list[str]:
    """Say what the season does to the middle, or could do while one year alone is known."""
    if over.season is None or over.chart_kind not in {"p", "p_prime"}:
        return []
    swing = _points(over.season)
    if over.season_could is None:
        said = f"The middle carries the season of earlier months: {swing} to either side at most."
        return [said]
    return [
        f"Two years are not known yet: the middle carries a season of {swing}, "
        f"{_points(over.season_could)} could be there, and the limits allow for that."
    ]


def _points(share: float) -> str:
    """Say a difference of shares in whole points.

    >>> _points(0.012), _points(0.034), _points(0.001)
    ('1 point', '3 points', 'less than 1 point')
    """
    points = round(100 * share)
    return of_numbers.number_of(points, "point") if points else "less than 1 point"


def _sees(over: OverTime) -> list[str]:
    """Say how surely the chart would see a move, by its own numbers."""
    if over.sees is None:
        return []
    periods = of_numbers.number_of(SOON, "month" if over.period_kind == "month" else "point")
    return [f"With its numbers, {_seen(periods)} in {round(100 * over.sees)} of 100 cases."]


def _seen(periods: str) -> str:
    return f"a move of {100 * MOVE:.0f} points to the worse would be seen within {periods}"


def _now(over: OverTime) -> list[Reason]:
    """Return the reasons that hold of the latest stretch, or of the whole chart."""
    last = over.phases["start_on"].iloc[-1] if len(over.phases) else pd.NaT
    if pd.isna(last):
        return list(over.reasons)
    return [
        one
        for one in over.reasons
        if one.start_on is None or pd.isna(one.start_on) or one.start_on >= last
    ]


def needs_a_note(over: OverTime) -> bool:
    """Return whether the chart is not the usual one by month with limits; a page then says so."""
    return over.period_kind != "month" or over.chart_kind == "run"


def _phase(phase: PhaseRow) -> str:
    first, last = phase["baseline_first_on"], phase["baseline_last_on"]
    if of_numbers.is_missing(first):
        return f"Limits stand on the first {phase['baseline_periods']} points."
    return f"Limits stand on {first:%b %y} to {last:%b %y}, {_WHY[str(phase['reason'])]}."


def signal_lines(over: OverTime) -> list[str]:
    """Say every signal of the chart, the latest first: rule, direction, date, what it means.

    Neighbouring points outside limits are told together.
    """
    said = []
    for one in rows_of(_joined(over.signals).iloc[::-1], JoinedRow):
        way = f", {one['direction']}" if one["direction"] else ""
        sense = "" if one["sense"] == "moved" else f" ({one['sense']})"
        said.append(f"{of_states.RULE_WORDS[str(one['rule'])]}{way}, {_when(one)}{sense}")
    return said


class JoinedRow(TypedDict):
    """One row per signal, or per run of neighbouring points outside limits."""

    rule: str
    direction: str
    sense: str
    phase: int
    first_on: pd.Timestamp | None
    last_on: pd.Timestamp | None
    first_period: int
    last_period: int


def _joined(signals: pd.DataFrame) -> pd.DataFrame:
    """Join signals of one rule, direction and phase whose points follow each other."""
    keys = ["rule", "direction", "phase"]
    rows = signals.sort_values([*keys, "first_period"])
    step = rows.groupby(keys, dropna=False)["first_period"].diff()
    # Signals of several points stand alone, each in a block of its own.
    block = ((step != 1) | (rows["rule"] != rules.OUTSIDE)).cumsum().rename("block")
    joined = rows.groupby(block, sort=False).agg(
        {
            **dict.fromkeys(["rule", "direction", "sense", "phase", "first_on"], "first"),
            **dict.fromkeys(["last_on", "last_period"], "last"),
            "first_period": "first",
        }
    )
    return joined.sort_values(["last_period", "first_period"])


def _when(one: JoinedRow) -> str:
    first, last = one["first_on"], one["last_on"]
    if of_numbers.is_missing(first):
        return f"point {one['first_period']} to {one['last_period']}"
    return f"{first:%b %y}" if first == last else f"{first:%b %y} to {last:%b %y}"


def luck_words(over: Mapping[str, OverTime]) -> str:
    """Say how many of some charts would show a signal now by luck alone, by their own numbers.

    Empty without a chart that is compared. The one home of these words: first screen, points for
    the meeting and list of signals say them.
    """
    charts = [one for one in over.values() if is_compared(one)]
    if not charts:
        return ""
    expected = expected_by_chance([one.now_by_chance for one in charts])
    about = f"about {expected:.1f}" if expected >= FEWEST_SAID else f"fewer than {FEWEST_SAID:.1f}"
    among = of_numbers.number_of(len(charts), "measure")
    alike = len(charts) * float(measured().quiet["now"].max())
    more = f" ({alike:.1f} where months are like their neighbours)"
    said = more if round(alike, 1) > round(expected, 1) else ""
    return f"Luck alone would give {about} such signals now among {among}{said}."


def share_by_luck(share: float | None) -> str:
    """Say how many of 100 signals as strong as this one luck would give; a dash without one.

    >>> share_by_luck(0.042), share_by_luck(0.0002)
    ('4 of 100', 'under 1 of 100')
    """
    if of_numbers.is_missing(share):
        return of_numbers.NONE
    assert share is not None
    return f"{100 * share:.0f} of 100" if share >= 0.01 else "under 1 of 100"


def setting_words(over: Mapping[str, OverTime]) -> str:
    """Say what the rules are worth: for these charts by their own numbers, and as measured."""
    found = measured()
    quiet = found.quiet
    two, five = (_span(quiet[f"in_{months}_months"]) for months in (24, 60))
    near = [_span(gaps()[f"in_{months}_months"]) for months in (24, 60)]
    return (
        f"{_power(list(over.values()))}Measured on drawn months with nothing going on, also with "
        f"a season of up to 5 points and with months that are like their neighbours: {two} of 100 "
        f"charts show a signal within 24 months, {five} within 60. Of charts of newborns between "
        f"one of the rare kind and the next, near 0 and near 100 %: {near[0]} and {near[1]}."
    )


def _power(charts: list[OverTime]) -> str:
    """Say how surely these charts see a move; empty where none of them is of shares."""
    sees = [100 * one.sees for one in charts if one.sees is not None and is_compared(one)]
    if not sees:
        return ""
    few = sum(share < ENOUGH for share in sees)
    own = _span(pd.Series(sees) / 100)
    weak = f", in fewer than {ENOUGH} on {few} of {len(sees)} charts" if few else ""
    seen = _seen(of_numbers.number_of(SOON, "month"))
    return f"By the numbers of each chart, {seen} in {own} of 100 cases{weak}. "


def is_compared(one: OverTime) -> bool:
    """Return whether a chart can show a signal: it has limits, or points enough for runs."""
    return one.now_by_chance > 0


def _span(shares: pd.Series) -> str:
    low, high = round(100 * shares.min()), round(100 * shares.max())
    return f"{low}" if low == high else f"{low} to {high}"

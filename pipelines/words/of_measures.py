"""The plain words of every page: one home for sentences, labels and the glossary.

Present tense, no blame: not documented is not the same as not done; a family declines; late
says by how many minutes; "chance" stands for common-cause variation.
"""

from typing import Final, Literal, TypedDict

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.reading import small_numbers, standing
from pipelines.reading.frames import MeasureNow
from pipelines.reading.signals import NOT_MOVED
from pipelines.statistics import rules
from pipelines.statistics.expected import EARLY_RUN
from pipelines.words import of_life, of_silence
from pipelines.words.of_numbers import (
    apart,
    count,
    fractions,
    interval,
    is_missing,
    month_name,
    noun,
    percent,
)
from pipelines.words.of_states import RULE_WORDS

MUCH_UNKNOWN: Final = 0.1  # from this share on, a finding says what the unknown could change

GLOSSARY: Final = {
    "birth": "a live birth in the unit's export; times are minutes after birth",
    of_silence.NOT_IN_EXPORT: "no month of the whole export has a usable record that it was "
    "done, or the column that says whom it is about: the export lacks it, or nobody writes it "
    "down; no percent is given, since none would "
    "be true",
    "chance": "variation that comes without any change in care (statisticians say common cause)",
    "documentation decides": "the newborns without a usable record are so many that the target "
    "is met or missed depending on what happened to them",
    "exception": "a newborn for whom there was an accepted reason, such as declined by the "
    "family, or who was moved away before it could be done; left out of the rate unless the "
    "measure was met",
    "exclusion": "a newborn the measure does not apply to, such as one born elsewhere",
    "flag": "a remark of a rule on one value: cannot be right, unlikely, or worth knowing",
    "interval": "the 95 % Wilson score interval of the percent",
    "late": "done and recorded after the window closed",
    "limits": "the lowest and highest percent that chance allows, given the baseline and the "
    "doubt about it; they stand on the first twelve months, and carry the season that earlier "
    "months show, shrunk towards none; they allow for months that are like their neighbours; they "
    "begin anew at a date of policy, and where a person has accepted a new level, for better or "
    "for worse: never by themselves",
    "new level": "a person, named by role, has said with a reason that what a signal shows is how "
    "it is now; new limits begin with the month that was named",
    "more than chance": "for a target: the whole interval lies on the wrong side; for a change: "
    "one of the stated rules speaks on the chart of the measure",
    "signal": "a rule that speaks: a month outside the limits; six months in a row, added up, "
    "outside; a run on one side of the middle that chance gives less than once in "
    f"{1 / rules.SHIFT_CHANCE:.0f} ({1 / rules.SHIFT_CHANCE / EARLY_RUN:.0f} in the year after the "
    "first); eight in a row rising or falling, beside the season; without limits, a long "
    "run or few crossings of the median",
    "n of N": "N: newborns (or episodes) the measure applies to, less exceptions; n: those who "
    "met it",
    "unusable": "recorded, but without a believable time or value",
    "window": "the minutes within which it counts as on time; both ends included",
}


class MissedRow(TypedDict):
    """What ``missed`` asks of a row: the measure's kind, counts of its rows and their share."""

    kind: str
    direction: str
    missing: str
    missed: int
    among: int
    share: float


class RestatedSides(TypedDict):
    """What ``restated_side`` asks of a row: a number as it was and as it is; rates are shares."""

    old_numerator: int
    old_counted: int
    old_rate: float | None
    new_numerator: int
    new_counted: int
    new_rate: float | None


class MonthRate(TypedDict):
    """What a chart's text asks of a month: its first day, and the rate as a share."""

    month: pd.Timestamp
    rate: float | None


def _side(row: MeasureNow) -> str:
    return "above" if row["direction"] == "lower" else "below"


def against_target(row: MeasureNow) -> str:
    """Say how a rate stands to its target; the number stands beside it or in ``sentence``."""
    bounds = interval(row["if_none_met"], row["if_all_met"])
    return {
        standing.SHORT_BEYOND_CHANCE: f"{_side(row)} target, more than chance",
        standing.UNSURE: f"documentation decides: {bounds}",
        standing.SHORT: f"{_side(row)} target, within chance",
        standing.MET: "target met",
        standing.NO_TARGET: "no target set",
        standing.NONE_JUDGED: "none could be judged",
        standing.NOT_IN_EXPORT: of_silence.NOT_IN_EXPORT,
        standing.NO_NEWBORNS: f"no eligible {noun(row)}",
    }[row["target_state"]]


def target_sentence(row: MeasureNow) -> str:
    """Say the same inside a sentence, with the target's number; empty where there is none."""
    target = percent(row["target"])
    bounds = interval(row["if_none_met"], row["if_all_met"])
    return {
        standing.SHORT_BEYOND_CHANCE: f"{_side(row)} the target of {target}, more than chance",
        standing.UNSURE: f"documentation decides whether the target of {target} is met ({bounds})",
        standing.SHORT: f"{_side(row)} the target of {target}, within chance",
        standing.MET: f"meets the target of {target}",
    }.get(row["target_state"], "")


def _before(row: MeasureNow, was: str) -> str:
    """Say the baseline with its months: another "before", a change's, has other months."""
    first, last = row["before_first"], row["before_last"]
    when = "before" if is_missing(first) else f"of {first:%b %y} to {last:%b %y}"
    return f"the {was} {when}"


def moved_words(row: MeasureNow) -> str:
    """Say a signal with its rule and date: "lower than the 19 % of Nov 24 to Oct 25: a run ...".

    For a row whose change is better, worse or moved.
    """
    way = str(row["moved"])
    is_share = way in {"higher", "lower"}
    is_run = is_share and row["rule"] != rules.OUTSIDE and not is_missing(row["run_rate"])
    was, now = apart(row["before_rate"], row["run_rate" if is_run else "rate"])
    mean = f"{now} on average, " if is_run else ""
    text = f"{way} than {_before(row, was)}" if is_share else f"{way} than before"
    text = f"{text}: {mean}{RULE_WORDS[str(row['rule'])]}"
    if is_missing(row["since"]):
        return text
    link = "in" if row["rule"] == rules.OUTSIDE else "since"
    return f"{text} {link} {row['since']:%b %y}"


ABOVE: Final = "more often than expected"  # what is rare, by its sum over the newborns
SUM_ABOVE: Final = f"added up newborn by newborn it came {ABOVE}"
NO_MONTH: Final = "no month stands out, but"


def by_sum_words(row: MeasureNow, said: str = SUM_ABOVE) -> str:
    """Say what the sum of a rare harm says beside a chart that says nothing; empty without one."""
    if not row["life_by_sum"]:
        return ""
    return f"{NO_MONTH} {said}" if row["change"] in NOT_MOVED else said


def change_sentence(row: MeasureNow) -> str:
    """Say how a rate stands to its baseline; empty where it was not compared, or a sum says it."""
    if row["change"] == "same" and row["life_by_sum"]:
        return ""
    if row["change"] == "not_compared":
        return ""
    if row["change"] == "same":
        if row["chart_kind"] in {"g", "t"} or is_missing(row["before_rate"]):
            return "no change beyond chance before"
        return f"no change beyond chance from {_before(row, percent(row['before_rate']))}"
    return moved_words(row)


def is_thinner(row: MeasureNow) -> bool:
    """Return whether a measure looks better while less is written down."""
    return not is_missing(row["unknown_since"])


def thinner_words(row: MeasureNow) -> str:
    """Say that more is not documented than before; empty where it is not so."""
    if not is_thinner(row):
        return ""
    return (
        f"less is written down since {row['thinner_from']:%b %y}: "
        f"{percent(row['unknown_since'])} not documented, {percent(row['unknown_before'])} before"
    )


def thinner_sentence(row: MeasureNow) -> str:
    """Say it with what it could hide, of a measure of which it is so; a sentence of its own."""
    return (
        f"But {thinner_words(row)}. It may be the charting that moved and not the care: with poor "
        f"results behind the extra gaps it is {percent(row['rate_if_poor'])}."
    )


_TARGET_MARK: Final = {
    standing.SHORT_BEYOND_CHANCE: ("diamond", "attention"),
    standing.UNSURE: ("hatch", "plain"),
    standing.SHORT: ("diamond-open", "plain"),
    standing.MET: ("ring", "good"),
    standing.NO_TARGET: ("dash", "quiet"),
    standing.NONE_JUDGED: ("hatch", "plain"),
    standing.NOT_IN_EXPORT: ("hatch", "quiet"),
    standing.NO_NEWBORNS: ("dash", "quiet"),
}


_SIGNAL_SHAPE: Final = {
    "higher": "up",
    "more often": "up",
    "lower": "down",
    "rarer": "down",
    "uneven": "diamond-open",
}


def signals(row: MeasureNow) -> list[tuple[str, str, str]]:
    """Return (shape, tone, words) for each thing a row of the table has to say, first first.

    Shapes: ``up``, ``down``, ``diamond``, ``diamond-open``, ``hatch``, ``ring``, ``dash``.
    Tones: ``attention``, ``good``, ``plain``, ``quiet``; the words always carry the meaning alone.
    """
    said = []
    change = row["change"]
    if change in {"better", "worse", "moved"}:
        tone = {"better": "good", "worse": "attention"}.get(str(change), "plain")
        words, state = moved_words(row), of_life.short_words(row)
        if change == "worse" and state:
            tone, words = ("attention" if row["is_urgent"] else "plain"), f"{words}; {state}"
        if is_thinner(row):
            tone, words = "plain", f"{words}; {thinner_words(row)}"
        said.append((_SIGNAL_SHAPE[str(row["moved"])], tone, words))
    elif row["life_by_sum"] and row["life_speaks"]:
        tone = "attention" if row["is_urgent"] else "plain"
        said.append(("diamond", tone, f"{ABOVE}; {of_life.short_words(row)}"))
    elif row["is_left"]:
        said.append(("diamond-open", "plain", of_life.short_words(row)))
    said.append((*_TARGET_MARK[row["target_state"]], against_target(row)))
    if 0 < row["counted"] < small_numbers.SMALL:
        said.append(("small", "quiet", "small number"))
    return said


def rate_words(row: MeasureNow) -> str:
    """Write the month's percentage; with a decimal where a target not reached would read alike."""
    return apart(row["rate"], row["target"])[0]


def reading(row: MeasureNow) -> str:
    """Say "212 of 236 newborns (90 %)", or why there is no figure."""
    if row["target_state"] in standing.WITHOUT_FIGURE:
        return against_target(row)
    return f"{count(row['numerator'])} of {count(row['counted'])} {noun(row)} ({rate_words(row)})"


def not_met(row: MissedRow) -> str:
    """Say what the rows of ``missed`` are: where the unknown stay out of the rate, both.

    Of what nobody wants, what happened is listed record by record: the unknown are left.
    """
    if row["direction"] == "lower":
        return "not known"
    return "not met" if row["missing"] == "not_met" else "not met or not known"


def missed(row: MissedRow) -> str:
    """Say how many rows of a measure would have been listed: "106 of 246 newborns (43 %)"."""
    of = f"{count(row['missed'])} of {count(row['among'])} {noun(row)}"
    return f"{of} ({percent(row['share'])})"


def restated_side(row: RestatedSides, side: Literal["old", "new"]) -> str:
    """Say one side ("old", "new") of a restated number: "212 of 236 (90 %)"."""
    met, counted, rate = (
        (row["old_numerator"], row["old_counted"], row["old_rate"])
        if side == "old"
        else (row["new_numerator"], row["new_counted"], row["new_rate"])
    )
    return f"{count(met)} of {count(counted)} ({percent(rate)})"


def _missing_sentence(row: MeasureNow) -> str:
    """Say how far the rate could move where a tenth or more is unknown; else nothing."""
    unknown = row["not_documented"] + row["unusable"]
    if unknown < MUCH_UNKNOWN * row["denominator"] or row["target_state"] == standing.UNSURE:
        return ""
    bounds = interval(row["if_none_met"], row["if_all_met"])
    return f" {count(unknown)} not documented or unusable: it could lie anywhere from {bounds}."


def finding(row: MeasureNow, month: pd.Timestamp) -> str:
    """Say what one measure's chart shows, in one sentence; plain where there is little to say."""
    if row["target_state"] == standing.NO_NEWBORNS:
        return f"No eligible {noun(row)} in {month_name(month)}."
    if row["target_state"] == standing.NONE_JUDGED:
        return f"None of the {noun(row)} of {month_name(month)} could be judged."
    if row["target_state"] == standing.NOT_IN_EXPORT:
        return of_silence.finding(row, noun(row))
    by_sum = by_sum_words(row)
    told = (
        reading(row), change_sentence(row), by_sum, of_life.now_words(row), target_sentence(row)
    )  # fmt: skip
    text = "; ".join(part for part in told if part) + "."
    text += f" {thinner_sentence(row)}" if is_thinner(row) else _missing_sentence(row)
    if row["counted"] < small_numbers.SMALL:
        text += f" Fewer than {small_numbers.SMALL} {noun(row)}: open marks, read with care."
    return text


def alt_text(series: pd.DataFrame, row: MeasureNow) -> str:
    """Return a chart's alternative text: kind, period, last value, direction, signal, target."""
    first, last = rows_of(series.iloc[[0, -1]], MonthRate)
    better = {"higher": "higher is better", "lower": "lower is better"}
    now = (
        f"{fractions(series.tail(1))[0]}, {percent(last['rate'])}"
        if last["rate"] is not None
        else "no rate"
    )
    words = "; ".join(words for _, _, words in signals(row))
    target = "no target" if is_missing(row["target"]) else f"target {percent(row['target'])}"
    direction = better.get(str(row["direction"]), "neither direction is better")
    return (
        f"{row['title']}: line of monthly percentages, {first['month']:%b %y} to "
        f"{last['month']:%b %y}, with the share not documented beneath. Last month {now}; "
        f"{direction}; {target}; {words}."
    )


def trend_text(series: pd.DataFrame, title: str) -> str:
    """Return the alternative text of a small trend."""
    known = series[series["rate"].notna()]
    if known.empty:
        return f"{title}: no rate in these months"
    first, last = rows_of(known.iloc[[0, -1]], MonthRate)
    return (
        f"{title}: from {percent(first['rate'])} in {first['month']:%b %y} to "
        f"{percent(last['rate'])} in {last['month']:%b %y}; lowest {percent(known['rate'].min())}, "
        f"highest {percent(known['rate'].max())}"
    )


def counts_text(by_month: pd.Series, title: str) -> str:
    """Return the alternative text of small bars; ``by_month``: counts by month."""
    most = by_month.idxmax()
    return (
        f"{title}: {count(by_month.sum())} from {by_month.index[0]:%b %y} to "
        f"{by_month.index[-1]:%b %y}; most {count(by_month.max())} in {most:%b %y}, "
        f"last month {count(by_month.iloc[-1])}"
    )

"""The one verdict on a change in words: what happened, then how far it can be believed."""

from typing import Final

from pipelines.reading import before_after, verdict
from pipelines.reading.before_after import NOT_ANALYSED
from pipelines.reading.signals import SAME
from pipelines.reading.verdict import (
    BY_COURSE,
    BY_PLAIN,
    ChangeVerdict,
    MeasureVerdict,
)
from pipelines.statistics import interrupted
from pipelines.statistics.over_time import BETTER, MOVED, WORSE
from pipelines.words.of_life import NOBODY, answer_words, said_words
from pipelines.words.of_numbers import SPACE, apart, listed, percent

FEW_MONTHS: Final = 12  # before a change: fewer cannot show what a year does by itself
_NUMBERS: Final = (
    "No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten",
    "Eleven", "Twelve",
)  # fmt: skip
MOST_TOLD: Final = 3  # measures named in one verdict
_CANNOT: Final = "to say that the change did it"


def months_words(months: int) -> str:
    """Write a number of months at the head of a sentence.

    >>> months_words(10), months_words(1), months_words(14)
    ('Ten months', 'One month', '14 months')
    """
    number = _NUMBERS[months] if months < len(_NUMBERS) else str(months)
    return f"{number} month{'' if months == 1 else 's'}"


def few_months(months: int, when: str) -> str:
    """Say that so many months before or after are too few.

    >>> few_months(1, "before"), few_months(10, "after")
    ('One month before is too few', 'Ten months after are too few')
    """
    return f"{months_words(months)} {when} {'is' if months == 1 else 'are'} too few"


def from_to(before: float, after: float) -> str:
    """Write two shares; one decimal where whole percents would be alike.

    >>> from_to(0.75, 0.82).replace(SPACE, " "), from_to(0.012, 0.008).replace(SPACE, " ")
    ('from 75 to 82 %', 'from 1.2 to 0.8 %')
    """
    first, second = apart(before, after)
    return f"from {first.removesuffix(SPACE + '%')} to {second}"


def fact(one: MeasureVerdict) -> str:
    """Say what happened to a measure, without a full stop: "Warm arrivals rose from 75 to 82 %"."""
    title = str(one.row["title"])
    if one.before is None or one.after is None:
        side = "before" if one.before is None else "after"
        return f"{title}: no month {side} the change to compare with"
    if one.state in {SAME, NOT_ANALYSED}:
        if percent(one.before) == percent(one.after):
            return f"{title} stayed at {percent(one.after)}"
        return f"{title} went {from_to(one.before, one.after)}"
    verb = "rose" if one.after > one.before else "fell"
    return f"{title} {verb} {from_to(one.before, one.after)}"


def doubt(one: MeasureVerdict) -> str:
    """Say how far the fact can be believed, in one sentence; empty where a fact says it all."""
    if one.before is None or one.after is None:
        return ""
    if one.because == BY_COURSE:
        return (
            "That is more than its course before explains; one unit alone cannot prove that the "
            "change did it."
        )
    simple = {NOT_ANALYSED: _not_analysed(one), SAME: "That is no change beyond chance."}
    return simple.get(one.state) or _too_few(one)


def _too_few(one: MeasureVerdict) -> str:
    """Say why a difference cannot be laid to the change."""
    if one.months_before < FEW_MONTHS:
        return f"{few_months(one.months_before, 'before')} {_CANNOT}."
    if one.study.is_first_look:
        return (
            f"With {one.months_before} months before and {one.months_after} after, a season could "
            f"explain it: too few {_CANNOT}."
        )
    if one.state == WORSE:
        return "Its course before could explain it: watch it."
    return f"Its course before could explain it, so these months are not enough {_CANNOT}."


def _not_analysed(one: MeasureVerdict) -> str:
    """Say in a few words why before and after cannot be weighed."""
    reason = one.study.reason
    if reason == before_after.SAME_MONTH_POLICY:
        return "Before and after do not count the same thing: its own numbers changed with it."
    if reason == interrupted.FEW_BEFORE:
        return f"{few_months(one.months_before, 'before')} to compare."
    if reason == interrupted.FEW_AFTER:
        return f"{few_months(one.months_after, 'after')} to compare."
    return "That is too little to say more."


def sentence(one: MeasureVerdict) -> str:
    """Say the verdict on one measure: the fact, then the doubt; of a harm, who has answered it."""
    text = fact(one)
    if one.state == WORSE and one.because != BY_PLAIN:
        return f"{text}: {answer(one)}."
    return f"{text}. {doubt(one)}".strip()


def answer(one: MeasureVerdict) -> str:
    """Say who answered what got worse; that nobody has, where no signal can be answered yet."""
    if one.life is not None:
        return answer_words(one.life)
    return said_words(one.line) if one.line is not None else NOBODY


def worked(one: ChangeVerdict) -> str:
    """Say whether the change did what it was meant to."""
    if one.main is None:
        return "No measure that it was meant to move can be judged here."
    return sentence(one.main)


def _told_worse(one: ChangeVerdict) -> list[MeasureVerdict]:
    """Return what got worse beside the measure that the change was meant to move."""
    main = one.main.measure_id if one.main else ""
    return [each for each in one.worse if each.measure_id != main][:MOST_TOLD]


def told(one: ChangeVerdict) -> tuple[str, ...]:
    """Return the measures of which ``whole`` says how they moved, where anything got worse."""
    return tuple(each.measure_id for each in ([one.main] if one.main else []) + _told_worse(one))


def harmed(one: ChangeVerdict) -> str:
    """Say whether anything got worse: what did, with who answered it, or what was looked at."""
    main = one.main.measure_id if one.main else ""
    worse = _told_worse(one)
    if worse:
        return " ".join(sentence(each) for each in worse)
    if not one.balancing:
        return "The log and the measure name nothing that could get worse and has newborns here."
    watch = [
        each
        for each in (*one.balancing, *one.meant)
        if each.state == WORSE and each.measure_id != main
    ]
    if watch:
        return " ".join(sentence(each) for each in watch[:MOST_TOLD])
    looked = [fact(each) for each in one.balancing]
    return f"Nothing got worse beyond chance ({listed(looked, MOST_TOLD)})."


def whole(one: ChangeVerdict) -> str:
    """Say the one verdict on a change: did it work, did it harm."""
    return f"{worked(one)} {harmed(one)}"


_MARKS: Final = {
    (WORSE, False): ("diamond", "attention", "worse"),
    (WORSE, True): ("diamond-open", "plain", "worse than before; watch it"),
    (BETTER, False): ("ring", "good", "better"),
    (BETTER, True): ("dash", "plain", "better than before; its course before could explain it"),
    (MOVED, False): ("diamond-open", "plain", "moved"),
    (MOVED, True): ("dash", "plain", "moved; its course before could explain it"),
}
_CARRIED: Final = {
    BY_COURSE: "beyond its course before",
    verdict.BY_CHART: "beyond chance on its chart; its course before could explain it",
}


def mark(one: MeasureVerdict) -> tuple[str, str, str]:
    """Return (shape, tone, words): what a row of a table says of one measure."""
    if one.state in {SAME, NOT_ANALYSED}:
        said = {SAME: ("dash", "quiet", "no change beyond chance")}
        return said.get(one.state, ("hatch", "plain", "not analysed"))
    shape, tone, words = _MARKS[one.state, one.because == BY_PLAIN]
    carried = _CARRIED.get(one.because)
    return shape, tone, f"{words}, {carried}" if carried else words

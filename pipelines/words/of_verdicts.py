"""The one verdict on a change in words: what happened, then how far it can be believed."""

import math
from typing import Final

from pipelines.reading import before_after, verdict
from pipelines.reading.before_after import CHARTING, NOT_ANALYSED
from pipelines.reading.measured import ValueStudy
from pipelines.reading.signals import SAME
from pipelines.reading.verdict import (
    BY_COURSE,
    BY_PLAIN,
    ChangeVerdict,
    MeasureVerdict,
)
from pipelines.statistics import interrupted
from pipelines.statistics.effects import Effect
from pipelines.statistics.over_time import BETTER, MOVED, WORSE
from pipelines.words.of_life import NOBODY, answer_words, said_words
from pipelines.words.of_measures import ABOVE
from pipelines.words.of_numbers import (
    MINUS,
    NONE,
    SPACE,
    apart,
    by_hand,
    is_missing,
    listed,
    percent,
    points,
)

FEW_MONTHS: Final = 12  # before a change: fewer cannot show what a year does by itself
_NUMBERS: Final = (
    "No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten",
    "Eleven", "Twelve",
)  # fmt: skip
MOST_TOLD: Final = 3  # measures named in one verdict
SHORT: Final = 10  # minutes: below it a tenth is told
MARGIN: Final = 3  # points: less than that nobody would call worth having
_DONE: Final = {True: "was carried out", False: "may not have been carried out"}
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
    if is_hidden(one):
        return f"{title}: {_among(one)}, while {_documentation(one)}"
    if one.state in {SAME, NOT_ANALYSED}:
        if percent(one.before) == percent(one.after):
            return f"{title} stayed at {percent(one.after)}"
        return f"{title} went {from_to(one.before, one.after)}"
    verb = "rose" if one.after > one.before else "fell"
    return f"{title} {verb} {from_to(one.before, one.after)}"


def is_hidden(one: MeasureVerdict) -> bool:
    """Return whether it got worse among the documented while better charting hides it."""
    is_firm = one.state == WORSE and one.because == BY_COURSE
    return is_firm and one.care is not None and one.study.reading != WORSE


def _among(one: MeasureVerdict) -> str:
    assert one.care is not None
    before, after = one.care
    if percent(before) == percent(after):
        return f"among those documented it stayed at {percent(after)}"
    verb = "rose" if after > before else "fell"
    return f"among those documented it {verb} {from_to(before, after)}"


def _documentation(one: MeasureVerdict) -> str:
    assert one.known is not None
    before, after = one.known
    more = "more" if after > before else "less"
    return f"{more} is documented ({from_to(before, after).removeprefix('from ')})"


def _charting(one: MeasureVerdict) -> str:
    """Say what the charting alone could have done."""
    called = {True: "an improvement", False: "a change for the worse"}
    rose = one.before is not None and one.after is not None and one.after > one.before
    is_good = rose == (one.row["direction"] == "higher")
    noun = "a change of care" if one.row["direction"] == "neither" else called[is_good]
    text = f"But {_documentation(one)}"
    alone = one.study.charting_alone
    if alone is not None:
        text += (
            f", which alone moves it by about {points(alone.guess)} points, care as before "
            f"({points(alone.lower)} to {points(alone.upper)})"
        )
    return f"{text}, and {_among(one)}. The charting could have done this: it is not called {noun}."


def chances(one: MeasureVerdict) -> str:
    """Say how likely it is that the measure moved for the better, or at all; empty if unknown.

    Of the readings that carry the verdict the one that says less.
    """
    found = [_chance(one, each) for each in _effects(one)]
    if not found:
        return ""
    first, more = (min(each) for each in zip(*found, strict=True))
    side = {WORSE: "worse"}.get(one.state, "better")
    if one.row["direction"] == "neither":
        side = "higher" if one.study.effect and one.study.effect.points.guess > 0 else "lower"
    by = in_100(more).removesuffix(" in 100")
    return f"{in_100(first)} that it is {side}, {by} that by {MARGIN} points or more"


def _effects(one: MeasureVerdict) -> list[Effect]:
    care = one.study.care.effect if one.study.care is not None else None
    if is_hidden(one):
        return [care] if care is not None else []
    return [each for each in (one.study.effect, care) if each is not None]


def _chance(one: MeasureVerdict, effect: Effect) -> tuple[float, float]:
    """Return the chance of an effect on the side the verdict is on, and of one worth having."""
    direction = str(one.row["direction"])
    is_up = effect.points.guess > 0 if direction == "neither" else direction == "higher"
    if one.state == WORSE:
        is_up = not is_up
    least = MARGIN / 100
    if is_up:
        return effect.chance_above(), effect.chance_above(least)
    return 1 - effect.chance_above(), 1 - effect.chance_above(-least)


def in_100(chance: float) -> str:
    """Write a chance in words.

    >>> in_100(0.923), in_100(0.9991), in_100(0.002)
    ('92 in 100', 'over 99 in 100', 'under 1 in 100')
    """
    whole = round(100 * chance)
    if whole > 99:
        return "over 99 in 100"
    return f"{whole} in 100" if whole >= 1 else "under 1 in 100"


def doubt(one: MeasureVerdict) -> str:
    """Say how far the fact can be believed, in one sentence; empty where a fact says it all."""
    if one.before is None or one.after is None:
        return ""
    if one.state == CHARTING:
        return _charting(one)
    if one.because == BY_COURSE:
        return (
            f"That is more than its course before explains ({chances(one)}); one unit alone cannot "
            "prove that the change did it."
        )
    told = chances(one)
    none = "That is no change beyond chance" + (f" ({told})." if told else ".")
    simple = {NOT_ANALYSED: _not_analysed(one), SAME: none}
    return simple.get(one.state) or _too_few(one)


def _too_few(one: MeasureVerdict) -> str:
    """Say why a difference cannot be laid to the change."""
    if one.months_before < FEW_MONTHS:
        return f"{few_months(one.months_before, 'before')} {_CANNOT}."
    told = chances(one)
    text = "Its course before could explain it" + (f" ({told})" if told else "")
    return text + (". Watch it." if one.state == WORSE else f". That is not enough {_CANNOT}.")


def measured(one: MeasureVerdict) -> str:
    """Say what became of the value behind a measure, in its own unit; empty where there is none."""
    value = one.study.value
    return value_words(value) if value is not None and value.effect is not None else ""


def value_words(one: ValueStudy) -> str:
    """Say how a measured value moved, beyond its course before: in degrees, or minutes."""
    before, after = value_ends(one)
    noun = "It took about" if one.is_time else "The mean reading went from"
    joint = "before and about" if one.is_time else "to"
    went = f"{noun} {before} {joint} {after}" + (" after" if one.is_time else "")
    told = value_effect(one)
    return f"{went}: {told} than its course before gives." if one.is_clear else f"{went}: {told}."


def value_ends(one: ValueStudy) -> tuple[str, str]:
    """Return the value before and after, with its unit."""
    digits = 2
    if one.is_time:
        digits = 1 if min(one.before, one.after) < SHORT else 0
    before, after = (f"{by_hand(each, digits):.{digits}f}" for each in (one.before, one.after))
    return (f"{before}{SPACE}{one.unit}" if one.is_time else before), f"{after}{SPACE}{one.unit}"


def value_number(one: ValueStudy, value: float | None) -> str:
    """Write one value in the digits of the study's own, with its unit; a dash where none."""
    if value is None or is_missing(value):
        return NONE
    digits = (1 if min(one.before, one.after) < SHORT else 0) if one.is_time else 2
    return f"{by_hand(value, digits):.{digits}f}{SPACE}{one.unit}"


def value_spread(one: ValueStudy, spread: float | None) -> str:
    """Write the spread of the readings of a month: of minutes, how many times more or less.

    One standard deviation to either side of the mean; of minutes that of their logarithms.
    """
    if spread is None or is_missing(spread):
        return NONE
    if one.is_time:
        return f"{math.exp(spread):.1f} times"
    return f"{by_hand(spread, 2):.2f}{SPACE}{one.unit}"


def value_effect(one: ValueStudy) -> str:
    """Say the effect on a value: "0.12 °C higher (0.08 to 0.16)", or that chance could do it."""
    span = one.span
    assert span is not None
    if one.is_time:
        percents = [100 * (each - 1) for each in (span.guess, span.lower, span.upper)]
        unit, digits, ways = "%", 0, ("longer", "shorter")
    else:
        percents = [span.guess, span.lower, span.upper]
        unit, digits, ways = one.unit, 2, ("higher", "lower")
    if not one.is_clear:
        low, high = (f"{each:+.{digits}f}".replace("-", MINUS) for each in percents[1:])
        return f"no change beyond chance ({low} to {high}{SPACE}{unit})"
    guess, *ends = (f"{abs(each):.{digits}f}" for each in percents)
    low, high = sorted(ends, key=float)
    return f"{guess}{SPACE}{unit} {ways[0] if percents[0] > 0 else ways[1]} ({low} to {high})"


def carried_out(one: ChangeVerdict) -> str:
    """Say whether the change was carried out, by what its log names; empty where it names none."""
    told = [_carried(each) for each in one.process[:MOST_TOLD]]
    return " ".join(each for each in told if each)


def _carried(one: ValueStudy | MeasureVerdict) -> str:
    if isinstance(one, MeasureVerdict):
        is_done = one.state in {BETTER, MOVED} and one.because == BY_COURSE
        return f"{fact(one)}: the change {_DONE[is_done]}."
    span = one.span
    if span is None:
        return ""
    if not one.is_clear or one.is_time:
        return f"{one.name} did not move beyond chance: the change {_DONE[False]}."
    verb = "rose" if span.guess > 0 else "fell"
    low, high = sorted((abs(span.lower), abs(span.upper)))
    return (
        f"{one.name} {verb} by {abs(span.guess):.1f}{SPACE}{one.unit} ({low:.1f} to {high:.1f}): "
        f"the change {_DONE[True]}."
    )


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
    """Say whether the change did what it was meant to, and whether it was carried out."""
    if one.main is None:
        return "No measure that it was meant to move can be judged here."
    return " ".join(each for each in (sentence(one.main), carried_out(one)) if each)


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
    verdict.BY_SUM: f"{ABOVE}, newborn by newborn; its course before could explain it",
}


def mark(one: MeasureVerdict) -> tuple[str, str, str]:
    """Return (shape, tone, words): what a row of a table says of one measure."""
    if one.state in {SAME, NOT_ANALYSED, CHARTING}:
        said = {
            SAME: ("dash", "quiet", "no change beyond chance"),
            CHARTING: ("hatch", "plain", "moved with what is written down"),
        }
        return said.get(one.state, ("hatch", "plain", "not analysed"))
    shape, tone, words = _MARKS[one.state, one.because == BY_PLAIN]
    carried = _CARRIED.get(one.because)
    return shape, tone, f"{words}, {carried}" if carried else words

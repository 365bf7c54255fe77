"""The words of "did the change work": the effect with its doubt, never more than the data say."""

from typing import Final

import pandas as pd

from pipelines.reading import before_after as change_study
from pipelines.reading.before_after import AFTER, BEFORE, Study
from pipelines.statistics import effects, interrupted
from pipelines.statistics.effects import Span
from pipelines.statistics.interrupted import PRIORS, Priors
from pipelines.statistics.over_time import BETTER, WORSE
from pipelines.words import of_numbers
from pipelines.words.of_numbers import count, number_of, percent

PAGE_KIND: Final = "Internal page: it shows small numbers and stays inside the unit"
RARE: Final = 0.1  # below it a percentage has one decimal
NONE_BY_CHANCE: Final = 3  # so many months without a newborn who counts are no chance any more

CAUTIONS: Final = (
    "A study of one unit before and after a change cannot prove a cause. It can say whether what "
    "was seen is more than chance, more than the trend before, and not a season.",
    "What the data cannot say: whether something else happened at the same time that nobody wrote "
    "into the log; whether care changed or only what is written down; whether the newborns who "
    "count for the measure are of another kind than before.",
    "Not documented is not the same as not done. Where charting changed with the change, so can "
    "the measure: see how the effect moves when the unknown are counted otherwise.",
    "Several measures are read side by side. Of 20 that nothing happened to, about one lies "
    "outside its 95 % interval by chance.",
    "An interval that holds 0 does not say that nothing happened; it says how large an effect "
    "could still hide.",
)
METHOD: Final = (
    "Segmented regression of the months (Wagner and others 2002; Bernal and others 2017), shares "
    "on the log-odds scale: level and trend before, a step and another trend from the change on, "
    "and one yearly wave; the whole may bend a little. Trend, bend and wave are held near zero by "
    "the priors below, for a year or two of months cannot say them freely. Months that differ "
    "beyond chance, and neighbours that are alike, make the interval wider. The effect is the "
    f"mean, over up to the first {effects.MONTHS} months after the change, of what is fitted "
    "less what the course before would have given, weighted by newborns. All in closed form: the "
    "same months give the same numbers."
)


def priors_words(priors: Priors, learned_from: int) -> str:
    """Say the priors in force, and where they come from."""
    own = (
        f"learned from {number_of(learned_from, 'measure')} of this unit before the change, the "
        f"shipped {PRIORS.trend:g} and {PRIORS.season:g} counting as ten more"
        if learned_from
        else "as shipped"
    )
    return (
        "Priors, as standard deviations around zero on the log-odds scale (0.03 is 0.6 points at "
        f"75 %): trend {priors.trend:.3f} a month, season {priors.season:.2f} ({own}); change of "
        f"trend {priors.slope_change:.3f} a month; bend {priors.bend:g} a month squared; the step "
        f"{priors.step:g}, which hardly holds it."
    )


GLOSSARY: Final = {
    "points": "percentage points: from 80 % to 85 % is 5 points",
    "course before": "level, trend and season of the months before the change, carried on",
    "effect": "what is fitted after the change less what the course before would have given",
    "best guess": "the effect that fits the data best; the range around it fits them too (95 %)",
    "improvement": "the whole interval lies on the better side of no effect",
    "balancing measure": "what could get worse while something else gets better",
    "92 in 100": "of 100 changes that looked like this one, about 92 would be on that side",
    "among the documented": "without those not documented or unusable",
}


def number(share: float, is_fine: bool) -> str:
    return f"{100 * abs(share):.1f}" if is_fine else f"{100 * abs(share):.0f}"


def is_fine(span: Span) -> bool:
    """Return whether whole points would be too coarse to say the interval truly."""
    return min(abs(span.lower), abs(span.upper)) < 0.02 or span.upper - span.lower < 0.05


def rate(share: float | None) -> str:
    """Write a share as a percentage, finer where a rare event would look the same twice.

    >>> rate(0.0142).replace(of_numbers.SPACE, " "), rate(0.815).replace(of_numbers.SPACE, " ")
    ('1.4 %', '82 %')
    """
    if share is None or of_numbers.is_missing(share) or not RARE > share > 0.0005:
        return percent(share)
    return f"{of_numbers.by_hand(100 * share, 1):.1f}{of_numbers.SPACE}%"


def points_range(span: Span) -> str:
    return f"{of_numbers.points(span.lower)} to {of_numbers.points(span.upper)}"


def side(share: float, direction: str) -> str:
    """Say which way a difference goes.

    >>> side(-0.02, "lower"), side(-0.02, "neither")
    ('better', 'lower')
    """
    if direction == "neither":
        return "higher" if share > 0 else "lower"
    return "better" if (share > 0) == (direction == "higher") else "worse"


_NOUN: Final = {
    BETTER: "an improvement",
    WORSE: "a worsening",
}


def span_words(span: Span, direction: str) -> str:
    """Say a range of points: "an improvement of 8 to 15 points", or from worse to better.

    >>> span_words(Span(0.11, 0.08, 0.15), "higher")
    'an improvement of 8 to 15 points'
    >>> span_words(Span(0.03, -0.05, 0.09), "higher")
    'anything from 5 points worse to 9 points better'
    """
    fine = is_fine(span)
    if not span.leaves_out_zero:
        low, high = span.lower, span.upper
        ends = (low, high) if side(high, direction) in {"better", "higher"} else (high, low)
        told = [f"{number(end, fine)} points {_side_of(end, ends, direction)}" for end in ends]
        return f"anything from {told[0]} to {told[1]}"
    near, far = sorted((abs(span.lower), abs(span.upper)))
    noun = _NOUN.get(change_study.verdict(span, direction))
    if noun is None:
        noun = "a rise" if span.guess > 0 else "a fall"
    least = number(near, fine)
    # The whole interval lies on one side, so its end is never said to be none.
    least = "under 0.1" if float(least) == 0 else least
    return f"{noun} of {least} to {number(far, fine)} points"


def _side_of(end: float, ends: tuple[float, float], direction: str) -> str:
    """Return an end's side; an end of exactly 0 takes the side the other end leaves."""
    if end:
        return side(end, direction)
    other = ends[1] if end is ends[0] else ends[0]
    return side(-other or 1.0, direction)


def title(study: Study) -> str:
    return str(study.row["title"])


def _noun(study: Study) -> str:
    return of_numbers.noun(study.row)


def month(moment: pd.Timestamp) -> str:
    return f"{moment:%b %y}"


def day(moment: pd.Timestamp) -> str:
    """Write a day.

    >>> day(pd.Timestamp("2025-09-01"))
    '1 September 2025'
    """
    return f"{moment.day} {moment:%B %Y}"


def pooled(study: Study, phase: str) -> tuple[int, int]:
    """Return (how many met it, of how many) over one phase."""
    rows = study.phase(phase)
    return int(rows["numerator"].sum()), int(rows["counted"].sum())


def pooled_words(study: Study, phase: str) -> str:
    met, of = pooled(study, phase)
    return f"{count(met)} of {count(of)} ({rate(met / of)})" if of else "none"


def reason_words(study: Study, start_on: pd.Timestamp) -> str:
    """Say why a measure was not analysed, with the number that is short and the next step."""
    before, after = (int((study.phase(one)["counted"] > 0).sum()) for one in (BEFORE, AFTER))
    fewest, events = interrupted.FEWEST_MONTHS, interrupted.FEWEST_EVENTS
    short = f"{fewest} months with newborns are needed on each side of the change"
    noun = _noun(study)
    return {
        interrupted.NO_NEWBORNS: f"no {noun} count for it in any of these months.",
        change_study.NO_ROWS: "the store holds no month for it.",
        change_study.SAME_MONTH_POLICY: "the unit's own numbers for this measure changed in the "
        "month of the change, so before and after do not count the same thing.",
        interrupted.NONE_BEFORE: f"there is no month with {noun} before {day(start_on)}, so "
        "there is nothing to compare with. Is the date in the unit file right?",
        interrupted.NONE_AFTER: f"there is no month with {noun} from {day(start_on)} on, so "
        "there is nothing to compare. Is the date in the unit file right?",
        interrupted.FEW_BEFORE: f"{short}; before it there {_are(before)}. {_older(study)}",
        interrupted.FEW_AFTER: f"{short}; after it there {_are(after)}. "
        f"{_wait(study, fewest - after)}",
        interrupted.NEVER: f"it is 0 % in every month, before and after ({noun} counted: "
        f"{count(study.months['counted'].sum())}). Nothing moved that a model could follow.",
        interrupted.ALWAYS: f"it is 100 % in every month, before and after ({noun} counted: "
        f"{count(study.months['counted'].sum())}). Nothing moved that a model could follow.",
        interrupted.FEW_EVENTS: f"too few to follow month by month: {pooled_words(study, BEFORE)} "
        f"before, {pooled_words(study, AFTER)} after. It takes {events} {noun} who met it and "
        f"{events} who did not, on each side.",
    }[str(study.reason)]


def _are(months: int) -> str:
    return f"{'is' if months == 1 else 'are'} {months or 'none'}"


def _older(study: Study) -> str:
    """Say what would give more months before."""
    if study.is_cut:
        return (
            "Its own numbers changed before that, so neither older exports nor waiting gives more."
        )
    if _begins_late(study):
        return (
            "It begins later than the exports that are here, so older ones would not help; "
            "waiting does not either."
        )
    return "Older exports of this unit would help; waiting does not."


def _begins_late(study: Study) -> bool:
    """Return whether the first months that are here have no newborn that counts.

    Where newborns are few a month or two may have none by chance.
    """
    counts = (study.phase(BEFORE)["counted"] > 0).tolist()
    return True not in counts[:NONE_BY_CHANCE] and len(counts) >= NONE_BY_CHANCE


def _wait(study: Study, missing: int) -> str:
    if study.months.empty:
        return ""
    last = study.months["month"].max()
    month = of_numbers.month_name(last + pd.DateOffset(months=missing))
    return f"It can be analysed once {month} is in."


def effect_words(study: Study) -> str:
    """Say the effect of an analysed study in one sentence, in careful words."""
    assert study.effect is not None
    effect, direction = study.effect, str(study.row["direction"])
    span = effect.points
    start = "" if span.leaves_out_zero else "The data cannot say whether it moved: they fit "
    start = start or "The data fit "
    guess = f"best guess {number(span.guess, is_fine(span))} {side(span.guess, direction)}"
    if span.leaves_out_zero:
        guess = f"best guess {number(span.guess, is_fine(span))}"
    return (
        f"{start}{span_words(span, direction)} ({guess}): {rate(effect.fitted)} where the "
        f"course before gives {rate(effect.without_change.guess)}."
    )


def plain_words(study: Study) -> str:
    """Say before and after alone, where it reads otherwise than the analysis; else nothing."""
    if study.plain is None:
        return ""
    span, direction = study.plain.points, str(study.row["direction"])
    if change_study.verdict(span, direction) == study.reading:
        return ""
    text = f"Before and after alone ({pooled_pair(study)}) fits {span_words(span, direction)}"
    if study.reading == change_study.UNCLEAR:
        return f"{text}; a trend or season from before could explain it."
    return f"{text}."


def rates(study: Study) -> tuple[str, str]:
    """Return the pooled percent before and after."""
    shares = [met / of if of else None for met, of in (pooled(study, BEFORE), pooled(study, AFTER))]
    return rate(shares[0]), rate(shares[1])


def pooled_pair(study: Study) -> str:
    before, after = rates(study)
    return f"{before} before, {after} after"


def gaps_words(study: Study) -> str:
    """Say how many of the months after lack more than a tenth of what they need."""
    lacking, of = study.gaps_after()
    if not lacking:
        return ""
    return (
        f"{count(lacking)} of {number_of(of, 'month')} after it "
        f"{'is' if lacking == 1 else 'are'} missing more than "
        f"{percent(change_study.MUCH_UNDOCUMENTED)} of the values."
    )


def verdict_words(study: Study, start_on: pd.Timestamp) -> str:
    """Say what happened to one measure: effect, the plain reading where it differs, the gaps."""
    if study.effect is None:
        return f"Not analysed: {reason_words(study, start_on)}"
    parts = [effect_words(study), plain_words(study), gaps_words(study)]
    return " ".join(part for part in parts if part)


def newborns_words(study: Study) -> str:
    """Say the effect in newborns a month."""
    assert study.effect is not None
    span = study.effect.newborns_a_month
    ends = sorted((span.lower, span.upper))
    low, high = (f"{end:+.0f}".replace("-", of_numbers.MINUS).replace("+0", "0") for end in ends)
    return f"{f'{span.guess:+.0f}'.replace('-', of_numbers.MINUS)} ({low} to {high})"


def holding_words(study: Study) -> str:
    """Say whether the level since the change holds."""
    if study.fit is None:
        return "Nothing was analysed, so there is no level to hold."
    drift = effects.drift(study.fit)
    after = study.phase(AFTER)
    last = after[after["counted"] > 0].tail(3)
    now = last["numerator"].sum() / last["counted"].sum()
    text = (
        f"Last {number_of(len(last), 'month')}: {count(last['numerator'].sum())} of "
        f"{count(last['counted'].sum())} ({percent(now)}). Since the change the level moves by "
        f"{of_numbers.points(drift.guess)} points a month, season apart ({points_range(drift)}): "
    )
    direction = str(study.row["direction"])
    if not drift.leaves_out_zero:
        return text + "no drift beyond chance."
    way = side(drift.guess, direction)
    return text + {
        "better": "it is still getting better.",
        "worse": "it is slipping. Look at what is done differently now.",
    }.get(way, f"it goes on getting {way}.")


def chart_text(study: Study, start_on: pd.Timestamp) -> str:
    """Return the alternative text of the picture of one measure."""
    months = study.months
    if months.empty:
        return f"{title(study)}: no months to draw."
    better = {"higher": "higher is better", "lower": "lower is better"}
    target = months["target"].dropna()
    aim = f"target {percent(target.iloc[-1])}" if len(target) else "no target"
    return (
        f"{title(study)}: monthly percentages from {month(months['month'].iloc[0])} to "
        f"{month(months['month'].iloc[-1])}, with a rule at the change on {day(start_on)}; "
        f"{better.get(str(study.row['direction']), 'neither direction is better')}; {aim}. "
        f"{verdict_words(study, start_on)} The share not documented stands beneath. Every number "
        "stands in the table below."
    )

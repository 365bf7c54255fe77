"""The written parts of the page of one change, and how its pictures are shown."""

from typing import Any, Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.pages.change import charts as change_charts
from pipelines.pages.change import doubt as change_doubt
from pipelines.pages.change import value_chart
from pipelines.pages.change import words as change_words
from pipelines.pages.change.frames import BreakRow, FittedMonthRow, MixRow, TouchingRow
from pipelines.pages.change.read import ChangeData
from pipelines.pages.shell.markup import PanelHead, Part, measure_head, part
from pipelines.pages.shell.page import About, Head, Section, about_section, panels
from pipelines.pages.shell.show import show
from pipelines.reading.before_after import AFTER, BEFORE, LEFT_OUT, Study
from pipelines.statistics import interrupted
from pipelines.words import of_numbers, of_silence, of_verdicts

MONTH_COLUMNS: Final = (
    "Month",
    "Phase",
    "n of N",
    "Percent",
    "Interval",
    "Fitted",
    "Course before",
    "Not documented",
    "Unusable",
)
VALUE_COLUMNS: Final = (
    "Month",
    "Phase",
    "Mean",
    "Spread",
    "Readings",
    "Fitted",
    "Course before",
)
BETTER_WORDS: Final = {
    "higher": "higher is better",
    "lower": "lower is better",
    "neither": "neither direction is better",
}


def _marks(data: ChangeData, study: Study) -> pd.DataFrame:
    """Return the changes and policy dates to draw: start_on, words, is_own."""
    own = pd.DataFrame(
        {"start_on": [data.start_on], "words": [data.change_title], "is_own": [True]}
    )
    log = data.changes[["start_on"]].assign(words=data.changes["title"], is_own=False)
    policy = data.breaks[data.breaks["measure_id"] == study.row["measure_id"]]
    dates = policy[["start_on"]].assign(words=policy["words"], is_own=False)
    filled = [frame for frame in (own, log, dates) if len(frame)]
    marks: pd.DataFrame = pd.concat(filled).sort_values("start_on", ignore_index=True)
    return marks


def _titles(studies: list[Study]) -> str:
    return "; ".join(change_words.title(one) for one in studies)


def _facts(data: ChangeData) -> list[tuple[str, str]]:
    main = data.main
    meant = _titles([*([main] if data.is_meant else []), *data.meant])
    aside = f"{', '.join(data.left_aside)}: not measures of shares." if data.left_aside else ""
    facts = {
        "Changed": data.change_title,
        "From": change_words.day(data.start_on),
        "Meant to move": meant or "nothing that has newborns here",
        "Could get worse": _titles(data.balancing) or "no measure is named",
        "Read on this page": change_words.title(main)
        + ("" if data.is_meant else ", which the log does not name as meant to move"),
        "Counted": str(main.row["numerator_words"]),
        "Among": str(main.row["population_words"]),
        "Months": _months_words(main),
        "Carried out": of_verdicts.carried_out(data.verdict),
        "Not analysed here": f"{aside} {of_silence.left_out(data.silent)}".strip(),
    }
    return [(name, words) for name, words in facts.items() if words]


def _months_words(study: Study) -> str:
    if study.months.empty:
        return "none"
    spans = [
        f"{change_words.month(rows['month'].min())} to {change_words.month(rows['month'].max())} "
        f"{name} ({len(rows)})"
        for name in (BEFORE, LEFT_OUT, AFTER)
        if len(rows := study.phase(name))
    ]
    words = "; ".join(spans)
    if len(study.phase(LEFT_OUT)):
        words += ". A month that the change divides belongs to neither side"
    return words


def show_what(data: ChangeData) -> None:
    """Display what was changed and when, with everything else in the log of these months."""
    show(part("pages/change/what", facts=_facts(data)), panel="open")
    if len(data.main.months):
        show(change_charts.timeline(data.main, _marks(data, data.main)))
    show(Part(""), panel="close")


def _line(data: ChangeData, study: Study) -> dict[str, Any]:
    start_on, told = data.start_on, data.told[str(study.row["measure_id"])]
    line = {
        "title": change_words.title(study),
        "better": BETTER_WORDS[str(study.row["direction"])],
        "reason": "",
    }
    for phase, name in ((BEFORE, "before"), (AFTER, "after")):
        met, of = change_words.pooled(study, phase)
        line[name] = change_words.rate(met / of) if of else of_numbers.NONE
        line[f"{name}_of"] = f"{of_numbers.count(met)} of {of_numbers.count(of)}"
    if study.effect is None or study.plain is None:
        return {**line, "reason": change_words.reason_words(study, start_on)}
    effect, plain = study.effect, study.plain.points
    shape, tone, word = of_verdicts.mark(told)
    course = effect.without_change
    return {
        **line,
        "course": change_words.rate(course.guess),
        "course_range": of_numbers.interval(course.lower, course.upper),
        "points": of_numbers.points(effect.points.guess),
        "points_range": change_words.points_range(effect.points),
        "newborns": change_words.newborns_words(study),
        "plain": of_numbers.points(plain.guess),
        "plain_range": change_words.points_range(plain),
        "mark": (shape, tone),
        "word": word,
    }


def _effect_table(
    data: ChangeData, studies: list[Study], caption: str, heading: str = "", empty: str = ""
) -> Part:
    lines = [_line(data, one) for one in studies]
    return part("pages/change/effect", lines=lines, caption=caption, heading=heading, empty=empty)


def _value_lines(studies: list[Study]) -> list[dict[str, str]]:
    """Return what was measured, each value once though several measures rest on it."""
    lines: dict[tuple[str, float, float], dict[str, str]] = {}
    for study in studies:
        value = study.value
        if value is None or value.effect is None:
            continue
        before, after = of_verdicts.value_ends(value)
        known = (value.unit, round(value.before, 3), round(value.after, 3))
        lines.setdefault(
            known,
            {
                "title": change_words.title(study),
                "what": value_chart.what(value),
                "before": before if value.is_time else f"{before}{of_numbers.SPACE}{value.unit}",
                "after": after,
                "effect": of_verdicts.value_effect(value),
            },
        )
    return list(lines.values())


def _month_lines(study: Study) -> list[list[str]]:
    drawn = change_charts.points_frame(study)
    months = study.months.assign(fitted=drawn["fitted"] / 100, course=drawn["course"] / 100)
    months = months.iloc[::-1]
    rows = rows_of(months, FittedMonthRow)
    told = zip(rows, of_numbers.fractions(months), of_numbers.intervals(months), strict=True)
    return [
        [
            change_words.month(row["month"]),
            str(row["phase"]),
            fraction,
            change_words.rate(row["rate"]),
            span,
            change_words.rate(row["fitted"]),
            change_words.rate(row["course"]),
            of_numbers.count(row["not_documented"]),
            of_numbers.count(row["unusable"]),
        ]
        for row, fraction, span in told
    ]


def _show_months(data: ChangeData, study: Study) -> None:
    """Display the picture of one measure, and its months in figures."""
    if study.months.empty:
        return
    if study.months["rate"].notna().any():
        is_main = study is data.main
        marks = _marks(data, study)
        show(change_charts.over_phases(study, marks, data.start_on, is_main))
    title = change_words.title(study)
    lines = _month_lines(study)
    show(part("pages/change/months", title=title, columns=MONTH_COLUMNS, months=lines))


def _show_values(data: ChangeData, studies: list[Study]) -> None:
    """Display the mean by month of each value that is analysed, once, with its months."""
    shown: set[tuple[str, float, float]] = set()
    for study in studies:
        value = study.value
        if value is None or value.fit is None:
            continue
        known = (value.unit, round(value.before, 3), round(value.after, 3))
        if known in shown:
            continue
        shown.add(known)
        words = f"{change_words.title(study)}, {value_chart.what(value)} by month:"
        show(part("pages/change/value_head", words=words, effect=of_verdicts.value_words(value)))
        show(value_chart.over_values(study, value, _marks(data, study)))
        lines = value_chart.table_of(value_chart.months_of(study, value), value)
        title = change_words.title(study)
        show(part("pages/change/value_months", title=title, columns=VALUE_COLUMNS, months=lines))


def show_effect(data: ChangeData) -> None:
    """Display what happened to the measure: finding, picture, effect, months."""
    main = data.main
    finding = _told(data, main)
    show(measure_head(main.row, finding), panel="open")
    _show_months(data, main)
    caption = (
        "The effect with its 95 % interval: what is fitted after the change less what the course "
        "before would have given"
    )
    show(_effect_table(data, [main], caption))
    show(part("pages/change/values", lines=_value_lines([main, *data.meant])))
    _show_values(data, [main, *data.meant])
    if data.meant:
        heading = "The other measures it was meant to move"
        show(_effect_table(data, data.meant, "Analysed in the same way", heading))
    show(Part(""), panel="close")


def _told(data: ChangeData, study: Study) -> str:
    """Say the one verdict on a measure, what was measured, then the effect with its doubt."""
    told = data.told[str(study.row["measure_id"])]
    parts = [of_verdicts.sentence(told), of_verdicts.measured(told)]
    parts.append(change_words.verdict_words(study, data.start_on))
    return " ".join(part for part in parts if part)


def _first_answer(data: ChangeData) -> str:
    """Say what happened, in the words of every page, then the effect with its doubt.

    A page of another measure than the log's first has its own verdict in their place.
    """
    verdict, main = data.verdict.main, data.main
    if verdict is None or verdict.measure_id != main.row["measure_id"]:
        return " ".join(
            each for each in (_told(data, main), of_verdicts.carried_out(data.verdict)) if each
        )
    parts = [of_verdicts.worked(data.verdict), of_verdicts.measured(verdict)]
    parts.append(change_words.verdict_words(main, data.start_on))
    return " ".join(part for part in parts if part)


def _finding(words: str) -> PanelHead:
    return PanelHead(part("pages/change/finding", words=words).html, finding=words)


def show_doubt(data: ChangeData) -> None:
    """Display what else could explain it: other analyses, other units, charting, who was born."""
    fitted = [line for line in data.lines if line.points is not None]
    if fitted:
        show(_finding(change_doubt.turned_words(data)), panel="open")
        spans = [line.points for line in fitted if line.points is not None]
        labels = [line.name for line in fitted]
        text = (
            f"{change_words.title(data.main)}: the effect in points with its 95 % interval in "
            f"{len(spans)} analyses. Every number stands in the table below."
        )
        groups = ["Analysed otherwise"] * len(spans)
        show(change_charts.spans_chart(groups, labels, spans, text))
        show(Part(""), panel="close")
    lines = [
        {
            "name": line.name,
            "months": f"{line.months[0]} and {line.months[1]}",
            "points": of_numbers.points(line.points.guess) if line.points else of_numbers.NONE,
            "points_range": change_words.points_range(line.points) if line.points else "",
            "words": change_doubt.line_words(line, data.main.row),
        }
        for line in data.lines
    ]
    show(part("pages/change/lines", lines=lines, left_out=change_doubt.left_out_words(data)))
    show(part("pages/change/doubt", points=_doubts(data), mix=_mix_lines(data)))


def _doubts(data: ChangeData) -> list[tuple[str, list[str]]]:
    log = [
        f"{row['title']}, {change_words.day(row['start_on'])}"
        + (": it names this measure too." if row["touches"] else ": it does not name this measure.")
        for row in rows_of(data.changes, TouchingRow)
    ]
    log += [
        f"{row['words']}, {change_words.day(row['start_on'])}: the measure's own numbers changed; "
        "months under other numbers are left out."
        for row in rows_of(data.breaks, BreakRow)
    ]
    nothing = ["The log holds no other change in these months. What nobody wrote down is not here."]
    trap = str(data.main.row["documentation_trap"] or "")
    return [
        ("Other changes at the same time", log or nothing),
        ("A unit without the change", [change_doubt.comparison_words(data)]),
        (
            "Was it the charting",
            [change_doubt.unknown_words(data), *([f"Trap in the records: {trap}"] if trap else [])],
        ),
        ("Were the newborns others", [_mix_words(data)]),
    ]


def _mix_words(data: ChangeData) -> str:
    if data.mix.empty:
        return "The store cannot say who was born on both sides of the change."
    moved = [row["name"] for row in rows_of(data.mix, MixRow) if row["points"].leaves_out_zero]
    if not moved:
        return "Nothing here differs beyond chance."
    return f"Differs beyond chance: {of_numbers.listed(moved)}. A measure can move for that alone."


def _mix_lines(data: ChangeData) -> list[dict[str, str]]:
    lines = []
    for row in rows_of(data.mix, MixRow):
        both = {
            name: f"{of_numbers.count(some)} of {of_numbers.count(of)} "
            f"({of_numbers.percent(some / of)})"
            for name, (some, of) in (("before", row["before"]), ("after", row["after"]))
        }
        span = row["points"]
        lines.append(
            {
                "name": str(row["name"]),
                **both,
                "points": of_numbers.points(span.guess),
                "points_range": change_words.points_range(span),
            }
        )
    return lines


def worse_table(data: ChangeData) -> Part:
    """Return every balancing measure, analysed in the same way."""
    caption = (
        "What could get worse while the measure gets better, analysed in the same way, with 95 % "
        "intervals"
    )
    empty = change_doubt.worse_answer(data)
    return _effect_table(data, data.balancing, caption, empty=empty)


def show_worse(data: ChangeData) -> None:
    """Display every balancing measure: finding, picture, months."""
    for one in data.balancing:
        finding = _told(data, one)
        show(measure_head(one.row, finding), panel="open")
        _show_months(data, one)
        show(Part(""), panel="close")


def holding(data: ChangeData) -> Part:
    """Return whether the level since the change holds."""
    return _finding(change_words.holding_words(data.main))


def _checks(study: Study) -> list[tuple[str, str, str]]:
    fit = study.fit
    if fit is None:
        return []
    found = fit.posterior
    months = len(fit.month)
    return [
        ("Months", f"{months} used", "more months before say more than more months after"),
        (
            "Season",
            "one yearly wave, held near zero",
            "two years and more: the months themselves say most of it"
            if months >= 2 * interrupted.YEAR
            else "under two years: the prior says most of it, so the interval is wider",
        ),
        (
            "Variation between months",
            f"{found.apart:.2f} log-odds beyond chance",
            "the interval is as wide as this asks for",
        ),
        (
            "Neighbouring months alike",
            f"{found.alike:.2f} from one month to the next",
            "the interval allows for it; so few months say little of it",
        ),
    ]


def checks(data: ChangeData) -> Part:
    """Return the checks of the model, the method, and how it did on known effects."""
    return part(
        "pages/change/checks",
        checks=_checks(data.main),
        method=change_words.METHOD,
        priors=change_words.priors_words(data.main.priors, data.learned_from),
        words=change_doubt.truth_words(),
        truth=change_doubt.measured_truth(),
    )


def head(data: ChangeData) -> Head:
    """Return line 1 and the three answers of the page."""
    main = data.main
    return Head(
        title=data.change_title,
        when="did it work?",
        remark=f"{data.title}, from {change_words.day(data.start_on)}. {change_words.PAGE_KIND}.",
        answers=[
            (
                f"What happened to: {change_words.title(main)}",
                _first_answer(data),
            ),
            ("Did anything get worse", change_doubt.worse_answer(data)),
            ("What else could explain it", change_doubt.else_answer(data)),
        ],
    )


def about(data: ChangeData) -> About:
    """Return what the foot says: cautions, words, build."""
    used = [one.row for one in (data.main, *data.meant, *data.balancing)]
    return About(change_words.CAUTIONS, change_words.GLOSSARY, data.build, data.loads, used)


SECTIONS: Final = (
    Section("what", "What was changed, and when", (show_what,), link="What was changed"),
    Section(
        "happened",
        "What happened",
        (show_effect,),
        intro="Dots are months, open below 20 newborns; the thick line is what is fitted. Long "
        "dashes are the course before carried on, in a pale area that holds what fits the months "
        "before. A zigzag says that the axis does not begin at zero.",
    ),
    Section("else", "What else could explain it", (show_doubt,)),
    Section("worse", "Did anything get worse", (worse_table, panels(show_worse))),
    Section("holding", "Is it holding", (holding,)),
    Section("checks", "Checks", (checks,)),
    about_section(about),
)

"""The written parts of the data quality page as HTML: frames in, escaped markup out."""

from typing import Any, Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.definitions.states import severity_words
from pipelines.drawing import in_cells
from pipelines.pages.quality import charts as quality_charts
from pipelines.pages.quality import completeness_table, last_digits
from pipelines.pages.quality import read as quality
from pipelines.pages.quality import words as quality_words
from pipelines.pages.quality.frames import (
    AnswerRow,
    DigitRow,
    FlagRow,
    MovedRateRow,
    UnmappedRow,
    VerdictRow,
)
from pipelines.pages.quality.read import QualityData
from pipelines.pages.quality.words import TABLE_WORDS, subject
from pipelines.pages.shell.markup import Part, panel_head, part
from pipelines.pages.shell.page import About, Head, Section, about_section, panels
from pipelines.pages.shell.show import show
from pipelines.reading.frames import LoadRow, RejectedRow
from pipelines.words import caution, of_measures, of_numbers, of_states

MOST_FLAGS: Final = 100  # of a group on the page; the file of open flags has them all
MOST_ANSWERS: Final = 200


def _moved_line(data: QualityData, row: MovedRateRow) -> dict[str, Any]:
    causes = data.masked[data.masked["measure_id"] == row["measure_id"]].head(3)
    named = list(zip(causes["rule_id"], causes["newborns"], strict=True))
    return {
        "title": row["title"],
        "span": row["span"],
        "masked": f"{of_numbers.count(row['numerator'])} of {of_numbers.count(row['counted'])}",
        "rate": of_numbers.percent(row["rate"]),
        "recorded": f"{of_numbers.count(row['recorded_numerator'])} of "
        f"{of_numbers.count(row['recorded_counted'])}",
        "recorded_rate": of_numbers.percent(row["recorded_rate"]),
        "points": f"{row['points']:+.1f}".replace("-", "\N{MINUS SIGN}"),
        "why": quality_words.moved_why(row, named),
    }


def changes(data: QualityData) -> Part:
    """Return the measures whose rate flags move by more than a point, or that there are none."""
    lines = [_moved_line(data, row) for row in rows_of(quality.moved(data), MovedRateRow)]
    gap = 100 * (data.rates["rate"] - data.rates["recorded_rate"]).abs()
    return part(
        "pages/quality/changes",
        lines=lines,
        measures=data.rates["measure_id"].nunique(),
        most=f"{gap.max():.1f}" if gap.notna().any() else None,
    )


def whole_columns(data: QualityData) -> Part:
    """Return the findings about whole columns, shifts and months, and the unknown words."""
    found = [
        {"subject": _place(row), "sure": severity_words("column")[str(row["severity"])], **row}
        for row in rows_of(_by_severity(quality.of_columns(data)), FlagRow)
    ]
    unknown = [
        {
            "subject": ", ".join(
                (TABLE_WORDS[row["table_name"]], of_numbers.column(row["column_name"]))
            ),
            "months": _month_span(row["first_month"], row["last_month"]),
            **row,
        }
        for row in rows_of(quality.unmapped(data), UnmappedRow)
    ]
    return part("pages/quality/columns", found=found, unknown=unknown)


# Of a whole column, other than of a value, nothing is masked by the finding itself.
def _place(row: FlagRow) -> str:
    """Say where a finding about a whole column is; of a kind, the explanation names it."""
    table = TABLE_WORDS[str(row["table_name"])]
    name = str(row["column_name"])
    return table if name == "kind" else f"{table}, {of_numbers.column(name)}"


def _by_severity(flags: pd.DataFrame) -> pd.DataFrame:
    order = {name: place for place, name in enumerate(of_states.SEVERITY_WORDS)}
    return flags.sort_values("severity", key=lambda names: names.map(order), kind="stable")


def _month_span(first: Any, last: Any) -> str:
    if of_numbers.is_missing(first):
        return of_numbers.NONE
    one, two = f"{first:%b %y}", f"{last:%b %y}"
    return one if one == two else f"{one} to {two}"


def _titles(data: QualityData) -> dict[str, str]:
    """Return rule -> its title; the rule's name where its checks have several titles."""
    found = data.verdict.groupby("rule_id")["title"].agg(["nunique", "first"])
    return {
        str(rule): str(first) if number == 1 else of_numbers.words(str(rule))
        for rule, number, first in found.itertuples()
    }


def _cause(data: QualityData, rule: str, flags: pd.DataFrame, title: str) -> dict[str, Any]:
    by_month = flags.groupby("month").size().reindex(data.trend, fill_value=0)
    keys = flags[["kind", "column_name"]].drop_duplicates()
    subjects = sorted({subject(*key) for key in keys.itertuples(index=False)})
    return {
        "title": title[:1].upper() + title[1:],
        "subjects": of_numbers.listed(subjects, 4),
        "in_all": len(flags),
        "in_span": int(flags["month"].isin(data.span).sum()),
        "in_month": int((flags["month"] == data.month).sum()),
        "answered": int(flags["answer"].notna().sum()),
        "explanation": flags["explanation"].mode().iloc[0],
        "bars": in_cells.counts(by_month),
        "bars_text": of_measures.counts_text(by_month, title),
    }


def causes(data: QualityData) -> Part:
    """Return the flags on values by severity and rule, with counts and 24 months."""
    titles = _titles(data)
    flags = quality.of_values(data)
    groups = []
    judged = zip(flags["severity"], flags["rule_id"], strict=True)
    named = [of_states.flag_kind(severity, rule) for severity, rule in judged]
    kinds = pd.Series(named, index=flags.index, dtype="object")
    for name, meaning in of_states.FLAG_KINDS.items():
        here = flags[kinds == name]
        rules = [
            _cause(data, str(rule), found, titles.get(str(rule), of_numbers.words(str(rule))))
            for rule, found in here.groupby("rule_id")
        ]
        rules.sort(key=lambda rule: (-rule["in_span"], -rule["in_all"], rule["title"]))
        groups.append({"name": name, "meaning": meaning, "rules": rules, "number": len(here)})
    records = int(data.months["newborns"].sum())
    return part(
        "pages/quality/causes",
        groups=[group for group in groups if group["rules"]],
        month=of_numbers.month_name(data.month),
        span=len(data.span),
        records=records,
        total=len(flags),
    )


def _flag_line(row: FlagRow) -> dict[str, Any]:
    value = row["recorded_value"]
    return {
        **row,
        "value": "" if value is None else value,
        "kind_of": of_states.SEVERITY_WORDS[str(row["severity"])],
        "month_words": "" if row["month"] is None else f"{row['month']:%b %y}",
        "subject": subject(row["kind"], row["column_name"]),
    }


def _tally(errors: int, queries: int) -> str:
    """Say how many values of a group there are, and how sure.

    >>> _tally(14, 10), _tally(1, 0)
    ('14 cannot be right, 10 unlikely', '1 cannot be right')
    """
    parts = [(errors, "error"), (queries, "query")]
    return ", ".join(
        f"{of_numbers.count(number)} {of_states.SEVERITY_WORDS[severity]}"
        for number, severity in parts
        if number
    )


def worklist(data: QualityData) -> Part:
    """Return the open flags grouped by what to check in the chart, then answers."""
    flags = quality_words.worklist(data)
    groups: list[dict[str, Any]] = []
    for (title, look), found in flags.groupby(["title", "look"], sort=False):
        lines = [_flag_line(row) for row in rows_of(_by_severity(found).head(MOST_FLAGS), FlagRow)]
        errors = int((found["severity"] == "error").sum())
        groups.append(
            {
                "title": title,
                "look": look,
                "number": len(found),
                "errors": errors,
                "tally": _tally(errors, len(found) - errors),
                "has_subject": len({line["subject"] for line in lines}) > 1,
                "lines": lines,
                "left": len(found) - len(lines),
            }
        )
    groups.sort(key=lambda group: (-group["errors"], -group["number"], group["title"]))
    return part(
        "pages/quality/worklist",
        groups=groups,
        number=len(flags),
        records=int(flags["record_id"].nunique()),
        unit=data.unit,
    )


def answers(data: QualityData) -> Part:
    """Return the flags the unit answered, with who and why, and the answers that fit no flag."""
    flags = quality.of_values(data)
    answered = flags[flags["answer"].notna()]
    stale = data.answers[data.answers["flags"] == 0]
    return part(
        "pages/quality/answers",
        answered=[_flag_line(row) for row in rows_of(answered.head(MOST_ANSWERS), FlagRow)],
        number=len(answered),
        confirmed=int((answered["answer"] == "confirmed").sum()),
        stale=rows_of(stale.head(MOST_ANSWERS), AnswerRow),
        stale_number=len(stale),
        unit=data.unit,
    )


def files(data: QualityData) -> Part:
    """Return the rows in, kept and rejected by file, the rejected by reason, and the hashes."""
    return part(
        "pages/quality/files",
        loads=rows_of(data.loads, LoadRow),
        rejected=rows_of(data.rejected, RejectedRow),
        rows_in=int(data.loads["rows_in"].sum()),
        rows_rejected=int(data.loads["rows_rejected"].sum()),
    )


def checks(data: QualityData) -> Part:
    """Return the checks that are off, set otherwise, or could not be judged."""
    titles = _titles(data)
    off = [
        {"rule_id": rule, "title": titles.get(rule, of_numbers.words(rule))}
        for rule in data.checks_off
    ]
    return part(
        "pages/quality/checks",
        number=len(data.verdict),
        off=off,
        numbers=data.checks_set,
        unjudged=rows_of(quality.not_judged(data), VerdictRow),
    )


def show_digits(data: QualityData) -> None:
    """Display how the last digits of each kind of reading fall: finding, chart, figures."""
    found = last_digits.heaps(data)
    is_clock = data.time_form == "clock"
    intro = part("pages/quality/digits_intro", number=len(found), is_clock=is_clock)
    show(intro, panel="before")
    for heap in found:
        head = panel_head(heap.title, quality_words.heap_finding(heap))
        foot = part("pages/quality/digits_foot", heap=heap, digits=rows_of(heap.digits, DigitRow))
        show(head, panel="open", look="digits")
        show(quality_charts.last_digits(heap))
        show(foot, panel="close")


def head(data: QualityData) -> Head:
    """Return line 1 and the three answers of the page."""
    first, last = data.months["month"].min(), data.months["month"].max()
    records = int(data.months["newborns"].sum())  # stillbirths have one too
    return Head(
        title=data.title,
        when=f"data quality, {of_numbers.month_name(first)} to {of_numbers.month_name(last)}",
        remark=f"{of_numbers.number_of(records, 'record')}. {caution.PAGE_KIND}.",
        answers=[
            ("Can these figures be trusted", quality_words.verdict(data)),
            ("What to do first", quality_words.first_to_do(data)),
            ("What changed", quality_words.changed(data)),
        ],
    )


def about(data: QualityData) -> About:
    """Return what the foot says: cautions, words, build."""
    return About(quality_words.CAUTIONS, quality_words.GLOSSARY, data.build, data.loads)


SECTIONS: Final = (
    Section(
        "changes", "What the flags change in the measures", (changes,), link="What flags change"
    ),
    Section("columns", "Whole columns, shifts and months", (whole_columns,), link="Whole columns"),
    Section("causes", "Flags by cause", (causes,), link="Causes"),
    Section(
        "check",
        "What to check in the chart",
        (worklist, answers),
        link="To check in the chart",
        leaves_off="the values of single records",
    ),
    Section("complete", "Completeness", (completeness_table.completeness,)),
    Section("digits", "Heaping: last digits of readings", (panels(show_digits),), link="Heaping"),
    Section("rows", "Rows and files", (files,)),
    Section("checks", "Checks", (checks,)),
    about_section(about, link="About"),
)

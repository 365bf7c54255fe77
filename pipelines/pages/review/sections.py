"""The sections of the monthly review: frames in, pieces of the page out."""

from typing import Any, Final

import altair as alt
import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.base.kept import kept_on_data
from pipelines.drawing import in_cells, over_months, over_periods
from pipelines.pages.review import other_groups
from pipelines.pages.review.frames import (
    FlagRuleRow,
    MeasureRow,
    RestatedRow,
    UnjudgedRow,
)
from pipelines.pages.review.leading import leading_table
from pipelines.pages.review.read import ReviewData
from pipelines.pages.review.record_list import record_list, records_link
from pipelines.pages.review.signal_life import is_at_rest, line_list, signals, with_lines
from pipelines.pages.shell.markup import PanelHead, Part, measure_head, part
from pipelines.pages.shell.page import About, Section, about_section, panels
from pipelines.pages.shell.show import show
from pipelines.reading.frames import LoadRow, RejectedRow, SeriesRow
from pipelines.reading.standing import NO_NEWBORNS, NOT_IN_EXPORT
from pipelines.words import caution, of_measures, of_numbers, of_signals, of_states
from pipelines.words.of_misses import missed_words

FIRST_RESTATED: Final = 12
_EMPTY: Final = (NO_NEWBORNS, NOT_IN_EXPORT)  # rows of the table without a figure


def _table_row(row: MeasureRow, series: pd.DataFrame) -> dict[str, Any]:
    title = str(row["title"])
    target = of_numbers.percent(row["target"])
    bar_text = f"{title}: {of_numbers.interval(row['lower'], row['upper'])}, target {target}"
    return {
        "measure_id": row["measure_id"],
        "title": title,
        "rank": row["rank"],
        "empty": of_measures.against_target(row) if row["target_state"] in _EMPTY else "",
        "fraction": f"{of_numbers.count(row['numerator'])} of {of_numbers.count(row['counted'])}",
        "percent": of_measures.rate_words(row),
        "bar": in_cells.interval_bar(row),
        "bar_text": bar_text,
        "target_words": target,
        "not_documented": of_numbers.count(row["not_documented"]),
        "signals": of_measures.signals(row),
        "trend": in_cells.trend(series),
        "trend_text": of_measures.trend_text(series.tail(in_cells.TREND_MONTHS), title),
    }


def measure_table(data: ReviewData) -> Part:
    """Return the table of measures, grouped as the nurse works."""
    by_measure = dict(list(data.series.groupby("measure_id")))
    groups = [
        {
            "name": name,
            "rows": [
                _table_row(row, by_measure[row["measure_id"]]) for row in rows_of(group, MeasureRow)
            ],
        }
        for name, group in data.measures.groupby("group_name", sort=False)
    ]
    return part(
        "pages/review/measures",
        groups=groups,
        number=len(data.measures),
        month=of_numbers.month_name(data.month),
    )


@kept_on_data
def _readings(data: ReviewData) -> list[tuple[set[str | None], str]]:
    """Return of each measure the ids by which it is named, and its own value of the month."""
    return [
        (
            {row["measure_id"], row["parent_id"]} - {None},
            f"{row['title']}: {of_measures.reading(row)}",
        )
        for row in rows_of(data.measures, MeasureRow)
    ]


def _balancing(data: ReviewData, names: list[str]) -> str:
    """Say the balancing measures with their own value of the month."""
    return "; ".join(words for ids, words in _readings(data) if ids & set(names))


def _chart_words(data: ReviewData, row: MeasureRow) -> str:
    """Say which chart it is; empty where the export is silent and none is drawn."""
    words = of_signals.chart_words(data.over_time[str(row["measure_id"])])
    return "" if row["is_silent"] else " ".join(words)


def _facts(data: ReviewData, row: MeasureRow, chart: str) -> list[tuple[str, str]]:
    """Return the definition's lines (name, words), leaving out what is not said."""
    status = {
        "published": "published",
        "published in part": "published in part, else a local decision",
        "local": "a local decision, no published value",
    }
    window = row["window_words"]
    better = {"higher": "higher", "lower": "lower", "neither": "neither direction"}
    missing = {
        "not_met": "counts as not met in the rate",
        "left_out": "stays out of the rate; "
        f"with it the percent could lie anywhere from "
        f"{of_numbers.interval(row['if_none_met'], row['if_all_met'])}",
    }
    names = row["balancing"]
    facts = {
        "Counted": row["numerator_words"],
        "Among": row["population_words"],
        "Not among them": row["exclusions"],
        "Accepted reasons": row["exceptions"],
        "Counted from": row["anchor"],
        "Window": f"{window} ({status.get(str(row['window_status']), '')})" if window else "",
        "Not documented": missing.get(str(row["missing"]), ""),
        "Better is": better.get(str(row["direction"]), ""),
        "Target": row["target_words"],
        "Source": row["sources"],
        "Where sources differ": row["disagreement"],
        "Trap in the records": row["documentation_trap"],
        "Read beside it": _balancing(data, list(names) if names is not None else []),
        "Caution": row["caution"],
        "Version": row["version"],
        "Chart": chart,
    }
    return [(name, str(words)) for name, words in facts.items() if words]


def _month_lines(series: pd.DataFrame) -> list[list[str]]:
    latest = series.iloc[::-1]
    fractions, spans = of_numbers.fractions(latest), of_numbers.intervals(latest)
    return [
        [
            f"{row['month']:%b %y}",
            fraction,
            of_numbers.percent(row["rate"]),
            span,
            of_numbers.percent(row["target"]),
            *(of_numbers.count(number) for number in _apart(row)),
        ]
        for row, fraction, span in zip(rows_of(latest, SeriesRow), fractions, spans, strict=True)
    ]


def _apart(row: SeriesRow) -> tuple[int, ...]:
    """Return the counts of those who did not meet it, in the order of ``MONTH_COLUMNS``."""
    missed = (row["late"], row["not_done"], row["not_met"], row["not_documented"])
    return (*missed, row["unusable"], row["exception"], row["exclusion"])


MONTH_COLUMNS: Final = (
    "Month",
    "n of N",
    "Percent",
    "Interval",
    "Target",
    "Late",
    "Not done",
    "Not met",
    "Not documented",
    "Unusable",
    "Exceptions",
    "Exclusions",
)

MOST_OPEN: Final = 4  # charts, so that the page stays short however much moved


@kept_on_data
def _open_at_first(data: ReviewData) -> set[str]:
    """Return the measures whose charts are seen before anyone asks, the most pressing few."""
    speaking = [row for row in rows_of(data.measures, MeasureRow) if not is_at_rest(row)]
    return {row["measure_id"] for row in speaking[:MOST_OPEN]}


def panel_head(data: ReviewData, row: MeasureRow) -> PanelHead:
    """Return a measure's heading and its finding in one sentence."""
    finding = of_measures.finding(row, data.month)
    waits = row["measure_id"] not in _open_at_first(data)
    return measure_head(row, finding, at_rest=is_at_rest(row), waits=waits)


def panel_foot(data: ReviewData, row: MeasureRow, series: pd.DataFrame) -> Part:
    """Return a measure's definition and the data table behind its chart."""
    over = data.over_time[str(row["measure_id"])]
    reasons = data.reasons[data.reasons["measure_id"] == row["measure_id"]]
    chart = _chart_words(data, row)
    return part(
        "pages/review/panel_foot",
        row=row,
        missed=[] if row["is_silent"] else missed_words(row, reasons),
        note=chart if of_signals.needs_a_note(over) else "",
        signals=of_signals.signal_lines(over),
        lines=line_list(data, row["measure_id"]),
        facts=_facts(data, row, chart),
        columns=MONTH_COLUMNS,
        months=_month_lines(series),
    )


def restated(data: ReviewData) -> Part:
    """Return the numbers of earlier months that are no longer what was shown, and why."""
    intro = (
        "Months that an earlier store showed in whole are counted again at each build. "
        "Numbers that are no longer the same stand here with the reason, so that nobody is "
        "surprised by a figure they remember otherwise."
    )
    if data.restated.empty:
        intro += " No number of an earlier month has changed."
    return part(
        "pages/review/restated",
        intro=intro,
        builds=[
            _restated_build(rows) for _, rows in data.restated.groupby("noticed_at", sort=False)
        ],
        first=FIRST_RESTATED,
    )


def _restated_build(rows: pd.DataFrame) -> dict[str, Any]:
    months = of_numbers.number_of(rows["period_start"].nunique(), "month")
    noticed, shown = rows["noticed_at"].iloc[0], rows["shown_at"].max()
    return {
        "title": f"Noticed on {noticed:%d %B %Y, %H:%M} UTC",
        "words": f"{of_numbers.number_of(len(rows), 'number')} of {months} differ from the store "
        f"whose exports were loaded on {shown:%d %B %Y, %H:%M} UTC.",
        "rows": [
            {
                "month": f"{row['period_start']:%b %y}",
                "title": row["title"],
                "was": of_measures.restated_side(row, "old"),
                "now": of_measures.restated_side(row, "new"),
                "why": row["why"],
            }
            for row in rows_of(rows, RestatedRow)
        ],
    }


WHOLE: Final = "on a whole column"


def _kind(row: FlagRuleRow) -> str:
    """Name the kind of a row's flags; a finding about a whole column is no flag on a value."""
    return WHOLE if row["is_whole"] else of_states.flag_kind(row["severity"], row["rule_id"])


def _flag_kinds(rules: list[FlagRuleRow]) -> list[dict[str, Any]]:
    """Return a line per kind of flag, as the data quality page counts them."""
    meanings = {**of_states.FLAG_KINDS, WHOLE: "no value is left out for it; see data quality"}
    return [
        {
            "words": name,
            "meaning": meaning,
            "in_month": sum(row["in_month"] for row in rules if _kind(row) == name),
            "in_all": sum(row["in_all"] for row in rules if _kind(row) == name),
        }
        for name, meaning in meanings.items()
    ]


def quality(data: ReviewData) -> Part:
    """Return the summary of data quality: rows, rejected rows, flags, checks not judged."""
    rules = rows_of(data.flag_rules, FlagRuleRow)
    return part(
        "pages/review/quality",
        loads=rows_of(data.loads, LoadRow),
        rejected=rows_of(data.rejected, RejectedRow),
        kinds=_flag_kinds(rules),
        rules=[{**row, "kind": _kind(row)} for row in rules],
        unjudged=rows_of(data.unjudged, UnjudgedRow),
        month=of_numbers.month_name(data.month),
    )


def show_measures(data: ReviewData) -> None:
    """Display every measure with newborns this month or before: finding, chart, definition."""
    by_measure = dict(list(data.series.groupby("measure_id")))
    for row in rows_of(data.measures, MeasureRow):
        series = by_measure[row["measure_id"]]
        show(panel_head(data, row), panel="open")
        chart = measure_chart(data, row, series)
        if chart is not None:
            show(chart)
        show(panel_foot(data, row, series), panel="close")


def measure_chart(data: ReviewData, row: MeasureRow, series: pd.DataFrame) -> alt.LayerChart | None:
    """Return the chart of one measure over its months, or over longer periods; None: nothing yet.

    ``series``: the months of that measure.
    """
    over = data.over_time[str(row["measure_id"])]
    if over.period_kind != "month" and len(over.points) > 1:
        return over_periods.over_periods(over, row)
    if series["rate"].isna().all():
        return None
    changes = data.changes[data.changes["measure_id"] == row["measure_id"]]
    changes = with_lines(data, row["measure_id"], changes)
    return over_months.over_months(series, row, changes, over)


def about(data: ReviewData) -> About:
    """Return what the foot says: cautions, words, build."""
    measures = rows_of(data.measures.sort_values("position"), MeasureRow)
    return About(caution.CAUTIONS, of_measures.GLOSSARY, data.build, data.loads, measures)


MEASURES: Final = Section("measures", "Measures", (leading_table, measure_table))
SIGNALS: Final = Section("signals", "Signals", (signals,))
OVER_TIME: Final = Section(
    "over-time",
    "Each measure over time",
    (other_groups.groups, panels(show_measures)),
    intro="Dots are months, open where fewer than 20 newborns count. The pale area is what "
    "chance allows about the thin middle line. A diamond lies outside it; a triangle is where a "
    "rule about several months first spoke. Short dashes are the target; an upright line is a "
    "recorded change, a date of policy, or what was said of a signal; limits begin anew only at a "
    "date of policy, or where a new level was accepted. A zigzag beneath the axis says that it "
    "does not begin at zero. The strip beneath is the share not documented: a better percent with "
    "more of it is not yet better care.",
    link="Over time",
    leaves_off="the charts of measures where nothing needs attention and nothing moved",
)
RECORDS: Final = Section(
    "records",
    "Records to look at",
    (record_list,),
    link=records_link,
    leaves_off="the list of single records",
)
RESTATED: Final = Section(
    "restated",
    "What changed since last time",
    (restated,),
    link="Changed numbers",
    folded="Numbers of earlier months that are not what was shown",
)
QUALITY: Final = Section(
    "quality", "Data quality", (quality,), folded="Rows, flags, and checks that could not be judged"
)
ABOUT: Final = about_section(about)

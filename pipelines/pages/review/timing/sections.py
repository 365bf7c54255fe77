"""The section 'How long it took' of the monthly review, and how its pictures are shown."""

from typing import Any, Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.pages.review.timing import charts as timing_charts
from pipelines.pages.review.timing import words as timing_words
from pipelines.pages.review.timing.frames import SpreadRow
from pipelines.pages.review.timing.read import Timed, TimingData, read_timing
from pipelines.pages.shell.markup import Part, panel_head, part
from pipelines.pages.shell.page import Section, panels
from pipelines.pages.shell.show import show
from pipelines.statistics import survival
from pipelines.words import of_numbers


def intro(data: TimingData) -> Part:
    """Return what the section shows and what the censoring time is."""
    words = timing_words.intro(data)
    censoring = timing_words.CENSORING if data.timed else ""
    return part("pages/review/timing/intro", words=words, censoring=censoring)


def _lines(one: Timed) -> list[dict[str, Any]]:
    """Return, for each curve and tick: how many wait, the share on record, its interval."""
    lines = []
    for group in one.groups:
        waiting = survival.at_risk(group.times, one.ticks)
        for at, number in zip(one.ticks, waiting, strict=True):
            found = survival.reached(group.curve, at)
            plain = survival.share_by(group.times, group.seen, at)
            lines.append(
                {
                    "group": timing_words.NAMES[group.name],
                    "minute": at,
                    "waiting": of_numbers.count(number),
                    "share": of_numbers.percent(found[0] if found else None),
                    "interval": of_numbers.interval(*found[1:]) if found else of_numbers.NONE,
                    "plain": f"{of_numbers.count(plain[0])} of {of_numbers.count(plain[1])}"
                    if plain
                    else of_numbers.NONE,
                }
            )
    return lines


def show_curves(data: TimingData) -> None:
    """Display each timed measure: its sentence, the curves, the doubts, the figures."""
    for one in data.timed:
        finding = timing_words.finding(one)
        title = f"{one.title}: minutes until it is on record"
        head = panel_head(title, finding, place=f"t-{one.measure_id}")
        show(head, panel="open")
        show(timing_charts.curves(one))
        doubts, lines = timing_words.doubts(one), _lines(one)
        show(
            part("pages/review/timing/foot", title=one.title, doubts=doubts, lines=lines),
            panel="close",
        )


def _period(row: SpreadRow) -> str:
    start = row["period_start"]
    end = start + pd.DateOffset(months=2)
    return f"{start:%b} to {end:%b %y}"


def show_spread(data: TimingData) -> None:
    """Display median and 90th centile of each measure of minutes: sentence, months, quarters."""
    for title, rows in data.spread.groupby("title", sort=False):
        months = rows[rows["period_kind"] == "month"].reset_index(drop=True)
        words = timing_words.spread_finding(months) if len(months) else ""
        head = panel_head(str(title), words, place=f"t-{rows['measure_id'].iloc[0]}")
        show(head, panel="open")
        if (months["measured"] > 0).any():
            show(timing_charts.over_months(str(title), months))
        quarters = rows[rows["period_kind"] == "quarter"].iloc[::-1]
        lines = [
            {
                "period": _period(row),
                "measured": of_numbers.count(row["measured"]),
                "not_measured": of_numbers.count(row["not_measured"]),
                "median": timing_words.minute(row["median_minutes"]),
                "p90": timing_words.minute(row["p90_minutes"]),
            }
            for row in rows_of(quarters, SpreadRow)
        ]
        facts = {name: rows[name].iloc[0] for name in ("question", "documentation_trap")}
        foot = part("pages/review/timing/spread_foot", title=title, lines=lines, **facts)
        show(foot, panel="close")


HOW_LONG: Final = Section(
    "how-long",
    "How long it took",
    (intro, panels(show_curves, show_spread)),
    read=read_timing,
    folded="Charts: minutes until it was done, by birth and by room",
)

"""The parts of the meeting sheet, made of the review's own sentences, tables and charts."""

from collections.abc import Sequence
from itertools import islice
from typing import Any

from pipelines.pages.meeting import room_on_paper as room
from pipelines.pages.meeting.key_charts import named
from pipelines.pages.meeting.mail import mail
from pipelines.pages.meeting.read import further, read_now, row_of, told_first
from pipelines.pages.review.head import head
from pipelines.pages.review.leading import leading, leading_table
from pipelines.pages.review.read import ReviewData
from pipelines.pages.review.record_list import born, find_chart, now_count
from pipelines.pages.review.sections import measure_chart
from pipelines.pages.shell.markup import PanelHead, Part, measure_head, part
from pipelines.pages.shell.page import Other
from pipelines.pages.shell.show import chart_markup
from pipelines.words import of_measures
from pipelines.words.caution import CLOSING


def charts(data: ReviewData) -> list[tuple[PanelHead, Part]]:
    """Return head and chart of the first key measures, as the review has them."""
    by_measure = dict(list(data.series.groupby("measure_id")))
    rows = [row_of(data, measure_id) for measure_id in named(data)]
    drawn = ((row, measure_chart(data, row, by_measure[row["measure_id"]])) for row in rows)
    found = ((row, chart) for row, chart in drawn if chart is not None)
    return [
        (measure_head(row, of_measures.finding(row, data.month)), chart_markup(chart))
        for row, chart in islice(found, room.MOST_CHARTS)
    ]


def _second(data: ReviewData) -> tuple[room.Second, dict[str, Any]]:
    now, drawn = read_now(data), charts(data)
    second = room.second_sheet(now, [(head.title, head.finding) for head, _ in drawn])
    return second, {
        "charts": [(head.html, chart.html) for head, chart in drawn[: second.charts]],
        "now": now[: second.records],
        "now_words": now_count(data, len(now)),
        "now_left": len(now) - second.records,
        "born": born(data),
        "find_chart": find_chart(data),
    }


def _points(data: ReviewData, first: float, second: float) -> dict[str, Any]:
    """Return the further points, on the sheet that has more room for them."""
    points = further(data)
    shown = room.points(points, max(first, second))
    return {
        "points": points[:shown],
        "points_left": len(points) - shown,
        "points_on": 1 if first >= second else 2,
    }


def sheet(data: ReviewData, others: Sequence[Other]) -> Part:
    """Return both sheets and, for the screen alone, the text for a mail."""
    told = head(data)
    questions = [one.question for one in told_first(data)]
    lines = list(zip(told.lines, [*questions, ""], strict=True))
    left = room.left_on_first(lines, told.since, leading(data))
    second, shown = _second(data)
    return part(
        "pages/meeting/sheet",
        title=told.title,
        when=told.when,
        remark=told.remark,
        lines=lines,
        since=told.since,
        leading=leading_table(data, links=False).html,
        is_tight=left < 0,
        others=others,
        mail=mail(data, [one.file for one in others[:1]]),
        closing=CLOSING,
        **shown,
        **_points(data, left, second.left_px),
    )

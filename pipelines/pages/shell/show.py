"""Showing the measures one by one, in a notebook and in the page made from it."""

import json
from typing import Any

import altair as alt
from altair.utils import schemapi
from IPython.display import display

from pipelines.base.frames import rows_of
from pipelines.drawing import over_months, over_periods, theme
from pipelines.pages.quality import charts as quality_charts
from pipelines.pages.quality import last_digits
from pipelines.pages.quality import words as quality_words
from pipelines.pages.quality.read import QualityData
from pipelines.pages.review import sections as tables
from pipelines.pages.review.read import ReviewData

NOTEBOOK_WIDTH_PX = 620
_NOTEBOOK_TYPE = "application/vnd.vegalite.v5+json"


def _for_notebook(spec: dict[str, Any], **_: Any) -> tuple[dict[str, Any], dict[str, Any]]:
    """Give JupyterLab the type its own renderer draws without a network (it ends at v5)."""
    # There a width that follows its container never comes to rest: it is fixed.
    plain = {
        **spec,
        "width": NOTEBOOK_WIDTH_PX,
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
    }
    options = {"embed_options": {"renderer": "svg", "actions": False}}
    return {_NOTEBOOK_TYPE: plain, "text/plain": spec.get("description", "chart")}, {
        _NOTEBOOK_TYPE: options
    }


def chart_markup(chart: alt.LayerChart) -> tables.Part:
    """Return a chart as its box in a page, for a page that no notebook makes."""
    with alt.theme.enable("lanugo"):
        return tables.Part(_for_page(chart.to_dict(validate=False))["text/html"])


def _for_page(spec: dict[str, Any], **_: Any) -> dict[str, str]:
    """Give the page a box with the specification as data; ``<`` can start no markup in it."""
    inert = {key: value for key, value in spec.items() if key != "$schema"}
    text = json.dumps(inert, separators=(",", ":"), allow_nan=False).replace("<", "\\u003c")
    return {
        "text/html": '<div class="chart"><div class="drawing"></div>'
        f'<script type="application/json">{text}</script></div>'
    }


alt.renderers.register("lanugo-notebook", _for_notebook)
alt.renderers.register("lanugo-page", _for_page)


def draw_in_notebook() -> None:
    """Draw charts where a notebook is read: theme, and the notebook's own renderer."""
    theme.use()
    alt.renderers.enable("lanugo-notebook")


def draw_in_page() -> None:
    """Draw charts in the page made from the notebook: theme, and the page's renderer.

    The library does not hold each part of a chart against its schema as it is made, which is a
    fifth of the time: ``tests/pages`` holds the charts of every kind of page against it.
    """
    theme.use()
    alt.renderers.enable("lanugo-page")
    schemapi.DEBUG_MODE = False


def show(shown: Any, **metadata: Any) -> None:
    """Display a part or chart; ``metadata`` tells the page where a panel opens and closes.

    A chart is not held against the library's schema here, which takes as long as making it:
    ``tests/pages`` does that for every kind of page.
    """
    render = alt.renderers.get()
    if render and isinstance(shown, alt.LayerChart):
        bundle = render(shown.to_dict(validate=False))
        data, told = bundle if isinstance(bundle, tuple) else (bundle, {})
        display(data, raw=True, metadata={**told, **metadata})  # type: ignore[no-untyped-call]
    else:
        display(shown, metadata=metadata)  # type: ignore[no-untyped-call]


def show_measures(data: ReviewData) -> None:
    """Display every measure with newborns this month or before: finding, chart, definition."""
    by_measure = dict(list(data.series.groupby("measure_id")))
    by_change = dict(list(data.changes.groupby("measure_id")))
    nothing = data.changes.head(0)
    for row in rows_of(data.measures):
        series = by_measure[row["measure_id"]]
        changes = by_change.get(row["measure_id"], nothing)
        show(tables.panel_head(data, row), panel="open")
        over = data.over_time[str(row["measure_id"])]
        if over.period_kind != "month" and len(over.points) > 1:
            show(over_periods.over_periods(over, row))
        elif series["rate"].notna().any():
            show(over_months.over_months(series, row, changes, over))
        show(tables.panel_foot(data, row, series), panel="close")


def show_digits(data: QualityData) -> None:
    """Display how the last digits of each kind of reading fall: finding, chart, figures."""
    found = last_digits.heaps(data)
    is_clock = data.time_form == "clock"
    intro = tables.part("pages/quality/digits_intro", number=len(found), is_clock=is_clock)
    show(intro, panel="before")
    for heap in found:
        head = tables.part(
            "pages/quality/digits_head", heap=heap, finding=quality_words.heap_finding(heap)
        )
        foot = tables.part("pages/quality/digits_foot", heap=heap, digits=rows_of(heap.digits))
        show(head, panel="open", look="digits")
        show(quality_charts.last_digits(heap))
        show(foot, panel="close")

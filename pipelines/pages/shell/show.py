"""Showing the measures one by one, in a notebook and in the page made from it."""

import json
from typing import Any

import altair as alt
from altair.utils import schemapi
from IPython.display import display

from pipelines.drawing import theme
from pipelines.pages.shell.markup import Part

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


def chart_markup(chart: alt.LayerChart) -> Part:
    """Return a chart as its box in a page, for a page that no notebook makes."""
    with alt.theme.enable("lanugo"):
        return Part(_for_page(chart.to_dict(validate=False))["text/html"])


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

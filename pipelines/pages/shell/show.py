"""Showing parts and charts, in a notebook and in the page made from it; charts are kept as well."""

import itertools
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any

import altair as alt
from altair.utils import schemapi
from IPython.display import display

from pipelines.drawing import theme
from pipelines.pages.shell.markup import PanelHead, Part

NOTEBOOK_WIDTH_PX = 620
_NOTEBOOK_TYPE = "application/vnd.vegalite.v5+json"


@dataclass(frozen=True)
class Drawn:
    """A chart that was shown: where, under which title and finding, and its specification.

    ``measure_id``: where it stands in the measure's own panel, else "".
    """

    section: str
    title: str
    finding: str
    spec: Mapping[str, Any]
    measure_id: str = ""


@dataclass
class _Place:
    """Where what is shown stands: the section, its position, and the panel that is open."""

    section: str
    position: int
    heading: str
    kept: list[Drawn]
    panel: PanelHead | None = None
    beside: int | None = None
    numbers: Iterator[int] = field(default_factory=lambda: itertools.count(1))

    def marks(self) -> dict[str, Any]:
        beside = {} if self.beside is None else {"beside": self.beside}
        return {"position": self.position, **beside}

    def keep(self, spec: Mapping[str, Any]) -> None:
        head = self.panel or PanelHead("")
        title = head.title or self.heading
        self.kept.append(Drawn(self.section, title, head.finding, spec, head.measure_id))


_PLACE: ContextVar[_Place | None] = ContextVar("place", default=None)


@contextmanager
def in_section(section: str, position: int, heading: str, kept: list[Drawn]) -> Iterator[None]:
    """Let what is shown stand in a section; its charts are added to ``kept``.

    ``position``: the section's in its page, which the written page puts in order by.
    """
    token = _PLACE.set(_Place(section, position, heading, kept))
    try:
        yield
    finally:
        _PLACE.reset(token)


@contextmanager
def side_by_side() -> Iterator[None]:
    """Let the panels shown in a section stand beside one another."""
    place = _PLACE.get()
    if place is None:
        yield
        return
    place.beside = next(place.numbers)
    try:
        yield
    finally:
        place.beside = None


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


@contextmanager
def settings_kept() -> Iterator[None]:
    """Put back, in the end, what drawing for a page or a notebook sets for the whole process."""
    kinds = (alt.theme, alt.data_transformers, alt.renderers)
    were, debug = [(one, one.active) for one in kinds], schemapi.DEBUG_MODE
    try:
        yield
    finally:
        for one, active in were:
            one.enable(active)
        schemapi.DEBUG_MODE = debug


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

    A chart is kept for its section, with the title and finding of its panel. It is not held
    against the library's schema here, which takes as long as making it: ``tests/pages`` does that
    for every kind of page.
    """
    place = _PLACE.get()
    told = {**place.marks(), **metadata} if place else metadata
    if place and isinstance(shown, PanelHead):
        place.panel = shown
    if isinstance(shown, alt.LayerChart):
        _show_chart(shown, place, told)
    else:
        display(shown, metadata=told)  # type: ignore[no-untyped-call]
    if place and metadata.get("panel") == "close":
        place.panel = None


def _show_chart(chart: alt.LayerChart, place: _Place | None, told: Mapping[str, Any]) -> None:
    render = alt.renderers.get()
    if not render:
        display(chart, metadata=told)  # type: ignore[no-untyped-call]
        return
    spec = chart.to_dict(validate=False)
    if place:
        place.keep({key: value for key, value in spec.items() if key != "$schema"})
    bundle = render(spec)
    data, more = bundle if isinstance(bundle, tuple) else (bundle, {})
    display(data, raw=True, metadata={**more, **told})  # type: ignore[no-untyped-call]

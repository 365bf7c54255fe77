"""A piece of a page as HTML: a template and its values in, escaped markup out.

The template library escapes every value, so that a text of an export can never become markup.
"""

from dataclasses import dataclass
from functools import cache
from typing import Any, NotRequired, TypedDict

from jinja2 import Environment, FunctionLoader, StrictUndefined

from pipelines.base.sql import ROOMS
from pipelines.drawing import theme
from pipelines.words import of_numbers


@dataclass(frozen=True)
class Part:
    """A finished piece of the page; a notebook shows its markup."""

    html: str

    def _repr_html_(self) -> str:
        return self.html


@dataclass(frozen=True)
class PanelHead(Part):
    """The head of a panel, and in plain words what it says, for whoever takes its chart elsewhere.

    ``title``: "" where the heading of the section is the chart's as well. ``measure_id``: of the
    measure that the panel is about, where it is the measure's own place in the page.
    """

    title: str = ""
    finding: str = ""
    measure_id: str = ""


def _markup(name: str) -> str | None:
    """Return a template by its room and its own name, as for fixed SQL; None where none is."""
    room, _, own = name.rpartition("/")
    path = ROOMS / room / "parts" / f"{own}.html.j2"
    return path.read_text(encoding="utf-8") if path.is_file() else None


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FunctionLoader(_markup),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["count"] = of_numbers.count
    environment.filters["column"] = of_numbers.column
    environment.filters["words"] = of_numbers.words
    return environment


def part(name: str, **values: Any) -> Part:
    """Render one part of the page; every value is escaped."""
    return Part(_environment().get_template(name).render(**values))


def measure_place(measure_id: object) -> str:
    """Return the place in a page where a measure is shown over time, as a link names it."""
    return f"m-{measure_id}"


def panel_head(
    title: str,
    finding: str,
    *,
    place: str = "",
    more: Part | None = None,
    at_rest: bool = False,
) -> PanelHead:
    """Return a panel's heading and its finding; ``place``: its id, ``more``: what stands below.

    ``at_rest``: paper leaves out its chart.
    """
    head = part(
        "pages/shell/panel_head", title=title, finding=finding, place=place, at_rest=at_rest
    )
    return PanelHead(head.html + (more.html if more else ""), title, finding)


class MeasureNamed(TypedDict):
    """What the head of a measure's panel asks of its row."""

    measure_id: str
    title: str
    group_name: str
    also_called: NotRequired[list[str] | None]


def measure_head(
    row: MeasureNamed, finding: str, *, at_rest: bool = False, waits: bool = False
) -> PanelHead:
    """Return the head of a measure's own panel; paper leaves out the chart of one at rest.

    ``waits``: on the screen it waits as well, until someone asks for it.
    """
    title, measure_id = row["title"], row["measure_id"]
    head = part(
        "pages/shell/panel_head",
        title=title,
        finding=finding,
        place=measure_place(measure_id),
        group=row["group_name"],
        at_rest=at_rest,
        waits=waits,
        also=row.get("also_called") or [],
    )
    return PanelHead(head.html, title, finding, measure_id)


def style() -> Part:
    """Return the stylesheet and the hatching, for a notebook that is read as a notebook."""
    return Part(f"<style>{theme.notebook_stylesheet()}</style>{hatching()}")


def hatching() -> str:
    """Return the SVG pattern that fills whatever is unknown."""
    return (theme.DRAWING / "hatch.svg").read_text(encoding="utf-8")

"""The look of every page and chart: palette, type scale, spacing, chart settings.

The palette is the project's own. One hue carries data. Attention and good differ in
lightness as well as in hue, so that they stay apart in grey print and for every kind of
colour vision; a shape and a word always say the same. ``tests/pages`` measures the contrast
(WCAG 2.2, criteria 1.4.3 and 1.4.11).
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import altair as alt
import numpy as np
import pandas as pd

from pipelines.base.frames import plain_rows

DRAWING: Final = Path(__file__).parent

# role -> colour. Text roles: ink, quiet, attention_text, good_text. Mark roles: data,
# attention, good, unknown (drawn hatched). Structure: line, tint.
LIGHT: Final[Mapping[str, str]] = {
    "paper": "#fbfaf6",
    "ink": "#22262b",
    "quiet": "#5d646c",
    "line": "#d9d6cd",
    "tint": "#e9eaf2",
    "data": "#5f70ab",
    "attention": "#470322",
    "good": "#17604e",
    "unknown": "#85817a",
}
DARK: Final[Mapping[str, str]] = {
    "paper": "#16181c",
    "ink": "#ebe8e1",
    "quiet": "#a9aeb4",
    "line": "#3a3e44",
    "tint": "#262b3d",
    "data": "#7a8bcc",
    "attention": "#ffe6ee",
    "good": "#52bca2",
    "unknown": "#8b887f",
}
# meaning -> shape, the same on every page: SVG paths are in a box from -1 to 1.
SHAPES: Final[Mapping[str, str]] = {
    "value": "circle",  # a month, a period, a group: open where few count
    "outside": "diamond",  # beyond what chance allows
    "rule up": "triangle-up",  # a rule about several periods first spoke
    "rule down": "triangle-down",
    "unknown": "square",  # hatched: the newborns for whom the group is not recorded
    "other": "cross",  # another group, curve or band beside the first
    "left out": "M-0.7,-0.7L0.7,0.7M0.7,-0.7L-0.7,0.7",  # of the comparison
    "break": "M0,-1L0.4,-0.5L-0.4,0L0.4,0.5L0,1",  # the axis does not begin at zero
}
# The sense of a signal -> role: each is darker than every line and dot, in every scheme.
SENSES: Final[Mapping[str, str]] = {"better": "good", "worse": "attention", "moved": "ink"}
SIGNAL_PX: Final = 110
# Paper behind letters that a line would run through: the same text, drawn first.
HALO: Final[Mapping[str, Any]] = {
    "color": LIGHT["paper"],
    "stroke": LIGHT["paper"],
    "strokeWidth": 5,
}
FONTS: Final = "system-ui, -apple-system, 'Segoe UI', 'Noto Sans', 'Liberation Sans', sans-serif"

# A scale of 1.25 from 16 px; charts use the two smallest steps.
BASE_PX: Final = 16
STEP: Final = 1.25
CHART_LABEL_PX: Final = 12
CHART_HEIGHT_PX: Final = 200
STRIP_HEIGHT_PX: Final = 36
STRIP_GAP_PX: Final = 34  # for the sign of a broken axis, and the strip's name


def type_scale() -> dict[str, str]:
    """Return step name -> size in rem: small, base, large, title."""
    return {
        "small": f"{1 / STEP:.3f}rem",
        "base": "1rem",
        "large": f"{STEP:.3f}rem",
        "title": f"{STEP**2:.3f}rem",
    }


def _chart_config() -> dict[str, Any]:
    """Return the Vega-Lite config that every chart shares."""
    axis = {
        "labelColor": LIGHT["quiet"],
        "labelFontSize": CHART_LABEL_PX,
        "domainColor": LIGHT["line"],
        "tickColor": LIGHT["line"],
        "gridColor": LIGHT["line"],
        "gridWidth": 0.6,
        "titleColor": LIGHT["quiet"],
        "titleFontSize": CHART_LABEL_PX,
        "titleFontWeight": "normal",
    }
    return {
        "font": FONTS,
        "background": None,
        "view": {"stroke": None},
        "axis": axis,
        "axisX": {"grid": False, "labelPadding": 6},
        "text": {"color": LIGHT["ink"], "fontSize": CHART_LABEL_PX},
        "legend": {"disable": True},
    }


@alt.theme.register("lanugo", enable=False)
def _lanugo_theme() -> alt.theme.ThemeConfig:
    return alt.theme.ThemeConfig({"config": _chart_config()})  # type: ignore[typeddict-item]


def chart_rows(data: Any = None) -> Any:
    """Return the rows of a frame as a chart holds them; what is missing becomes null.

    Frames of finite numbers, truths and texts go as they are. Any other data is left to the
    library, which looks at every column's type first; that takes most of the time a chart takes.
    """
    if data is None:
        return chart_rows
    if not isinstance(data, pd.DataFrame) or any(kind.kind in "mM" for kind in data.dtypes):
        return alt.default_data_transformer(data)
    if np.isinf(data.select_dtypes("float").to_numpy(float)).any():
        return alt.default_data_transformer(data)
    return {"values": plain_rows(data)}


alt.data_transformers.register("lanugo", chart_rows)


def use() -> None:
    """Make every chart of this process use the project's settings."""
    alt.theme.enable("lanugo")
    alt.data_transformers.enable("lanugo")


def _variables(palette: Mapping[str, str]) -> str:
    return "".join(f"--{role}:{colour};" for role, colour in palette.items())


def _chart_rules() -> str:
    """Map the colours Vega writes into its SVG to the page's variables.

    A chart is drawn once in the light palette; these rules let it follow the dark mode and
    the hatching for what is unknown without being drawn again.
    """
    rules = []
    for role, colour in LIGHT.items():
        fill = "url(#hatch)" if role == "unknown" else f"var(--{role})"
        rules.append(f'svg.marks [fill="{colour}"]{{fill:{fill}}}')
        rules.append(f'svg.marks [stroke="{colour}"]{{stroke:var(--{role})}}')
    return "\n".join(rules)


def _roots() -> str:
    sizes = "".join(f"--{name}:{size};" for name, size in type_scale().items())
    light = f":root{{{_variables(LIGHT)}{sizes}--fonts:{FONTS};}}"
    dark = f"@media screen and (prefers-color-scheme:dark){{:root{{{_variables(DARK)}}}}}"
    return f"{light}\n{dark}"


def stylesheet() -> str:
    """Return the CSS of a page: variables, chart rules, then the rules of page/page.css."""
    rules = (DRAWING / "page.css").read_text(encoding="utf-8")
    return "\n".join((":root{color-scheme:light dark}", _roots(), _chart_rules(), rules))


def notebook_stylesheet() -> str:
    """Return the page's rules for the outputs of a notebook alone.

    Nested, so that the notebook program's own parts stay as they are; light only, because
    the program and not the system sets its paper.
    """
    rules = (DRAWING / "page.css").read_text(encoding="utf-8").split("@page", 1)[0]
    light = _roots().split("\n", 1)[0]
    # Named twice, so that these rules outrank the program's own for tables.
    outputs = ".jp-RenderedHTMLCommon" * 2
    tables = "table{table-layout:auto}tbody tr:nth-child(n){background:none}"
    return f"{light}\n{outputs}{{{tables}\n{rules}}}"

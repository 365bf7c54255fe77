"""The charts of a page as files of their own: SVG and PNG, drawn without a browser.

The sections of the page are the one home of what is drawn: whatever a section shows becomes a
file here.
"""

import struct
import textwrap
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape

from pipelines.drawing.theme import CHART_LABEL_PX, LIGHT
from pipelines.files.about import INTERNAL, About, file_name, visible
from pipelines.pages.shell.show import Drawn

WIDTH_PX: Final = 620
SCALE: Final = 2  # pixels of the PNG for one of the SVG
LINE_LETTERS: Final = 100  # of the sentences above a chart
_PATTERN: Final = (
    '<defs><pattern id="hatch" width="4" height="4" patternUnits="userSpaceOnUse" '
    f'patternTransform="rotate(45)"><rect width="4" height="4" fill="{LIGHT["paper"]}"/>'
    f'<rect width="2" height="4" fill="{LIGHT["unknown"]}"/></pattern></defs>'
)


@dataclass(frozen=True)
class Chart:
    """One chart of a page. ``name``: the measure's id, else its title, for a file."""

    name: str
    title: str
    finding: str
    spec: Mapping[str, Any]


def charts_of(drawn: Iterable[Drawn]) -> list[Chart]:
    """Return the charts that a page showed in their order, each with a name of its own."""
    names: dict[str, int] = {}
    charts = []
    for one in drawn:
        name = file_name(one.measure_id or one.title) or "chart"
        names[name] = names.get(name, 0) + 1
        name = name if names[name] == 1 else f"{name}_{names[name]}"
        charts.append(Chart(name, one.title.strip(), one.finding.strip(), one.spec))
    return charts


def _clean(value: Any) -> Any:
    """Return a specification whose texts every file format can hold."""
    if isinstance(value, str):
        return visible(value)
    if isinstance(value, dict):
        return {visible(key): _clean(one) for key, one in value.items()}
    return [_clean(one) for one in value] if isinstance(value, list | tuple) else value


def _lines(text: str) -> list[str]:
    return textwrap.wrap(visible(text), LINE_LETTERS) or [""]


def standing_alone(chart: Chart, about: About) -> dict[str, Any]:
    """Return the specification with what its page said around it: heading, finding, unit, month."""
    told = [*_lines(chart.finding), *_lines(f"{about.line} {INTERNAL}")]
    title = {
        "text": _lines(chart.title),
        "subtitle": told,
        "anchor": "start",
        "frame": "bounds",
        "offset": 12,
        "color": LIGHT["ink"],
        "fontSize": CHART_LABEL_PX + 2,
        "subtitleColor": LIGHT["quiet"],
        "subtitleFontSize": CHART_LABEL_PX,
        "subtitlePadding": 5,
    }
    words = {"title": title, "width": WIDTH_PX, "background": LIGHT["paper"], "padding": 14}
    return {**chart.spec, **words}


def hatched(spec: Mapping[str, Any]) -> tuple[str, str]:
    """Return a specification as SVG in which what is unknown is hatched: its tag, and the rest."""
    import vl_convert

    # An empty list: the drawing may ask no address for data.
    drawn = vl_convert.vegalite_to_svg(_clean(spec), allowed_base_urls=[])
    drawn = str(drawn).replace(f'fill="{LIGHT["unknown"]}"', 'fill="url(#hatch)"')
    head, body = drawn.split(">", 1)
    return f"{head}>", f"{_PATTERN}{body}"


def words_inside(chart: Chart, about: About) -> str:
    """Return a picture's title and alternative text, for whoever does not see it."""
    told = f"{chart.spec.get('description', '')} {chart.finding} {INTERNAL}"
    title = f"{in_xml(chart.title)}. {in_xml(about.line)}"
    return f"<title>{title}</title><desc>{in_xml(told)}</desc>"


def svg_of(chart: Chart, about: About) -> str:
    """Return one chart as SVG: what is unknown hatched, with its title and alternative text."""
    head, body = hatched(standing_alone(chart, about))
    return f"{head}{words_inside(chart, about)}{body}"


def in_xml(text: str) -> str:
    """Return a text as it stands in XML."""
    return escape(visible(text))


def write_both(svg: str, chart: Chart, folder: Path, about: About, scale: float) -> Iterator[Path]:
    """Write a picture as SVG, and as PNG with what it shows inside; give the paths."""
    import vl_convert

    path = folder / f"{chart.name}.svg"
    path.write_text(svg, encoding="utf-8")
    yield path
    words = {
        "Title": visible(chart.title),
        "Description": visible(f"{about.line} {INTERNAL} {chart.finding}"),
        "Software": about.software,
    }
    path = path.with_suffix(".png")
    path.write_bytes(with_words(bytes(vl_convert.svg_to_png(svg, scale=scale)), words))
    yield path


def with_words(png: bytes, words: Mapping[str, str]) -> bytes:
    """Return a PNG with texts inside (iTXt chunks; PNG third edition, 11.3.3.4), after its head."""
    head = 8 + 25  # the signature, and the first chunk (IHDR), whose length is fixed
    chunks = b""
    for key, text in words.items():
        body = key.encode("latin-1") + b"\0\0\0\0\0" + text.encode("utf-8")
        chunk = b"iTXt" + body
        chunks += struct.pack(">I", len(body)) + chunk + struct.pack(">I", zlib.crc32(chunk))
    return png[:head] + chunks + png[head:]


def write_charts(
    drawn: Iterable[Drawn],
    folder: Path,
    about: About,
    say: Callable[[str], None] = lambda _: None,
) -> Iterator[Path]:
    """Write every chart of a page as SVG and PNG into ``folder``; give the paths."""
    folder.mkdir()
    charts = charts_of(drawn)
    for number, chart in enumerate(charts, start=1):
        yield from write_both(svg_of(chart, about), chart, folder, about, SCALE)
        if number % 10 == 0 or number == len(charts):
            say(f"drew {number} of {len(charts)} charts")

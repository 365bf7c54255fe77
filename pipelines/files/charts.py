"""The charts of a written page as files of their own: SVG and PNG, drawn without a browser.

The page is the one home of what is drawn: each chart stands in it as a specification, and
whatever a section of the page draws becomes a file here.
"""

import json
import struct
import textwrap
import zlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape

from pipelines.drawing.theme import CHART_LABEL_PX, LIGHT
from pipelines.files.about import INTERNAL, About, file_name, visible

WIDTH_PX: Final = 620
SCALE: Final = 2  # pixels of the PNG for one of the SVG
LINE_LETTERS: Final = 100  # of the sentences above a chart
_MEASURE_PREFIX: Final = "m-"  # of the id of a measure's heading in the page
_PATTERN: Final = (
    '<defs><pattern id="hatch" width="4" height="4" patternUnits="userSpaceOnUse" '
    f'patternTransform="rotate(45)"><rect width="4" height="4" fill="{LIGHT["paper"]}"/>'
    f'<rect width="2" height="4" fill="{LIGHT["unknown"]}"/></pattern></defs>'
)


@dataclass(frozen=True)
class Chart:
    """One chart of a page. ``name``: the measure's id, else its heading, for a file."""

    name: str
    title: str
    finding: str
    spec: Mapping[str, Any]


class _Page(HTMLParser):
    """Collects specifications with the heading and the finding that stand before each."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, str, str, str]] = []  # id, heading, finding, specification
        self.texts = {"id": "", "heading": "", "finding": "", "spec": ""}
        self.into: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag in {"h2", "h3"}:
            self.texts = {"id": given.get("id", ""), "heading": "", "finding": "", "spec": ""}
            self.into = "heading"
        elif tag == "p" and given.get("class") == "finding":
            self.texts["finding"] = ""
            self.into = "finding"
        elif tag == "script" and given.get("type") == "application/json" and "id" not in given:
            self.texts["spec"] = ""
            self.into = "spec"

    def handle_data(self, data: str) -> None:
        if self.into is not None:
            self.texts[self.into] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "script" and self.into == "spec":
            words = (self.texts[name] for name in ("id", "heading", "finding", "spec"))
            self.found.append(tuple(words))  # type: ignore[arg-type]
        if tag in {"h2", "h3", "p", "script"}:
            self.into = None


def charts_of(page: str) -> list[Chart]:
    """Return every chart of a page (HTML text) in its order, each with a name of its own."""
    reader = _Page()
    reader.feed(page)
    reader.close()
    names: dict[str, int] = {}
    charts = []
    for anchor, heading, finding, text in reader.found:
        is_measure = anchor.startswith(_MEASURE_PREFIX)
        name = file_name(anchor.removeprefix(_MEASURE_PREFIX) if is_measure else heading) or "chart"
        names[name] = names.get(name, 0) + 1
        name = name if names[name] == 1 else f"{name}_{names[name]}"
        charts.append(Chart(name, heading.strip(), finding.strip(), json.loads(text)))
    return charts


def _clean(value: Any) -> Any:
    """Return a specification whose texts every file format can hold."""
    if isinstance(value, str):
        return visible(value)
    if isinstance(value, dict):
        return {visible(key): _clean(one) for key, one in value.items()}
    return [_clean(one) for one in value] if isinstance(value, list) else value


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
    whole = _clean({**chart.spec, **words})
    assert isinstance(whole, dict)
    return whole


def svg_of(chart: Chart, about: About) -> str:
    """Return one chart as SVG: what is unknown hatched, with its title and alternative text."""
    import vl_convert

    # An empty list: the drawing may ask no address for data.
    drawn = vl_convert.vegalite_to_svg(standing_alone(chart, about), allowed_base_urls=[])
    drawn = str(drawn).replace(f'fill="{LIGHT["unknown"]}"', 'fill="url(#hatch)"')
    head, body = drawn.split(">", 1)
    words = f"<title>{_xml(chart.title)}. {_xml(about.line)}</title>"
    told = f"{chart.spec.get('description', '')} {chart.finding} {INTERNAL}"
    return f"{head}>{words}<desc>{_xml(told)}</desc>{_PATTERN}{body}"


def _xml(text: str) -> str:
    return escape(visible(text))


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
    page: str, folder: Path, about: About, say: Callable[[str], None] = lambda _: None
) -> Iterator[Path]:
    """Write every chart of ``page`` (HTML text) as SVG and PNG into ``folder``; give the paths."""
    import vl_convert

    folder.mkdir()
    charts = charts_of(page)
    for number, chart in enumerate(charts, start=1):
        svg = svg_of(chart, about)
        path = folder / f"{chart.name}.svg"
        path.write_text(svg, encoding="utf-8")
        yield path
        words = {
            "Title": visible(chart.title),
            "Description": visible(f"{about.line} {INTERNAL} {chart.finding}"),
            "Software": about.software,
        }
        path = path.with_suffix(".png")
        path.write_bytes(with_words(bytes(vl_convert.svg_to_png(svg, scale=SCALE)), words))
        yield path
        if number % 10 == 0 or number == len(charts):
            say(f"drew {number} of {len(charts)} charts")

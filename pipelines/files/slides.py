"""The key charts as slides: 16:9, with title and verdict in the picture, drawn without a browser.

The charts are those of the page; which of them matter is said where the meeting sheet says it.
"""

import re
import textwrap
from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path
from typing import Final

from pipelines.drawing.theme import FONTS, LIGHT
from pipelines.files.about import About, visible
from pipelines.files.charts import Chart, charts_of, hatched, in_xml, words_inside, write_both
from pipelines.pages.meeting.key_charts import named
from pipelines.pages.meeting.room_on_paper import MOST_CHARTS
from pipelines.pages.review.read import ReviewData
from pipelines.pages.shell.show import Drawn
from pipelines.words.caution import UNMASKED

WIDE_PX, HIGH_PX = 960, 540  # 16:9
SCALE: Final = 2  # 1920 by 1080 as PNG
_EDGE_PX: Final = 30
_CHART_PX: Final = 620  # the width in which a chart is first drawn, to see how high it is
_TITLE: Final = (26, 32, 58)  # letters high, px from line to line, letters in a line
_VERDICT: Final = (17, 23, 100)
_FOOT_PX: Final = 12


def key_charts(drawn: Iterable[Drawn], data: ReviewData) -> list[Chart]:
    """Return the charts of the measures that the first lines name, as the page drew them."""
    of_measures = [one for one in drawn if one.measure_id]
    charts = charts_of(of_measures)
    by_measure = {one.measure_id: at for one, at in zip(of_measures, charts, strict=True)}
    found = (by_measure[name] for name in named(data) if name in by_measure)
    return list(islice(found, MOST_CHARTS))


def _lines(text: str, letters: int) -> list[str]:
    return textwrap.wrap(visible(text), letters)


def _text(y: float, words: str, size: int, look: str) -> str:
    return f'<text x="{_EDGE_PX}" y="{y:g}" font-size="{size}" {look}>{in_xml(words)}</text>'


def _told(chart: Chart) -> tuple[list[str], float]:
    """Return title and verdict as texts of an SVG, and how far down they reach."""
    texts, y = list[str](), float(_EDGE_PX)
    blocks = ((chart.title, _TITLE, 600), (chart.finding, _VERDICT, 400))
    for words, (size, step, letters), weight in blocks:
        look = f'font-weight="{weight}" fill="{LIGHT["ink"]}"'
        for line in _lines(words, letters):
            texts.append(_text(y + size, line, size, look))
            y += step
        y += 6
    return texts, y


def slide_of(chart: Chart, about: About) -> str:
    """Return one chart as a slide: an SVG of 16:9 in light colours."""
    texts, top = _told(chart)
    inner = _filling(chart, top, HIGH_PX - _EDGE_PX - _FOOT_PX)
    said = f"{about.line} {UNMASKED}"
    foot = _text(HIGH_PX - 18, said, _FOOT_PX, f'fill="{LIGHT["quiet"]}"')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDE_PX}" height="{HIGH_PX}" '
        f'viewBox="0 0 {WIDE_PX} {HIGH_PX}" font-family="{in_xml(FONTS)}">'
        f"{words_inside(chart, about)}"
        f'<rect width="{WIDE_PX}" height="{HIGH_PX}" fill="{LIGHT["paper"]}"/>'
        f"{''.join(texts)}{inner}{foot}</svg>"
    )


def _filling(chart: Chart, top: float, bottom: float) -> str:
    """Return the chart as an SVG within the slide: as wide as it, from ``top`` to ``bottom``.

    A chart is as high as its marks need. So it is drawn twice: once to see how high, then as wide
    as fills the slide once it has grown to that height.
    """
    room = WIDE_PX - 2 * _EDGE_PX
    wide, high = _size(_drawn(chart, _CHART_PX)[0])
    grown = (bottom - top) / high
    head, body = _drawn(chart, round(_CHART_PX + room / grown - wide))
    wide, high = _size(head)
    grown = min(room / wide, (bottom - top) / high)
    place = f'x="{_EDGE_PX}" y="{top:g}" width="{wide * grown:g}" height="{high * grown:g}"'
    bare = re.sub(r' (?:width|height)="[^"]*"', "", head)
    return bare.replace("<svg ", f"<svg {place} ", 1) + body


def _drawn(chart: Chart, wide: int) -> tuple[str, str]:
    look = {"width": wide, "background": LIGHT["paper"], "padding": 4}
    return hatched({**chart.spec, **look})


def _size(head: str) -> tuple[float, float]:
    """Return width and height of an SVG from its tag."""
    found = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', head)
    assert found  # the drawing library always says it
    return float(found[1]), float(found[2])


def write_slides(
    drawn: Iterable[Drawn], data: ReviewData, folder: Path, about: About
) -> Iterator[Path]:
    """Write each key chart as SVG and PNG into ``folder``; give the paths."""
    folder.mkdir()
    for chart in key_charts(drawn, data):
        yield from write_both(slide_of(chart, about), chart, folder, about, SCALE)

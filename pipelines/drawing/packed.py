"""What a page needs to draw its charts: the library and the drawing code, both inside the file."""

import functools
import json
import re
from typing import Final

from pipelines.drawing.theme import DRAWING, FONTS, LIGHT

# In the order in which they begin: what the last one does needs the others.
SCRIPTS: Final = ("values.js", "take.js", "periods.js", "axes.js", "draw.js")

# What a browser may do for a page (Content Security Policy): nothing is fetched, nothing sent.
POLICY: Final = (
    "default-src 'none'; script-src 'unsafe-inline' 'unsafe-eval'; style-src 'unsafe-inline'; "
    "img-src data:; base-uri 'none'; form-action 'none'"
)


@functools.cache
def script() -> str:
    """Return the chart library and the drawing code, safe inside a script element.

    Packing takes seconds and gives the same each time: it is done once.
    """
    import vl_convert

    library = vl_convert.javascript_bundle("window.vegaEmbed=vegaEmbed;")
    look = f"const LIGHT={json.dumps(dict(LIGHT))},FONTS={json.dumps(FONTS)};"
    drawing = "\n".join((DRAWING / name).read_text(encoding="utf-8") for name in SCRIPTS)
    whole = f"{library}\n{look}\n{drawing}"
    return re.sub(r"</(script)", r"<\\/\1", whole, flags=re.IGNORECASE)

"""Imported by the process that workers are copied from: what every page needs is there once.

Packing the drawing code is done here too: a copy has the text, and has no need of the library
that packs, whose threads a copy would not have.
"""

import nbformat  # noqa: F401  (imported where it is used, and here beforehand)

from pipelines.drawing.packed import script

script()

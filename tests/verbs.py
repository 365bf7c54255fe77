"""The verbs of the command line, as its own help lists them."""

import contextlib
import io
import re

from pipelines.cli import main


def verbs() -> set[str]:
    """Return what may stand after ``lanugo``: the names that its help has in a column."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.suppress(SystemExit):
        main(["--help"])
    return set(re.findall(r"^ {4}([a-z][a-z-]+)(?:\s{2,}|$)", said.getvalue(), re.MULTILINE))

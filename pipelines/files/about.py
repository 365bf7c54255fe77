"""What every file of ``lanugo files`` says of itself: unit, month, version, and where it may go."""

import datetime as dt
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from typing import Any, Final

import pandas as pd

from pipelines.words.caution import CAUTIONS, CLOSING, UNMASKED
from pipelines.words.of_numbers import month_name

INTERNAL: Final = f"{UNMASKED} Masked figures for others come from 'lanugo release'."
PAGE_LISTS: Final = "The page, on screen and on paper, lists single records."
WITH_RECORDS: Final = (
    "Warning: these files hold one row for every newborn, with study keys. Keep them where the "
    "unit's records are kept, and delete them when they have served."
)
# Characters that XML 1.0 and workbooks cannot hold; a text of a unit's file may have them.
_UNPRINTABLE: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")


def visible(text: object) -> str:
    """Return a text with every character that no file format can hold as a replacement mark.

    >>> visible("a" + chr(7) + "b") == "a" + chr(0xFFFD) + "b"
    True
    """
    return _UNPRINTABLE.sub("\N{REPLACEMENT CHARACTER}", str(text))


@dataclass(frozen=True)
class About:
    """Unit, month, and who wrote what when. ``build``: the facts of the store's build."""

    unit: str
    title: str
    month: pd.Timestamp
    build: Mapping[str, str]
    made_at: dt.datetime
    with_records: bool = False

    @property
    def software(self) -> str:
        return f"lanugo {version('lanugo')}"

    @property
    def when(self) -> str:
        return f"{self.month:%Y-%m}"

    @property
    def stem(self) -> str:
        """The part of a file's name that says unit and month, safe on every file system."""
        return f"{file_name(self.unit)}_{self.when}"

    @property
    def line(self) -> str:
        """One line: unit, month, version."""
        return f"{visible(self.title)}, {month_name(self.month)}. {self.software}."

    def facts(self) -> list[tuple[str, str]]:
        """Return (name, words) of everything a reader should know of the files."""
        made = f"{self.made_at:%Y-%m-%d %H:%M} UTC"
        said = [
            ("unit", self.unit),
            ("name of the unit", visible(self.title)),
            ("month of the review", self.when),
            ("written by", self.software),
            ("written at", made),
            ("where it may go", INTERNAL),
        ]
        if self.with_records:
            said.append(("records", WITH_RECORDS))
        said += [("caution", words) for words in (*CAUTIONS, CLOSING)]
        said += [(f"store: {key.replace('_', ' ')}", value) for key, value in self.build.items()]
        return said


def file_name(text: str) -> str:
    """Return lower-case letters, digits and underscores only, for the name of a file.

    >>> file_name("../Cold at arrival: why?")
    'cold_at_arrival_why'
    """
    return re.sub(r"[^a-z0-9_]+", "_", text.casefold()).strip("_")[:80].strip("_")


def read_me(about: About, words: Sequence[str]) -> str:
    """Return the plain text that stands beside the files."""
    said = [
        about.line,
        INTERNAL,
        *([WITH_RECORDS] if about.with_records else []),
        *words,
        "manifest.json has the SHA-256 of every file, so that a change can be noticed.",
        *CAUTIONS,
        CLOSING,
    ]
    return "\n\n".join(said) + "\n"


def manifest(about: About, files: Sequence[Mapping[str, Any]]) -> str:
    """Return the list of files as JSON: path, bytes, sha256, names_records."""
    told = {
        "unit": about.unit,
        "unit_title": visible(about.title),
        "month": about.when,
        "software": about.software,
        "made_at": f"{about.made_at:%Y-%m-%dT%H:%M:%SZ}",
        "internal": INTERNAL,
        "caution": CLOSING,
        "build": dict(about.build),
        "files": list(files),
    }
    return json.dumps(told, indent=2, ensure_ascii=False) + "\n"

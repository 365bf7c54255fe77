"""The files of a release beside its CSV tables, one row each: writing and read-me follow from it.

All are made of the masked rows alone. What makes a file is imported where it is written: drawing
takes a second, and a dry run needs none of it.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pipelines.release.made import Release

Line = Mapping[str, Any]


@dataclass(frozen=True)
class Format:
    """One file. ``words``: its line of README.txt; ``text``: its content.

    ``text`` gets the release, its line in the ledger, and the folder, where the tables stand.
    """

    file: str
    words: str
    text: Callable[[Release, Line, Path], str]


def _page(release: Release, line: Line, _: Path) -> str:
    from pipelines.release.page import release_page

    return release_page(release, str(line["released_at"]))


def _reports(release: Release, line: Line, _: Path) -> str:
    from pipelines.release.fhir import measure_reports

    return json.dumps(measure_reports(release, str(line["released_at"])), indent=1) + "\n"


def _measures(release: Release, line: Line, _: Path) -> str:
    from pipelines.release.fhir import measures

    return json.dumps(measures(release, str(line["released_at"])), indent=1) + "\n"


def _package(release: Release, line: Line, folder: Path) -> str:
    from pipelines.release.package import descriptor

    told = descriptor(release, str(line["released_at"]), folder)
    return json.dumps(told, indent=1, ensure_ascii=False) + "\n"


FORMATS: Final[list[Format]] = [
    Format("page.html", "shows the figures of all newborns", _page),
    Format(
        "measure_reports.json",
        "holds the same as HL7 FHIR R4 MeasureReport resources, whose denominator is what the rate "
        "is made of, after exclusions and exceptions",
        _reports,
    ),
    Format("measures.json", "says what they count, as HL7 FHIR R4 Measure resources", _measures),
    Format(
        "datapackage.json",
        "describes the tables to other programs (Data Package 2.0): columns, types, meanings",
        _package,
    ),
]

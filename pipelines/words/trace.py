"""Where a page's numbers come from: versions, rule set, export files with hash, build."""

from collections.abc import Iterable, Mapping
from typing import TypedDict

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.reading.frames import LoadRow


class VersionRow(TypedDict):
    """What ``trace`` asks of a measure."""

    title: str
    version: str


def trace(
    build: Mapping[str, str], loads: pd.DataFrame, measures: Iterable[VersionRow]
) -> list[tuple[str, str]]:
    """Return (name, words) for the foot of a page.

    ``build``: facts of the build, with the hash of the unit's file. ``loads``: source_file,
    content_hash, loaded_at. ``measures``: title and version of each measure the page reads.
    """
    facts = [(key.replace("_", " ").capitalize(), str(value)) for key, value in build.items()]
    facts += [
        (
            load["source_file"],
            f"SHA-256 begins {str(load['content_hash'])[:12]}, loaded "
            f"{load['loaded_at']:%Y-%m-%d %H:%M} UTC",
        )
        for load in rows_of(loads, LoadRow)
    ]
    versions = "; ".join(f"{one['title']} {one['version']}" for one in measures)
    return [*facts, ("Measures", versions)] if versions else facts

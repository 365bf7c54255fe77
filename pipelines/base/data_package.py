"""What every Data Package says alike (Data Package 2.0, datapackage.org, an open standard)."""

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from pipelines.base.hashes import file_hash

_PROFILE: Final = "https://datapackage.org/profiles/2.0/datapackage.json"


def package(name: str, title: str, description: str, made_at: dt.datetime) -> dict[str, Any]:
    """Return the head of ``datapackage.json``; its resources are the caller's. ``made_at``: UTC."""
    return {
        "$schema": _PROFILE,
        "name": f"lanugo_{name}",
        "title": title,
        "description": description,
        "created": f"{made_at:%Y-%m-%dT%H:%M:%SZ}",
    }


def resource(
    name: str, path: Path, mediatype: str, grain: str, schema: Mapping[str, Any], **more: Any
) -> dict[str, Any]:
    """Return one table of a package, as its file lies there now. ``more``: what else is said."""
    return {
        "name": name,
        "path": path.name,
        "format": path.suffix[1:],
        "mediatype": mediatype,
        "bytes": path.stat().st_size,
        "hash": f"sha256:{file_hash(path)}",
        "description": f"Grain: {grain}.",
        **more,
        "schema": schema,
    }

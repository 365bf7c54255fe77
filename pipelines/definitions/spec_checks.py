"""What every reader of a unit's file asks of a key: known, there, a date."""

import datetime as dt
from collections.abc import Collection, Mapping
from typing import Any

from pipelines.base.errors import DeclarationError, nearest


def refuse_unknown(where: str, given: Mapping[str, Any], known: Collection[str]) -> None:
    """Raise DeclarationError for a key that nobody reads, with the nearest that is known."""
    for key in given:
        if key not in known:
            raise DeclarationError(f"{where}: key '{key}' is not known.{nearest(key, known)}")


def need(where: str, given: Mapping[str, Any], *keys: str) -> None:
    """Raise DeclarationError for the first of ``keys`` that is not there."""
    for key in keys:
        if key not in given:
            raise DeclarationError(f"{where}: key '{key}' is missing; add it.")


def as_date(where: str, value: Any) -> dt.date:
    """Return a date of TOML. Raises DeclarationError for words, and for a date with a time."""
    if not isinstance(value, dt.date) or isinstance(value, dt.datetime):
        raise DeclarationError(f"{where}: write the date as 2026-03-01, without quotes.")
    return value

"""What every reader of a unit's file asks: is it TOML; of a key: known, there, a date."""

import datetime as dt
import tomllib
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any, Final

from pipelines.base.errors import DeclarationError, nearest

DATE_HOW: Final = "write the date as 2026-03-01, without quotes"
MOST_BYTES: Final = 5_000_000  # a unit's file of a hundred exports has a hundredth of it


def read_toml(where: str, path: Path) -> dict[str, Any]:
    """Read a file that a unit wrote in TOML. ``where``: how messages name it.

    Raises DeclarationError where it is too long, no text of UTF-8, no TOML, or nested too deeply.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise DeclarationError(
                f"{where}: longer than {MOST_BYTES:,} bytes; is it an export instead?"
            )
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except UnicodeDecodeError:
        raise DeclarationError(f"{where}: not text in UTF-8; save it as UTF-8.") from None
    except tomllib.TOMLDecodeError as error:
        raise DeclarationError(f"{where}: not valid TOML: {error}.") from None
    except RecursionError:
        raise DeclarationError(f"{where}: nested too deeply; no key needs that.") from None
    except ValueError:
        raise DeclarationError(f"{where}: a number is too long to be one; shorten it.") from None
    except OSError as error:
        raise DeclarationError(f"{where}: cannot be read: {error.strerror}.") from None


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


def is_date(value: object) -> bool:
    """Return whether a value of TOML is a date, and not one with a time."""
    return isinstance(value, dt.date) and not isinstance(value, dt.datetime)


def as_date(where: str, value: Any) -> dt.date:
    """Return a date of TOML. Raises DeclarationError for words, and for a date with a time."""
    if not is_date(value):
        raise DeclarationError(f"{where}: {DATE_HOW}.")
    found: dt.date = value
    return found

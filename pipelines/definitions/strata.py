"""By what every result is also split: ``strata.toml``, read once."""

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

ALL_NEWBORNS: Final = "all newborns"
NOT_RECORDED: Final = "not recorded"  # the stratum of a blank; it stands last

_DECLARED: Final[Mapping[str, Mapping[str, Any]]] = tomllib.loads(
    Path(__file__).with_name("strata.toml").read_text(encoding="utf-8")
)


def _about(what: str) -> dict[str, str]:
    """Return column -> title of the columns about ``family`` or ``birth``, in reading order."""
    return {
        name: str(spec["title"]) for name, spec in _DECLARED.items() if spec.get("about") == what
    }


# Columns of mart.newborn by which every result is also split.
STRATIFIERS: Final = tuple(_DECLARED)
FAMILY: Final[Mapping[str, str]] = _about("family")
BIRTH: Final[Mapping[str, str]] = _about("birth")
LEVEL_WORDS: Final[Mapping[str, str]] = {
    level: words for spec in _DECLARED.values() for level, words in spec.get("levels", {}).items()
}
# The order of strata that have one; others stand by name.
STRATUM_ORDER: Final = tuple(LEVEL_WORDS)

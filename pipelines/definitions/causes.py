"""The causes that a review may assign to a cold arrival: ``causes.toml``."""

import tomllib
from functools import cache

from pipelines.base.sql import ROOMS


@cache
def causes() -> dict[str, str]:
    """Return every cause that may be assigned, with its words; what stands last comes last."""
    text = (ROOMS / "definitions" / "causes.toml").read_text(encoding="utf-8")
    spec = tomllib.loads(text)
    return {**spec["causes"], **spec["last"]}

"""The sentence that every page and the command line end with."""

from typing import Final

CLOSING: Final = (
    "These figures screen records of care; they do not guide the care of one newborn; "
    "local policy, law and licensed practice decide."
)

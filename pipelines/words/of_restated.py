"""Why a number of an earlier month is no longer what was shown, in words."""

from collections.abc import Mapping
from typing import Final

# In the order in which they are told.
CAUSES: Final[Mapping[str, str]] = {
    "newborns_added": "late entries: newborns added",
    "events_added": "late entries: events added",
    "corrected": "corrected values",
    "events_gone": "entries no longer in the export",
    "newborns_gone": "newborns no longer in the export",
    "new_rule": "new rule",
    "answered": "flags answered",
    "new_version": "new measure version",
    "new_policy": "policy change",
    "new_unit_file": "unit file changed",
    "same_version": "measure file changed without a new version",
    "not_told": "cannot be told apart",
}

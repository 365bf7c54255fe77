"""What a unit's file says of exports that change their form: ``[shape]``, to stop or to go on.

[shape]
missing_column = "go_on"    # a column that the last delivery had and this one has not, or empty
new_column = "stop"         # a column that nobody maps
new_code = "stop"           # a word on no recode list
changed_unit = "stop"       # numbers that look like another unit of measurement
"""

from collections.abc import Mapping
from typing import Any, Final

from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.spec_checks import refuse_unknown

STOP: Final = "stop"
GO_ON: Final = "go_on"
# What would be lost or misread stops; what is only new is said, and flagged where it is used.
DEFAULTS: Final[Mapping[str, str]] = {
    "missing_column": STOP,
    "new_column": GO_ON,
    "new_code": GO_ON,
    "changed_unit": STOP,
}


def read_shape_lines(where: str, spec: Mapping[str, Any]) -> Mapping[str, str]:
    """Return of each kind of change ``stop`` or ``go_on``.

    Raises DeclarationError for a kind or a word that is not known.
    """
    refuse_unknown(f"{where} [shape]", spec, DEFAULTS)
    for kind, word in spec.items():
        if word not in {STOP, GO_ON}:
            raise DeclarationError(
                f"{where} [shape] {kind}: '{word}' is not known.{nearest(str(word), [STOP, GO_ON])}"
            )
    return {**DEFAULTS, **spec}

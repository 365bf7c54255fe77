"""What a unit's file says of identifiers: ``[identifiers]``, which columns may be kept and why.

[identifiers]
key_file = "../keys/my_unit.key"     # record keys are replaced by a keyed hash at load
[[identifiers.allow]]
column = "Detail"
rule = "free_text"
reason = "A list of codes, looked through by the data protection office."
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.identifiers import RULES
from pipelines.definitions.spec_checks import need, refuse_unknown

LEAST_KEY: Final = 16  # bytes; RFC 2104 asks for no less than half of what the hash gives out
_LEAST_REASON: Final = 10  # letters: "ok" is no reason


@dataclass(frozen=True)
class Identifiers:
    """Columns that may be kept, (column, rule) -> reason; where the key of record keys lies."""

    allowed: Mapping[tuple[str, str], str]
    key_file: Path | None = None


NOTHING: Final = Identifiers({})


def read_identifiers(unit_file: Path, spec: Mapping[str, Any]) -> Identifiers:
    """Read ``[identifiers]``. Raises DeclarationError for a key or rule that is not known."""
    where = f"{unit_file.name} [identifiers]"
    refuse_unknown(where, spec, {"allow", "key_file"})
    allowed = dict(
        _allowed(f"{unit_file.name} identifiers.allow[{place}]", one)
        for place, one in enumerate(spec.get("allow", ()), start=1)
    )
    key_file = spec.get("key_file")
    return Identifiers(allowed, unit_file.parent / key_file if key_file else None)


def _allowed(where: str, spec: Mapping[str, Any]) -> tuple[tuple[str, str], str]:
    refuse_unknown(where, spec, {"column", "rule", "reason"})
    need(where, spec, "column", "rule", "reason")
    if spec["rule"] not in RULES:
        raise DeclarationError(
            f"{where}: rule '{spec['rule']}' is not known.{nearest(spec['rule'], RULES)}"
        )
    if len(str(spec["reason"]).strip()) < _LEAST_REASON:
        raise DeclarationError(f"{where}: give the reason why the column may be kept, in words.")
    return (str(spec["column"]), str(spec["rule"])), str(spec["reason"])


def read_key(key_file: Path, exports: Path) -> bytes:
    """Return the key of record keys.

    Raises DeclarationError where the file is missing, short, or lies among the exports.
    """
    if not key_file.is_file():
        raise DeclarationError(
            f"[identifiers] key_file: there is no file {key_file.name} where it is looked for, "
            "beside the unit file unless the path says otherwise."
        )
    if key_file.resolve().parent == exports.resolve():
        raise DeclarationError(
            "[identifiers] key_file: the key lies among the exports; who has both can undo the "
            "hash. Keep it in another folder."
        )
    key = key_file.read_bytes().strip()
    if len(key) < LEAST_KEY:
        raise DeclarationError(
            f"[identifiers] key_file: {len(key)} bytes are too short for a key; write at least "
            f"{LEAST_KEY}, such as 64 random hexadecimal digits."
        )
    return key

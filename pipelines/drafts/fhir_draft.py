"""A draft of a unit's file for HL7 FHIR bulk NDJSON: what is there, and what a person has to say.

No column is mapped, for FHIR names none. Counted are types, stays within another stay, and units
of gestation; nothing of a single newborn is looked at.
"""

import datetime as dt
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Final

from pipelines.definitions.fhir_lines import TABLES
from pipelines.drafts.other_formats import is_export
from pipelines.stages.raw.export_files import files_of
from pipelines.stages.raw.json_lines import json_objects
from pipelines.stages.raw.opened import inner_name

_ENDINGS: Final = (".ndjson", ".jsonl", ".json")
_SAMPLE: Final = 5_000  # lines of a file
_GESTATION: Final = {"76516-4", "18185-9", "11884-4"}  # LOINC, as in fhir_codes.toml


@dataclass
class FhirFound:
    """Types and how many files each has; files of FHIR that are not named as a type is."""

    kinds: dict[str, list[str]] = field(default_factory=dict)
    others: int = 0
    lines: Counter[str] = field(default_factory=Counter)


def fhir_files_in(folder: Path) -> FhirFound | None:
    """Return what a folder holds of FHIR, None where it holds none."""
    found = FhirFound()
    for path in files_of(folder):
        if not inner_name_ends(path):
            found.others += is_export(path)
            continue
        kind = _read(path, found)
        if kind is None:
            found.others += 1
        else:
            found.kinds.setdefault(kind, []).append(path.name)
    return found if found.kinds else None


def inner_name_ends(path: Path) -> bool:
    """Whether a file may hold JSON lines; a zip is read by the build alone."""
    return path.suffix.lower() != ".zip" and inner_name(path).lower().endswith(_ENDINGS)


def _read(path: Path, found: FhirFound) -> str | None:
    """Count what decides a setting in the first lines; return the type of the file."""
    kinds: Counter[str] = Counter()
    for _, one in islice(json_objects(path), _SAMPLE):
        if not isinstance(one, dict) or one.get("resourceType") not in TABLES:
            continue
        kinds[str(one["resourceType"])] += 1
        found.lines["stays"] += one["resourceType"] == "Encounter"
        found.lines["within"] += "partOf" in one
        found.lines["weeks"] += _is_in_weeks(one)
    return kinds.most_common(1)[0][0] if kinds else None


def _is_in_weeks(one: Mapping[str, object]) -> bool:
    code, value = one.get("code"), one.get("valueQuantity")
    if not isinstance(code, dict) or not isinstance(value, dict):
        return False
    codes = {each.get("code") for each in code.get("coding", ()) if isinstance(each, dict)}
    return bool(codes & _GESTATION) and "wk" in {value.get("code"), value.get("unit")}


def fhir_text(unit_id: str, found: FhirFound) -> tuple[str, Mapping[str, int]]:
    """Return the text of a draft, and how many settings are sure, to check and to ask."""
    counts = Counter(sure=len(found.kinds), ask=1)
    lines = [
        f"# A draft, written on {dt.date.today()} from an export of HL7 FHIR R4 (bulk NDJSON).",
        "# No column is mapped: what codes say stands in pipelines/definitions/fhir_codes.toml;",
        "# codes of your own go into a file of the same form beside this one. Complete it, then:",
        "# lanugo build --unit THIS_FILE --exports FOLDER --dry-run",
        "# It says which codes were on no value set, by system and how often.",
        f'id = "{unit_id}"',
        f'title = "{unit_id.replace("_", " ").title()}"',
        "",
        "[time]",
        'form = "clock"',
        'zone = ""  # ask: where the clocks hang, as Area/City',
        "",
        "[fhir]",
        f"resources = [{', '.join(_quoted(found.kinds))}]  # sure: found in the folder",
        *_mother(found, counts),
        *_weeks(found, counts),
        '# codes = "codes.toml"  # what codes of your own mean',
        '# record_id = "http://..."  # the system of the identifier that is the study key; without',
        "# it the id of Patient is the key",
    ]
    if found.others:
        lines.append(f"# {found.others} more files are no FHIR: name them under [[files]].")
    if "Patient" not in found.kinds:
        lines.append("# No file of Patient was found: births stand there, and it is needed.")
    patterns = _patterns(found)
    return "\n".join([*lines, *patterns]) + "\n", counts


def _quoted(kinds: Mapping[str, list[str]]) -> list[str]:
    return [f'"{kind}"' for kind in TABLES if kind in kinds]


def _mother(found: FhirFound, counts: Counter[str]) -> list[str]:
    stays, within = found.lines["stays"], found.lines["within"]
    if within:
        counts["check"] += 1
        why = f"check: {within:,} of {stays:,} stays are part of another, as a newborn's of its"
        return [f'mother = "encounter"  # {why} mother\'s']
    return ['# mother = "encounter"  # ask: or the address of an extension of Patient']


def _weeks(found: FhirFound, counts: Counter[str]) -> list[str]:
    if not found.lines["weeks"]:
        return []
    counts["ask"] += 1
    return [
        '# weeks = "exact"  # ask: gestation is in weeks; is 39 just 39+0 ("exact"), or some day '
        'of week 39 ("completed")?'
    ]


def _patterns(found: FhirFound) -> list[str]:
    """Name the files of types that are not called by their type."""
    own = {
        kind: names
        for kind, names in found.kinds.items()
        if not all(name.startswith((f"{kind}.", f"{kind}-", f"{kind}_")) for name in names)
        or not all("ndjson" in name for name in names)
    }
    if not own:
        return []
    lines = ["[fhir.patterns]"]
    for kind in own:
        lines.append(f'{kind} = "*{kind}*"  # check: the files of this type')
    return lines

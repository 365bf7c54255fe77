"""A draft of a unit's file from its exports: someone who knows them completes it.

It proposes from names in several languages and from content, says how sure each proposal is and
why, and asks what it cannot tell (``proposals.py``). No newborn's value is copied: of words only
known ones that stand on enough newborns, of all else counts and ranges. Run again over a file that
is there, it adds what is new and changes nothing of it (``half_finished.py``).
"""

from collections import Counter
from collections.abc import Mapping
from pathlib import Path

from pipelines.base.errors import DeclarationError
from pipelines.base.whole_files import write_whole
from pipelines.definitions.read_units import UNIT_ID
from pipelines.drafts.fhir_draft import fhir_files_in, fhir_text
from pipelines.drafts.half_finished import completed
from pipelines.drafts.unit_draft import read_draft
from pipelines.drafts.unit_text import draft_text


def draft(unit_id: str, folder: Path) -> tuple[str, Mapping[str, int]]:
    """Return the text of a unit file, and how many sources are sure, to check and to ask.

    Raises ExportError where the folder holds no export that can be read.
    """
    found = fhir_files_in(folder)
    if found:
        return fhir_text(unit_id, found)
    made = read_draft(folder)
    return draft_text(unit_id, made), Counter(one.level for _, _, one in made.proposals)


def write_draft(unit_id: str, folder: Path, out: Path) -> tuple[Mapping[str, int], bool]:
    """Write a draft, or add to one that is there. Return counts by level, and whether it was.

    Raises DeclarationError where the id is not fit for a unit, or the file that is there cannot
    be read or is another unit's.
    """
    if not UNIT_ID.fullmatch(unit_id):
        raise DeclarationError(
            f"'{unit_id}' cannot name a unit: use lower-case letters, digits and underscores."
        )
    was_there = out.exists()
    if not was_there and fhir_files_in(folder):
        written, counts = draft(unit_id, folder)
        write_whole(out, written)
        return counts, was_there
    made = read_draft(folder)
    written = completed(unit_id, out, made) if was_there else draft_text(unit_id, made)
    write_whole(out, written)
    return Counter(one.level for _, _, one in made.proposals), was_there

"""The measures that a unit leads with: the first table of its review, at most twelve.

``leading = ["first_temperature", ...]`` in the unit's file; without it a page takes those with a
target, then the gravest.
"""

from collections.abc import Mapping
from typing import Final

from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.read_measures import Measure
from pipelines.definitions.read_units import Unit

MOST: Final = 12


def leading_ids(unit: Unit, measures: Mapping[str, Measure]) -> list[str] | None:
    """Return the measures and bands that the unit leads with, in its order; None: it does not say.

    Raises DeclarationError naming the unit's file and what is wrong with the list.
    """
    given = unit.leading
    if given is None:
        return None
    where = f"{unit.file_name} leading"
    if not isinstance(given, list) or not given or not all(isinstance(one, str) for one in given):
        raise DeclarationError(f'{where}: write a list of measures, such as ["first_temperature"].')
    known = {name for one in measures.values() if one.is_for(unit.id) for name in one.result_ids}
    for name in given:
        if name not in known:
            raise DeclarationError(f"{where}: measure '{name}' is not known.{nearest(name, known)}")
    if len(set(given)) < len(given) or len(given) > MOST:
        raise DeclarationError(f"{where}: name at most {MOST} measures, each once.")
    return list(given)

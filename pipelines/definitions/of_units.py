"""What holds in one build: what is shipped, with the units' own columns, measures and rules.

Made once from the units and passed down; without a unit that brings its own it is what ships.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipelines.definitions.own_contract import all_together
from pipelines.definitions.own_files import OwnFile, together
from pipelines.definitions.read_contract import Contract
from pipelines.definitions.read_measures import Measure, read_measures
from pipelines.definitions.read_units import Unit


@dataclass(frozen=True)
class Definitions:
    """The contract and the measures; of the rules, the files that units bring."""

    contract: Contract
    measures: Mapping[str, Measure]
    own: Mapping[str, Sequence[OwnFile]]  # by kind: see ``own_files.KINDS``

    def off_for(self, unit: str) -> list[str]:
        """Return the rules that are other units' own, by which this unit is not judged."""
        return [
            file.id
            for kind in ("rules", "column_rules")
            for file in self.own[kind]
            if unit not in file.units
        ]


def definitions_of(units: Sequence[Unit] = ()) -> Definitions:
    """Return what holds for these units together.

    Raises DeclarationError where a unit redefines what is shipped, or two units mean different
    things by one name.
    """
    files = [(unit.id, unit.path) for unit in units]
    own = {kind: together(kind, files) for kind in ("measures", "rules", "column_rules")}
    contract = all_together((unit.id, unit.contract) for unit in units)
    return Definitions(contract, read_measures(own=own["measures"]), own)

"""The rows that stand, read again from the deliveries that a store keeps."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

import duckdb

from pipelines.base.errors import DeclarationError
from pipelines.build.every_stage import Progress, load_files
from pipelines.definitions.of_units import Definitions
from pipelines.definitions.read_units import Unit
from pipelines.memory.kept import KeptFile, Place, fill_from_kept, kept_files, place_of, spec_of
from pipelines.memory.standing import newborns_won
from pipelines.memory.steps import Step, live
from pipelines.memory.unit_copies import read_copy
from pipelines.stages.raw.raw_file import Part, RawFile


def in_force_copies(steps: Sequence[Step]) -> dict[str, str]:
    """Return of every unit the copy of its file that holds: that of its newest step."""
    return {step.unit: step.unit_copy for step in live(steps) if step.unit_copy}


class Reading:
    """What stands after ``steps``, and by which unit's file each delivery is read.

    A delivery is read as its own unit's file says, or as that of a later step that built again.
    What is judged, and by which numbers, is for the newest file alone. The table ``standing``
    must be filled.
    """

    def __init__(
        self,
        connection: duckdb.DuckDBPyConnection,
        steps: Sequence[Step],
        folder_of: Callable[[Step], Path],
        copy_of: Callable[[str], Path],
    ) -> None:
        self.connection, self.folder_of = connection, folder_of
        self.won = newborns_won(connection)
        self.live = live(steps)
        self.unit_of = cache(lambda copy: read_copy(copy_of(copy)))
        self.in_force = in_force_copies(steps)
        self.readers: dict[str, Unit] = {}
        self.places: dict[int, list[Place]] = {}  # by index of a raw file

    def units(self) -> list[Unit]:
        """Return the units of which a newborn stands, as their newest file says, by id."""
        standing = {step.unit for step in self.live if self.won.get(step.number, (0, 0))[0]}
        return [self.unit_of(self.in_force[unit]) for unit in sorted(standing)]

    def load(
        self, definitions: Definitions, new: Step, progress: Progress = lambda _: None
    ) -> list[RawFile]:
        """Fill the stages raw and typed; return the files that ``new`` brought or read anew.

        Raises LanugoError in words where what is kept cannot be read as a unit's file says.
        """
        opened: list[tuple[Unit, list[RawFile]]] = []
        for unit in self.units():
            opened.append((unit, self._files(unit, sum(len(raws) for _, raws in opened))))

        def is_read_anew(raw: RawFile) -> bool:
            return new.verb == "build" and new.folder is None and new.unit == raw.unit.id

        every = load_files(
            self.connection, opened, definitions, self._fill, progress, is_checked=is_read_anew
        )
        return [
            raw
            for raw in every
            if is_read_anew(raw) or any(one.step == new.number for one in self.places[raw.index])
        ]

    def _fill(self, connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
        fill_from_kept(connection, raw, self.places[raw.index])

    def _files(self, unit: Unit, first: int) -> list[RawFile]:
        """Return the files of a unit of which rows stand, in the order of one folder of exports.

        Files alike that follow one another are read as one: a statement for each of some hundred
        small files would take most of a build.
        """
        found = self._in_order(unit)
        names = [kept.name for _, _, kept in found]
        raws: list[RawFile] = []
        alike: object = None
        for step, at, kept in found:
            reader = self._reader(unit, step)
            spec = spec_of(kept, reader, str(step.delivery))
            read = (kept.own_forms, kept.has_ids, kept.has_own_names)
            key = (id(reader), id(spec), kept.header, read)
            if key != alike:
                raw = RawFile(reader, spec, Path(kept.pattern), first + len(raws), kept.header)
                raw.own_forms, alike = tuple(kept.own_forms), key
                raw.has_ids, raw.has_own_names = kept.has_ids, kept.has_own_names
                raws.append(raw)
            is_told_apart = names.count(kept.name) == 1
            name = kept.name if is_told_apart else f"{kept.name} ({step.delivery})"
            part = Part(name, kept.content_hash, notes=list(kept.notes))
            lost = [one for one in spec.local_columns if one not in kept.header]
            if lost and self._copy(step) != step.unit_copy:
                part.notes.append(f"not kept when it was delivered: {', '.join(lost)}")
            raws[-1].parts.append(part)
            # Rows of nobody stand as long as anything else of their delivery does.
            is_loose = any(self.won[step.number])
            place = place_of(self.folder_of(step), at, kept, step.number, is_loose)
            self.places.setdefault(raws[-1].index, []).append(place)
        return raws

    def _in_order(self, unit: Unit) -> list[tuple[Step, int, KeptFile]]:
        found: list[tuple[Step, int, KeptFile]] = []
        for step in self.live:
            if step.unit == unit.id and step.number in self.won:
                files = kept_files(self.folder_of(step))
                found += [(step, at, kept) for at, kept in enumerate(files)]
        order = {spec.pattern: place for place, spec in reversed(list(enumerate(unit.files)))}
        found.sort(
            key=lambda one: (order.get(one[2].pattern, len(order)), one[2].name, one[0].number)
        )
        return found

    def _copy(self, step: Step) -> str:
        """Return by which copy of its unit's file a delivery is read."""
        again = [
            one.unit_copy
            for one in self.live
            if one.verb == "build" and one.folder is None and one.unit == step.unit
            if one.number > step.number and one.unit_copy
        ]
        return again[-1] if again else str(step.unit_copy)

    def _reader(self, unit: Unit, step: Step) -> Unit:
        """Return the unit as a delivery was read; what all deliveries share is the newest's."""
        copy = self._copy(step)
        if copy == self.in_force[unit.id]:
            return unit
        if copy not in self.readers:
            self.readers[copy] = self._grafted(unit, step, self.unit_of(copy))
        return self.readers[copy]

    def _grafted(self, unit: Unit, step: Step, found: Unit) -> Unit:
        for take in (take for file in found.files for take in file.takes):
            lost = set(take.sources) - set(unit.contract[take.table].columns)
            if lost:
                raise DeclarationError(
                    f"{unit.file_name}: delivery {step.delivery} was read with the unit's own "
                    f"column {take.table}.{min(lost)}, which {unit.id}/contract no longer has; "
                    "put it back, or withdraw the delivery."
                )
        return replace(found, contract=unit.contract, keep_birth_date=unit.keep_birth_date)

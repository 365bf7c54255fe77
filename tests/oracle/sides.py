"""One unit's exports as the oracle sees them, and the store to hold it against."""

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from .compare import (
    differences,
    error_flags,
    rejected_lines,
    result_differences,
    stored_members,
    stored_results,
    stored_spread,
)
from .engine import Member, read_header
from .measures import MEASURES, membership
from .reader import UnitExport, mask_flagged, read_export
from .results import own_results, own_spread

RESULT_IDS = [name for measure_id in MEASURES for name in read_header(measure_id).result_ids]
MINUTES_IDS = [name for name in MEASURES if read_header(name).kind == "minutes"]


@dataclass(frozen=True)
class Sides:
    """One unit as the oracle sees it, and the store."""

    store: Path
    export: UnitExport
    own: Sequence[Member]

    @property
    def unit(self) -> str:
        return self.export.unit

    def aside_differences(self) -> list[str]:
        """Return the lines that only one side set aside, in words."""
        own = {(row.source_file, row.source_line) for row in self.export.rejected}
        return [str(line) for line in sorted(own ^ rejected_lines(self.store, self.unit))]

    def member_differences(self) -> list[str]:
        """Return the first rows of membership that differ, in words."""
        return differences(self.own, stored_members(self.store, self.unit))

    def result_differences(self) -> list[str]:
        """Return the results that differ: months, quarters, in all, and every stratum."""
        own = own_results(self.export, self.own, RESULT_IDS)
        return result_differences(own, stored_results(self.store, self.unit))

    def spread_differences(self) -> list[str]:
        """Return the medians and centiles that differ."""
        own = own_spread(self.export, self.own, MINUTES_IDS)
        return result_differences(own, stored_spread(self.store, self.unit))


@contextmanager
def _no_collector() -> Iterator[None]:
    """Millions of small rows that all stay would be gone through again and again for nothing."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def read_sides(store: Path, unit_file: Path, folder: Path) -> Sides:
    """Read a folder of exports with the oracle, mask what the store judged unusable, measure."""
    with _no_collector():
        export = read_export(unit_file, folder)
        mask_flagged(export, error_flags(store, export))
        return Sides(store, export, membership(export))

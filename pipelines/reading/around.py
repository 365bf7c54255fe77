"""Studies of any measure around one change: the same dates, priors and values for each."""

from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from pipelines.reading import before_after
from pipelines.reading.before_after import AS_MEASURED, Study, counts, place
from pipelines.reading.frames import InfoRow
from pipelines.statistics.interrupted import Priors, Series
from pipelines.statistics.learned import learned


@dataclass(frozen=True)
class Around:
    """What studies of one change read. ``series``: SeriesRow of every measure of the unit."""

    start_on: pd.Timestamp
    series: pd.DataFrame
    info: pd.DataFrame  # InfoRow
    breaks: pd.DataFrame  # measure_id, start_on: dates of policy
    values: pd.DataFrame  # ValueRow

    def study(self, row: InfoRow, how: str = AS_MEASURED) -> Study:
        """Return the study of a measure; asked twice, the same one."""
        asked = (str(row["measure_id"]), how)
        if asked not in self._known:
            self._known[asked] = self._study(row, how)
        return self._known[asked]

    @cached_property
    def _known(self) -> dict[tuple[str, str], Study]:
        return {}

    def _study(self, row: InfoRow, how: str) -> Study:
        measure_id = str(row["measure_id"])
        own = self._months[measure_id]
        dates = self.breaks.loc[self.breaks["measure_id"] == measure_id, "start_on"]
        values = self.values[self.values["measure_id"] == measure_id]
        return before_after.study(
            row, own, self.start_on, dates, how, priors=self.priors[0], values=values
        )

    @cached_property
    def _months(self) -> dict[str, pd.DataFrame]:
        return {str(name): rows for name, rows in self.series.groupby("measure_id")}

    @cached_property
    def priors(self) -> tuple[Priors, int]:
        """The priors, and from how many measures of the unit they were learned."""
        missing = dict(zip(self.info["measure_id"], self.info["missing"], strict=True))
        told = self.series[~self.series["is_silent"].astype(bool)]
        earlier = told[told["month"] < self.start_on.to_period("M").to_timestamp()]
        return learned(
            _series(rows, str(missing[name]))
            for name, rows in earlier.groupby("measure_id")
            if name in missing
        )


def _series(rows: pd.DataFrame, missing: str) -> Series:
    return counts(rows.assign(place=place(rows["month"])), missing)

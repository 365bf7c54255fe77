"""Data quality of one unit: the frames its page is made of, over the whole store.

Reads a built store read-only; each query is one file of ``sql`` here or, where other
pages say the same, of ``reading/sql``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import duckdb
import pandas as pd

from pipelines.base.errors import StoreError
from pipelines.base.frames import checked, rows_of
from pipelines.base.store_file import open_store
from pipelines.pages.quality.frames import (
    AnswerRow,
    CompletenessRow,
    FlagRow,
    MaskedRow,
    MinuteRow,
    MovedRateRow,
    RateRow,
    ReadingRow,
    SettingsRow,
    UnmappedRow,
    VerdictRow,
)
from pipelines.reading.frames import BuildRow, LoadRow, MonthRow, RejectedRow, UnitRow
from pipelines.reading.months import last_full_month
from pipelines.reading.needed import needed_values
from pipelines.reading.queries import query, unit_title

SPAN_MONTHS: Final = 12
TREND_MONTHS: Final = 24
LAST_MONTHS: Final = "last 12 months"
ALL_MONTHS: Final = "all months"
MOVED_BY: Final = 0.01  # a rate that flags move by more than a point is shown

# Query -> its declaration.
_FRAMES: Final[Mapping[str, type[Mapping[str, object]]]] = {
    "flags": FlagRow,
    "rates": RateRow,
    "masked": MaskedRow,
    "completeness": CompletenessRow,
    "values": ReadingRow,
    "answers": AnswerRow,
    "verdict": VerdictRow,
}


@dataclass(frozen=True)
class QualityData:
    """Everything one page says, as frames; ``frames.py`` declares the columns of each."""

    unit: str
    title: str
    time_form: str
    month: pd.Timestamp  # the last full month
    months: pd.DataFrame  # one row per month of birth: month, births, newborns
    flags: pd.DataFrame  # one row per flag
    rates: pd.DataFrame  # one row per measure and span
    masked: pd.DataFrame  # one row per measure and rule that masks a value of it
    completeness: pd.DataFrame  # one row per column, kind or column of a kind and month
    values: pd.DataFrame  # one row per kind of reading and value
    minutes: pd.DataFrame  # one row per minute after birth; empty for a unit with clock times
    answers: pd.DataFrame  # one row per answer
    verdict: pd.DataFrame  # one row per check
    rejected: pd.DataFrame  # one row per export file and reason
    loads: pd.DataFrame  # one row per export file
    checks_off: list[str]
    checks_set: list[str]
    build: Mapping[str, str]

    @property
    def span(self) -> pd.DatetimeIndex:
        """The last twelve full months, or as many as there are."""
        return self._until(SPAN_MONTHS, self.month)

    @property
    def trend(self) -> pd.DatetimeIndex:
        """The last 24 months of the store, a part of a month at its end included."""
        return self._until(TREND_MONTHS, pd.Timestamp(self.months["month"].max()))

    def _until(self, months: int, last: pd.Timestamp) -> pd.DatetimeIndex:
        first = max(last - pd.DateOffset(months=months - 1), self.months["month"].min())
        return pd.date_range(first, last, freq="MS")


def _months(store: duckdb.DuckDBPyConnection, unit: str) -> pd.DataFrame:
    months = query(store, "reading/months", MonthRow, unit=unit).dropna(subset="month")
    if months.empty:
        raise StoreError("the store holds no newborn of this unit with a month of birth.")
    return months


def read_quality(store_path: Path, unit: str) -> QualityData:
    """Read the data quality of one unit.

    Raises StoreError naming a unit that is not there, or what the store lacks.
    """
    with open_store(Path(store_path)) as store:
        title = unit_title(store, unit)
        months = _months(store, unit)
        loads = query(store, "reading/loads", LoadRow, unit=unit)
        month = last_full_month(months, loads["loaded_at"].max() if len(loads) else None)
        since = month - pd.DateOffset(months=SPAN_MONTHS - 1)
        values = {"unit": unit, "month": month.date(), "since": since.date()}
        frames = {
            name: query(store, f"pages/quality/{name}", row, **values)
            for name, row in _FRAMES.items()
        }
        (info,) = rows_of(query(store, "reading/unit", UnitRow, unit=unit), UnitRow)
        minutes = query(store, "pages/quality/minutes", MinuteRow, unit=unit)
        settings = query(store, "pages/quality/settings", SettingsRow, unit=unit)
        (checks,) = rows_of(settings, SettingsRow)
        build = query(store, "reading/build", BuildRow, unit=unit)
        rejected = query(store, "reading/rejected", RejectedRow, unit=unit)
    is_clock = info["time_form"] == "clock"
    return QualityData(
        unit=unit,
        title=title,
        time_form=str(info["time_form"]),
        month=month,
        months=months,
        # After a clock birth the minutes carry no trace of a rounded clock time.
        minutes=minutes.head(0) if is_clock else minutes,
        rejected=rejected,
        loads=loads,
        checks_off=checks["checks_off"] or [],
        checks_set=checks["checks_set"] or [],
        build=dict(zip(build["key"], build["value"], strict=True)),
        **frames,
    )


def of_values(data: QualityData) -> pd.DataFrame:
    """Return the flags on values of a record."""
    return data.flags[data.flags["record_id"].notna()]


def of_columns(data: QualityData) -> pd.DataFrame:
    """Return the flags on a whole file, column, shift or month."""
    return data.flags[data.flags["record_id"].isna()]


def needed(data: QualityData, span: str = LAST_MONTHS) -> tuple[int, int]:
    """Return how many needed values are documented and usable, and how many are needed."""
    return needed_values(data.rates[data.rates["span"] == span])


def moved(data: QualityData) -> pd.DataFrame:
    """Return the measures whose rate flags move by more than a point, by span.

    Columns: those of ``rates`` and ``points`` (percentage points that masking takes off or adds).
    """
    rates = data.rates.assign(points=100 * (data.rates["rate"] - data.rates["recorded_rate"]))
    return checked(rates[rates["points"].abs() > 100 * MOVED_BY], MovedRateRow)


def not_judged(data: QualityData) -> pd.DataFrame:
    return data.verdict[data.verdict["why"].notna()]


def unmapped(data: QualityData) -> pd.DataFrame:
    """Return the words on no recode list: table_name, column_name, word, entries, from, to."""
    flags = of_values(data)
    words = flags[flags["rule_id"] == "not_on_list"]
    found = words.groupby(["table_name", "column_name", "recorded_value"], dropna=False).agg(
        entries=("record_id", "size"), first_month=("month", "min"), last_month=("month", "max")
    )
    found = found.reset_index().rename(columns={"recorded_value": "word"})
    found = found.sort_values(["entries", "word"], ascending=[False, True], ignore_index=True)
    return checked(found, UnmappedRow)

"""A unit's file read backwards: from canonical values to the words and numbers of its exports.

No local name stands here; all of them come from the unit's file.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from pipelines.base.measuring_units import CONVERSIONS, Conversion, conversion
from pipelines.definitions.read_contract import Column, Table, read_contract
from pipelines.definitions.read_units import Unit
from pipelines.definitions.unit_takes import ExportFile, Source, Take
from synthetic_data.births import local_clock
from synthetic_data.chances import Objects
from synthetic_data.scenario import Bools, Floats

# Decimals a chart shows in each unit of measurement.
DECIMALS = {
    "g": 0, "kg": 3, "[lb_av]": 2, "[oz_av]": 1,
    "cm": 1, "mm": 0, "m": 3, "[in_i]": 2,
    "Cel": 1, "[degF]": 1, "min": 0, "h": 2, "s": 0,
    "d": 0, "wk": 2, "mg/dL": 0, "mmol/L": 1, "/min": 0, "%": 0, "{score}": 0,
}  # fmt: skip


DERIVED = ("birth_month", "birth_weekday", "birth_hour", "birth_order")


@dataclass(frozen=True)
class Placed:
    """One take of a unit's file, with the file it stands in and its place among all takes."""

    number: int
    file: ExportFile
    take: Take

    @property
    def table(self) -> Table:
        return read_contract()[self.take.table]

    @property
    def is_wide(self) -> bool:
        """One line per newborn: the newborn's own facts stand in the same file."""
        return any(take.table == "admission" for take in self.file.takes)


def takes_of(unit: Unit) -> list[Placed]:
    """Return every take of every file, in the order of the unit's file."""
    pairs = [(file, take) for file in unit.files for take in file.takes]
    return [Placed(number, file, take) for number, (file, take) in enumerate(pairs)]


def as_text(values: pd.Series) -> pd.Series:
    """Return codes and booleans as the text that recode lists use; missing stays missing."""
    if pd.api.types.is_bool_dtype(values.dtype):
        return values.astype("boolean").astype(object).map({True: "true", False: "false"})
    return values


# Recodes, backwards ---------------------------------------------------------------------------


def _groups(unit: Unit, recode: str, name: str) -> list[tuple[dict[str, str], list[str]]]:
    """Return (canonical values, local words that mean them), the least specific first."""
    groups: dict[tuple[tuple[str, str], ...], list[str]] = {}
    for word, targets in unit.recodes[recode].items():
        key = tuple(sorted((target or name, value) for target, value in targets.items()))
        groups.setdefault(key, []).append(word)
    return [(dict(key), words) for key, words in sorted(groups.items(), key=lambda g: len(g[0]))]


def _matching(rows: pd.DataFrame, targets: Mapping[str, str]) -> Bools:
    matches = np.ones(len(rows), dtype=bool)
    for column, value in targets.items():
        matches &= (as_text(rows[column]) == value).fillna(False).to_numpy(dtype=bool)
    return matches


def local_words(unit: Unit, source: Source, name: str, rows: pd.DataFrame) -> Objects:
    """Return the unit's word for each row, ``None`` where it has none.

    Where several words mean the same, newborns take them in turn.
    """
    words = np.full(len(rows), None, dtype=object)
    turn = rows["newborn"].to_numpy()
    for targets, choices in _groups(unit, source.recode or "", name):
        here = _matching(rows, targets)
        words[here] = np.array(choices, dtype=object)[turn[here] % len(choices)]
    return words


def _recoded_columns(unit: Unit, name: str, source: Source) -> set[str]:
    groups = _groups(unit, source.recode, name) if source.recode else []
    return {name} | {column for targets, _ in groups for column in targets}


# What the exports can say ---------------------------------------------------------------------


def _sayable(unit: Unit, placed: Placed, rows: pd.DataFrame) -> Bools:
    """Rows whose kind and other constants this take can carry."""
    kept = np.ones(len(rows), dtype=bool)
    for name, source in placed.take.sources.items():
        if source.value is not None:
            same = (rows[name] == source.value).fillna(False).to_numpy(dtype=bool)
            kept &= same if name == "kind" else same | rows[name].isna().to_numpy()
        elif name == "kind" and source.recode:
            kept &= pd.notna(local_words(unit, source, name, rows))
    return kept


def _place_rows(unit: Unit, table: str, rows: pd.DataFrame) -> pd.DataFrame:
    """Give each row the take that carries it; a wide take carries one row per newborn."""
    number = np.full(len(rows), -1, dtype=np.int16)
    for placed in takes_of(unit):
        if placed.take.table == table:
            free = (number < 0) & _sayable(unit, placed, rows)
            if placed.is_wide:
                first = ~rows.loc[free, "newborn"].duplicated()
                free[np.flatnonzero(free)[~first.to_numpy()]] = False
            number[free] = placed.number
    return rows.assign(take=number)[number >= 0].reset_index(drop=True)


def _mask_unsayable(unit: Unit, placed: Placed, rows: pd.DataFrame, here: Bools) -> None:
    """Blank, in place, what this take has no column or no word for."""
    sources = placed.take.sources
    said: set[str] = {"record_id"}
    for name, source in sources.items():
        if source.value is not None:
            rows.loc[here, name] = source.value
        said |= _recoded_columns(unit, name, source)
        if source.recode:
            for column in _recoded_columns(unit, name, source) - {"kind"}:
                wordless = here.copy()
                for targets, _ in _groups(unit, source.recode, name):
                    if column in targets:
                        wordless &= ~_matching(rows, targets)
                if column == name or column not in sources:
                    rows[column] = rows[column].mask(wordless)
    # Where there is a birth time, month, weekday, hour and order follow from it.
    derived = {name for name in placed.table.columns if name in DERIVED}
    said |= derived if "birth_time" in sources else {"birth_time"}
    for name in placed.table.columns:
        if name in rows and name not in said:
            rows[name] = rows[name].mask(here)


def _round_as_charted(unit: Unit, placed: Placed, rows: pd.DataFrame, here: Bools) -> None:
    """Keep, in place, only the digits that the export shows."""
    for name, source in placed.take.sources.items():
        column = placed.table.columns[name]
        if source.form == "completed_weeks":
            rows.loc[here, name] = rows.loc[here, name] // 7 * 7 + 3
        elif column.type == "decimal" and source.value is None:
            shown = local_numbers(placed.table, column, source, rows[here])
            rows.loc[here, name] = canonical_numbers(
                placed.table, column, source, rows[here], shown
            )


def _without_empty(unit: Unit, rows: pd.DataFrame) -> pd.DataFrame:
    """Leave out rows of which no cell would be filled but the study key."""
    empty = np.zeros(len(rows), dtype=bool)
    for placed in takes_of(unit):
        cells = [name for name, source in placed.take.sources.items() if source.columns]
        cells = [name for name in cells if name in rows and name != "record_id"]
        here = (rows["take"] == placed.number).to_numpy()
        if here.any() and placed.take.table != "admission":
            empty[here] = rows.loc[here, cells].isna().all(axis="columns").to_numpy()
    return rows[~empty].reset_index(drop=True)


def keep_expressible(tables: Mapping[str, pd.DataFrame], unit: Unit) -> dict[str, pd.DataFrame]:
    """Return the tables cut down to what the unit's exports can say."""
    kept = {}
    for table, rows in tables.items():
        placed_rows = _place_rows(unit, table, rows)
        for placed in takes_of(unit):
            here = (placed_rows["take"] == placed.number).to_numpy()
            if here.any():
                _mask_unsayable(unit, placed, placed_rows, here)
                _round_as_charted(unit, placed, placed_rows, here)
        kept[table] = _without_empty(unit, placed_rows)
    return kept


# Numbers and times as text --------------------------------------------------------------------


def number_text(values: Any, decimals: int | None) -> Objects:
    """Write numbers with fixed decimals, or as short as they go; ``nan`` becomes ``None``."""
    codes, unique = pd.factorize(np.asarray(values, dtype=float))
    texts = [f"{v:.{decimals}f}" if decimals is not None else f"{v:.10g}" for v in unique]
    return np.array([*texts, None], dtype=object)[codes]


def clock_text(instants: Any, zone: str | None, form: str) -> Objects:
    """Write UTC instants as local clock times; ``NaT`` becomes ``None``."""
    codes, unique = pd.factorize(np.asarray(instants))
    texts = local_clock(unique, zone).strftime(form)
    return np.array([*texts, None], dtype=object)[codes]


def local_unit(table: Table, column: Column, source: Source, kind: str | None) -> str | None:
    """Return the UCUM unit in which the export shows this column (of this kind)."""
    canonical = canonical_unit(table, column, kind)
    if isinstance(source.unit, Mapping):
        return source.unit.get(kind or "", canonical)
    return source.unit or canonical


def canonical_unit(table: Table, column: Column, kind: str | None) -> str | None:
    """Return the contract's UCUM unit of this column (of this kind)."""
    if column.name == "value" and kind is not None and kind in table.kinds:
        return table.kinds[kind].unit
    return column.unit or ("min" if column.type == "minutes" else None)


def conversion_of(
    table: Table, column: Column, kind: str | None, canonical: str, own: str
) -> Conversion:
    """Return how the export's unit of this column (of this kind) is brought to the contract's."""
    known = table.kinds.get(kind or "") if column.name == "value" else None
    return conversion(column.name, canonical, own, known.substance if known else None)


def _by_kind(column: Column, rows: pd.DataFrame) -> list[tuple[str | None, Bools]]:
    if column.name != "value":
        return [(None, np.ones(len(rows), dtype=bool))]
    kinds = rows["kind"]
    return [(kind, (kinds == kind).to_numpy(dtype=bool)) for kind in kinds.dropna().unique()]


def local_numbers(table: Table, column: Column, source: Source, rows: pd.DataFrame) -> Floats:
    """Return the column as the export shows it: in its own unit, rounded."""
    shown = rows[column.name].to_numpy(dtype=float, na_value=np.nan).copy()
    for kind, here in _by_kind(column, rows):
        own = local_unit(table, column, source, kind)
        canonical = canonical_unit(table, column, kind)
        if own is not None and canonical is not None:
            rule = conversion_of(table, column, kind, canonical, own)
            exact = rule.from_canonical(shown[here])  # type: ignore[arg-type]
            shown[here] = np.round(exact, DECIMALS.get(own, 2))
    return shown


def canonical_numbers(
    table: Table, column: Column, source: Source, rows: pd.DataFrame, shown: Floats
) -> Floats:
    """Return the canonical numbers that belong to the shown ones."""
    numbers = shown.copy()
    for kind, here in _by_kind(column, rows):
        own = local_unit(table, column, source, kind)
        canonical = canonical_unit(table, column, kind)
        if own is not None and canonical is not None:
            rule = conversion_of(table, column, kind, canonical, own)
            numbers[here] = rule.to_canonical(shown[here])  # type: ignore[arg-type]
    return np.asarray(np.round(numbers, column.decimals if column.decimals is not None else 4))


def wrong_units(canonical: str, own: str) -> list[str]:
    """Return the other units in which someone may have read the same thing."""
    return [unit for unit in CONVERSIONS.get(canonical, {}) if unit != own]


def time_texts(unit: Unit, source: Source, minutes: Any, birth_at: Any) -> Objects:
    """Write minutes after birth in the unit's form of time."""
    minutes = np.asarray(minutes, dtype=float)
    if unit.time_form == "minutes":
        own = source.unit if isinstance(source.unit, str) else "min"
        exact = conversion("minutes", "min", own).from_canonical(minutes)
        return number_text(np.round(exact, DECIMALS[own]), DECIMALS[own])
    gone = np.isnan(minutes)
    instants = np.asarray(birth_at) + np.where(gone, 0, minutes).astype("m8[m]")
    instants[gone] = np.datetime64("NaT")
    return clock_text(instants, unit.zone, unit.formats[0])


def _number_texts(table: Table, column: Column, source: Source, rows: pd.DataFrame) -> Objects:
    shown = local_numbers(table, column, source, rows)
    texts = np.full(len(rows), None, dtype=object)
    for kind, here in _by_kind(column, rows):
        own = local_unit(table, column, source, kind)
        decimals = 0 if column.type == "integer" else DECIMALS.get(own or "")
        texts[here] = number_text(shown[here], decimals)
    return texts


def cell_texts(unit: Unit, placed: Placed, name: str, rows: pd.DataFrame, birth_at: Any) -> Objects:
    """Return the text of one canonical column as its export cell shows it (one per row).

    ``birth_at`` is the UTC instant of birth of each row's newborn.
    """
    source, column = placed.take.sources[name], placed.table.columns[name]
    if source.recode:
        return local_words(unit, source, name, rows)
    if source.form:
        return _gestation_texts(source, rows[name])
    if column.type == "minutes":
        return time_texts(unit, source, rows[name], birth_at)
    if column.type == "instant":
        return clock_text(np.asarray(birth_at), unit.zone, unit.formats[0])
    if column.type == "month":
        return clock_text(rows[name].to_numpy(), None, "%Y-%m")
    return (
        _number_texts(placed.table, column, source, rows)
        if column.type in {"integer", "decimal"}
        else _plain_texts(rows[name])
    )


def _plain_texts(values: pd.Series) -> Objects:
    text = as_text(values).astype(object)
    return np.asarray(text.where(text.notna(), None), dtype=object)


def _gestation_texts(source: Source, days: pd.Series) -> Objects:
    """Write gestation as weeks and days, as ``39+4``, or as completed weeks."""
    numbers = days.to_numpy(dtype=float, na_value=np.nan)
    codes, unique = pd.factorize(numbers)
    weeks_only = source.form == "completed_weeks"
    texts = [f"{int(d) // 7}" if weeks_only else f"{int(d) // 7}+{int(d) % 7}" for d in unique]
    return np.array([*texts, None], dtype=object)[codes]


def split_cells(source: Source, texts: Objects) -> list[Objects]:
    """Spread a text over the local columns it comes from: at the plus, or at the first blank."""
    n = len(source.columns)
    if n == 1:
        return [texts]
    parts = pd.Series(texts, dtype=object).str.split(
        "+" if source.form else " ", n=n - 1, expand=True
    )
    parts = parts.reindex(columns=range(n)).astype(object)
    return [np.asarray(parts[i].where(parts[i].notna(), None), dtype=object) for i in range(n)]

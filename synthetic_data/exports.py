"""Writes a unit's exports: its own columns, words, units and times, with harmless mess.

One line of a file is one row; the header is line 1. The ledger's texts replace the true ones,
and the ledger learns file, line and column of each.
"""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd

from pipelines.base.errors import ExportError
from pipelines.definitions.read_units import Unit
from pipelines.definitions.unit_takes import ExportFile
from synthetic_data.chances import Objects, chance, pick
from synthetic_data.generate import Tables
from synthetic_data.ledger import Ledger
from synthetic_data.local_text import Placed, cell_texts, split_cells, takes_of
from synthetic_data.scenario import Scenario, read_scenario, stream

BLOCK_ROWS = 200_000  # rows held as text at a time: bounds memory, not the result
OUT_OF_ORDER_ROWS = 4.0  # event lines stray about this far from their place


class Writer:
    """Writes one unit's tables into one folder."""

    def __init__(
        self, tables: Tables, unit: Unit, ledger: pd.DataFrame, scenario: Scenario, seed: int
    ):
        self.tables, self.unit, self.scenario, self.seed = tables, unit, scenario, seed
        self.ledger = ledger.reset_index(drop=True).copy()
        # Once: the ledger is asked for every column of every block of lines.
        self._planted = self.ledger.groupby(["table_name", "column_name"]).indices
        babies = tables["admission"].drop_duplicates("newborn")
        self.birth_at = babies["birth_at"].to_numpy()
        self.birth_year = babies["birth_time"].dt.year.to_numpy()

    def cells(
        self,
        placed: Placed,
        rows: pd.DataFrame,
        lines: np.ndarray,
        name: str,
        rng: np.random.Generator,
    ) -> dict[str, Objects]:
        """Return local column -> texts of these rows; enter into the ledger where they stand."""
        texts: dict[str, Objects] = {}
        births = self.birth_at[rows["newborn"].to_numpy()]
        for column, source in placed.take.sources.items():
            if source.columns:
                cell = cell_texts(self.unit, placed, column, rows, births).copy()
                if source.recode:
                    cell = self._messy(cell, rng)
                self._override(
                    table=placed.take.table,
                    column=column,
                    rows=rows,
                    lines=lines,
                    name=name,
                    texts=cell,
                    local=source.columns[0],
                )
                texts.update(zip(source.columns, split_cells(source, cell), strict=True))
        return texts

    def _messy(self, texts: Objects, rng: np.random.Generator) -> Objects:
        """Stray blanks around a code and another case of it."""
        mess, n = self.scenario["mess"], len(texts)
        filled = pd.notna(texts)
        for share, change in (
            (mess["code_case"], str.upper), (mess["code_spaces"], lambda text: f" {text} "),
        ):  # fmt: skip
            here = np.flatnonzero(filled & chance(rng, share, n))
            texts[here] = [change(text) for text in texts[here]]
        return texts

    def _override(
        self,
        *,
        table: str,
        column: str,
        rows: pd.DataFrame,
        lines: np.ndarray,
        name: str,
        texts: Objects,
        local: str,
    ) -> None:
        ledger, planted = self.ledger, self._planted.get((table, column))
        if planted is None:
            return
        mine = np.asarray(planted)
        place = rows.index.get_indexer(pd.Index(ledger["row"].to_numpy()[mine]))
        mine, place = mine[place >= 0], place[place >= 0]
        if len(mine) == 0:
            return
        texts[place] = ledger["recorded_value"].to_numpy(dtype=object)[mine]
        ledger.loc[mine, "source_file"] = name
        ledger.loc[mine, "source_line"] = lines[place]
        ledger.loc[mine, "local_column"] = local

    def extra(self, n: int, rng: np.random.Generator) -> dict[str, Objects]:
        """Columns that no unit file mentions, with commas and quotes in them."""
        mess = self.scenario["mess"]
        comments = pick(rng, dict.fromkeys(mess["comments"], 1.0), n)
        comments[~chance(rng, mess["comment_share"], n)] = None
        counts = rng.integers(1, 5, n).astype(str).astype(object)
        return {mess["extra_columns"]["comment"]: comments, mess["extra_columns"]["number"]: counts}


def write_exports(
    tables: Tables,
    unit: Unit,
    folder: Path,
    ledger: pd.DataFrame | None = None,
    *,
    scenario: Scenario | None = None,
    seed: int = 1,
) -> pd.DataFrame:
    """Write every export file of the unit into ``folder``; return the ledger with its places.

    Same tables, ledger and seed give the same bytes. Raises ExportError where the folder holds
    other files that the unit's patterns would also take.
    """
    folder.mkdir(parents=True, exist_ok=True)
    ledger = Ledger(unit.id).frame() if ledger is None else ledger
    writer = Writer(tables, unit, ledger, scenario or read_scenario(), seed)
    years = np.unique(writer.birth_year)
    _refuse_strangers(
        unit, folder, [_name(file, int(year)) for file in unit.files for year in years]
    )
    for place, file in enumerate(unit.files):
        parts = years if "*" in file.pattern else [None]
        for year in parts:
            first = place == 0 and year == parts[0]
            last = place == len(unit.files) - 1 and year == parts[-1]
            path = folder / _name(file, year)
            _write_file(
                writer, file, None if year is None else int(year), path, with_bom=first, crlf=last
            )
    return writer.ledger


def _name(file: ExportFile, year: int | None) -> str:
    return file.pattern.replace("*", f"_{year}")


def _refuse_strangers(unit: Unit, folder: Path, names: list[str]) -> None:
    strangers = sorted(
        path.name
        for file in unit.files
        for path in folder.glob(file.pattern)
        if path.name not in names
    )
    if strangers:
        raise ExportError(
            f"{folder}: holds {strangers[0]}, which this run does not write but the unit "
            f"'{unit.id}' would read with it; choose an empty folder."
        )


def _write_file(
    writer: Writer, file: ExportFile, year: int | None, path: Path, *, with_bom: bool, crlf: bool
) -> None:
    """Write one file block by block; one file begins with a byte order mark, one has CRLF."""
    rng = stream(writer.seed, writer.unit.id, path.name)
    encoding = file.encoding
    if with_bom and encoding.lower().replace("_", "-") == "utf-8":
        encoding = "utf-8-sig"
    with path.open("w", encoding=encoding, newline="") as out:
        for place, frame in enumerate(_blocks(writer, file, year, path.name, rng)):
            frame.to_csv(
                out, sep=file.delimiter, index=False, header=place == 0,
                lineterminator="\r\n" if crlf else "\n",
            )  # fmt: skip


def _rows_of(writer: Writer, table: str, year: int | None, take: int | None) -> pd.DataFrame:
    rows = writer.tables[table]
    kept = np.ones(len(rows), dtype=bool)
    if year is not None:
        kept &= writer.birth_year[rows["newborn"].to_numpy()] == year
    if take is not None:
        kept &= rows["take"].to_numpy() == take
    return rows[kept]


def _blocks(
    writer: Writer, file: ExportFile, year: int | None, name: str, rng: np.random.Generator
) -> Iterator[pd.DataFrame]:
    """Yield the lines of one file as frames of text."""
    takes = [placed for placed in takes_of(writer.unit) if placed.file is file]
    if takes[0].is_wide:
        yield from _wide_blocks(writer, takes, year, name, rng)
        return
    line = 2
    for placed in takes:
        rows = _rows_of(writer, placed.take.table, year, placed.number)
        strayed = np.arange(len(rows)) + rng.uniform(0, OUT_OF_ORDER_ROWS, len(rows))
        if "is_added" in rows:  # planted lines stand last, so that they move no other
            strayed += OUT_OF_ORDER_ROWS * rows["is_added"].to_numpy(dtype=bool)
        rows = rows.iloc[np.argsort(strayed, kind="stable")]
        for start in range(0, max(len(rows), 1), BLOCK_ROWS):
            part = rows.iloc[start : start + BLOCK_ROWS]
            lines = np.arange(line, line + len(part))
            line += len(part)
            yield pd.DataFrame(
                writer.cells(placed, part, lines, name, rng), columns=list(file.local_columns)
            )


def _wide_blocks(
    writer: Writer, takes: list[Placed], year: int | None, name: str, rng: np.random.Generator
) -> Iterator[pd.DataFrame]:
    """Yield one line per admission row, with each other take's row of that newborn beside it."""
    columns = list(takes[0].file.local_columns)
    babies = _rows_of(writer, "admission", year, None)
    events = {
        placed.number: _rows_of(writer, placed.take.table, year, placed.number)
        for placed in takes
        if placed.take.table != "admission"
    }
    for start in range(0, max(len(babies), 1), BLOCK_ROWS):
        base = babies.iloc[start : start + BLOCK_ROWS]
        lines = np.arange(start + 2, start + 2 + len(base))
        cells: dict[str, Objects] = {}
        for placed in takes:
            if placed.take.table == "admission":
                cells.update(writer.cells(placed, base, lines, name, rng))
            else:
                beside = _beside(
                    writer,
                    placed,
                    rows=events[placed.number],
                    base=base,
                    lines=lines,
                    name=name,
                    rng=rng,
                )
                cells.update({key: cells.get(key, value) for key, value in beside.items()})
        cells |= writer.extra(len(base), rng)
        extra = [key for key in cells if key not in columns]
        yield pd.DataFrame(cells, columns=columns + extra)


def _beside(
    writer: Writer,
    placed: Placed,
    *,
    rows: pd.DataFrame,
    base: pd.DataFrame,
    lines: np.ndarray,
    name: str,
    rng: np.random.Generator,
) -> dict[str, Objects]:
    """Texts of an event take, spread over the newborns' lines; a line that stands twice has
    them twice, and the ledger points to the first."""
    newborn = base["newborn"].to_numpy()
    rows = rows[rows["newborn"].isin(newborn)]
    first_line = pd.Series(lines, index=newborn)
    first_line = first_line[~first_line.index.duplicated()]
    at = first_line.reindex(rows["newborn"]).to_numpy()
    found = pd.Index(rows["newborn"]).get_indexer(pd.Index(newborn))
    texts = writer.cells(placed, rows, at, name, rng)
    spread = {}
    for local, text in texts.items():
        spread[local] = np.array([*text, None], dtype=object)[found]
    return spread

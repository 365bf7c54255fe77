"""Chooses newborns and cells for planted faults and keeps the ledger of them."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from pipelines.definitions.unit_takes import Source
from synthetic_data.chances import Objects
from synthetic_data.generate import Tables, Truth
from synthetic_data.ledger import Ledger
from synthetic_data.local_text import Placed, cell_texts, takes_of, time_texts
from synthetic_data.scenario import Bools, Floats, Scenario, stream


class Planter:
    """Chooses newborns and cells for faults and keeps the ledger."""

    def __init__(self, truth: Truth, scenario: Scenario, seed: int, shares: Mapping[str, float]):
        self.unit = truth.unit
        self.tables: Tables = dict(truth.tables)
        self.scenario = scenario
        self.shares = shares
        self.seed = seed
        self.draw_from("faults")
        self.ledger = Ledger(truth.unit.id)
        self.free = np.ones(len(truth.tables["admission"]), dtype=bool)
        # A story is told by what is true of its newborns: none of them carries a fault as well.
        self.free[truth.told["newborn"].to_numpy(dtype=int)] = False
        self.birth_at = truth.tables["admission"]["birth_at"].to_numpy()
        self.n = len(self.free)
        self.takes = takes_of(truth.unit)

    def draw_from(self, purpose: str) -> None:
        """Draw from a stream of its own, so that what was planted before stays where it was."""
        self.rng = stream(self.seed, self.unit.id, purpose)

    def how_many(self, share: float) -> int:
        """Number of newborns to be given a fault; none where its share is nil."""
        if share <= 0:
            return 0
        return max(int(self.shares.get("at_least", 0)), int(self.rng.binomial(self.n, share)))

    def source(self, row: pd.DataFrame, column: str) -> tuple[Placed, Source]:
        placed = self.takes[int(row["take"].iloc[0])]
        return placed, placed.take.sources[column]

    def takes_with(self, table: str, column: str, recoded: bool | None = None) -> list[int]:
        """Takes in which the column is read from a cell (recoded or not, where asked)."""
        found = []
        for placed in self.takes:
            source = placed.take.sources.get(column)
            is_cell = source is not None and bool(source.columns)
            is_recoded = source is not None and source.recode is not None
            if placed.take.table == table and is_cell and recoded in {None, is_recoded}:
                found.append(placed.number)
        return found

    def choose(
        self, table: str, column: str, wanted: int, eligible: Bools | None = None
    ) -> list[pd.DataFrame]:
        """Take rows whose cell is filled and whose newborn has no fault yet; one frame per take."""
        rows = self.tables[table]
        usable = rows[column].notna().to_numpy() & (True if eligible is None else eligible)
        usable &= self.free[rows["newborn"].to_numpy()]
        usable &= rows["take"].isin(self.takes_with(table, column)).to_numpy()
        if "is_spared" in rows:
            usable &= ~rows["is_spared"].to_numpy(dtype=bool)
        found = np.flatnonzero(usable)
        if wanted == 0 or len(found) == 0:
            return []
        # More than wanted are drawn, because two rows may belong to one newborn.
        drawn = (
            self.rng.permutation(found)
            if len(found) < 50 * wanted
            else self.rng.choice(found, min(len(found), 20 * wanted), replace=False)
        )
        picked = rows.iloc[drawn].drop_duplicates("newborn").head(wanted).sort_index()
        self.free[picked["newborn"].to_numpy()] = False
        return [part for _, part in picked.groupby("take")]

    def true_texts(self, rows: pd.DataFrame, column: str) -> Objects:
        placed, _ = self.source(rows, column)
        births = self.birth_at[rows["newborn"].to_numpy()]
        return cell_texts(self.unit, placed, column, rows, births)

    def text_of(self, rows: pd.DataFrame, column: str, values: Any) -> Objects:
        """Return the text these rows would have if the column held the values."""
        return self.true_texts(rows.assign(**{column: values}), column)

    def time_text(self, rows: pd.DataFrame, column: str, minutes: Floats) -> Objects:
        """Return the text these rows would have if the column held these minutes."""
        _, source = self.source(rows, column)
        births = self.birth_at[rows["newborn"].to_numpy()]
        return time_texts(self.unit, source, minutes, births)

    def of_newborn(self, column: str) -> pd.Series:
        """Return a true admission column, one value per newborn in order of birth."""
        return self.tables["admission"].drop_duplicates("newborn")[column].reset_index(drop=True)

    def minutes_of(self, table: str, column: str = "minutes") -> Floats:
        """Return the true minutes of every row of a table, nan where there are none."""
        return self.tables[table][column].to_numpy(dtype=float, na_value=np.nan)

    def stand_beside(self, table: str, rows: pd.DataFrame) -> pd.DataFrame:
        """Add rows at the end of a table and of its export; return them with their places."""
        before = self.tables[table]
        if "is_added" not in before:
            before = before.assign(is_added=False)
        places = range(len(before), len(before) + len(rows))
        added = rows.assign(is_added=True).set_axis(pd.Index(places))
        self.tables[table] = pd.concat([before, added[before.columns]], ignore_index=True)
        return added

    def write(
        self, table: str, rows: pd.DataFrame, column: str, fault: str, recorded: Objects
    ) -> None:
        """Enter a fault, leaving out cells whose text it would not change."""
        true = self.true_texts(rows, column)
        changed = true != recorded
        self.enter(table, rows[changed], column, fault, (true[changed], recorded[changed]))

    def enter(
        self,
        table: str,
        rows: pd.DataFrame,
        column: str,
        fault: str,
        texts: tuple[Objects, Objects],
    ) -> None:
        """Enter true and recorded texts as they are given."""
        self.ledger.add(
            table_name=table, rows=rows, column_name=column, fault=fault, true=texts[0],
            recorded=texts[1],
        )  # fmt: skip

    def spread(
        self,
        cells: Sequence[tuple[str, str]],
        share: float,
        eligible: Mapping[str, Bools] | None = None,
    ) -> Iterator[tuple[str, str, pd.DataFrame]]:
        """Choose rows over several columns, so that the share holds for all of them together."""
        if not cells:
            return
        turns = self.rng.permutation(len(cells))
        counts = np.bincount(np.arange(self.how_many(share)) % len(cells), minlength=len(cells))
        for place, count in zip(turns, counts, strict=True):
            table, column = cells[place]
            where = None if eligible is None else eligible[table]
            for rows in self.choose(table, column, int(count), where):
                yield table, column, rows

    def kind(self, name: str) -> Bools:
        return (self.tables["observation"]["kind"] == name).to_numpy(dtype=bool)

"""Words of free categories that few newborns have and nobody declared: they never reach a store.

A category (payer, language, detail of a finding) keeps the export's own words. A word that stands
on a handful of newborns may be a name that slipped into the column, and says who they are: so a
word is kept where the unit's file says it, where it is a known one, or where it stands on enough.
"""

from collections.abc import Iterable, Sequence
from typing import Final

import duckdb

from pipelines.base.insert_rows import insert_rows
from pipelines.definitions.read_contract import Contract
from pipelines.definitions.read_units import Unit
from pipelines.definitions.safe_to_say import is_known

# From so many newborns on a word of an export says nothing of one of them; it may be copied into
# a draft and be shown. Local decision, near the floors in use for small numbers (5 to 11).
ENOUGH_NEWBORNS: Final = 10
RARE: Final = "rare word"


def declare_words(connection: duckdb.DuckDBPyConnection, units: Iterable[Unit]) -> None:
    """Fill ``typed.declared_word`` with what the units' files call things, and with our codes."""
    words = {word for unit in units for word in _declared(unit)}
    tiers = connection.execute(
        "select kind from typed.finding_tier union select detail from typed.finding_tier"
    ).fetchall()
    words |= {str(row[0]) for row in tiers if row[0]}
    insert_rows(connection, "typed.declared_word", [(word,) for word in sorted(words)])


def _declared(unit: Unit) -> set[str]:
    recoded = {
        text.casefold()
        for table in unit.recodes.values()
        for local, targets in table.items()
        for text in (local, *targets.values())
    }
    constants = {
        source.value
        for file in unit.files
        for take in file.takes
        for source in take.sources.values()
        if source.value is not None
    }
    codes = {
        code
        for table in unit.contract.values()
        for column in table.columns.values()
        for code in column.allowed
    }
    return recoded | constants | codes


def hide_rare_words(connection: duckdb.DuckDBPyConnection, contract: Contract) -> None:
    """Replace in ``typed`` every word of a category that few newborns have and nobody knows."""
    declared = {row[0] for row in connection.execute("from typed.declared_word").fetchall()}
    for table in contract.values():
        for column in table.stored_columns:
            if column.type == "category":
                _hide(connection, f"typed.{table.name}", column.name, declared)


def _hide(
    connection: duckdb.DuckDBPyConnection, table: str, column: str, declared: set[str]
) -> None:
    few = connection.execute(
        f"select unit, {column} from {table} where {column} is not null "
        f"group by all having count(distinct newborn_id) < {ENOUGH_NEWBORNS}"
    ).fetchall()
    hidden: Sequence[tuple[str, str]] = [
        (unit, word) for unit, word in few if not is_known(word, declared)
    ]
    if hidden:
        connection.execute("create or replace temp table hidden (unit varchar, word varchar)")
        insert_rows(connection, "hidden", hidden)
        connection.execute(
            f"update {table} as row set {column} = '{RARE}' from hidden "
            f"where row.unit = hidden.unit and row.{column} = hidden.word"
        )
        connection.execute("drop table hidden")

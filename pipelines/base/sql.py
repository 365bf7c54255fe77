"""Fixed SQL by name, and names and texts quoted for SQL."""

from functools import cache
from pathlib import Path

ROOMS = Path(__file__).parents[1]


@cache
def fixed_sql(name: str) -> str:
    """Return the text of one fixed SQL file; ``name`` is its room and its own name.

    ``reading/months`` is the file ``reading/sql/months.sql``.
    """
    room, _, own = name.rpartition("/")
    return (ROOMS / room / "sql" / f"{own}.sql").read_text(encoding="utf-8")


# The tables of the next stage but one, in the order in which they are made.
MART = ("newborn", "event", "way")


def quote(text: str) -> str:
    """Return a SQL string literal."""
    return "'" + text.replace("'", "''") + "'"

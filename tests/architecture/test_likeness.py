"""No measure's select is a near copy of another's: what two read is a shared fact."""

import difflib
from itertools import combinations

from sqlglot.dialects import DuckDB

from pipelines.definitions.read_measures import MEASURES_DIR, read_measure

# Share of tokens in common (2 * matched / all, in order). Before shared facts six pairs stood
# between 0.86 and 0.99; measures that only have the engine's columns in common reach 0.7.
# Local decision.
MOST_ALIKE = 0.85
# A shorter select does no more than read a shared fact: columns by name, one table, one where.
# The longest pair of these has 59 tokens: no stool and no void, told after a limit of their own.
SHORT = 60


def tokens(sql: str) -> list[str]:
    return [token.text.lower() for token in DuckDB.Tokenizer().tokenize(sql)]


def alike(one: list[str], other: list[str]) -> float:
    matcher = difflib.SequenceMatcher(None, one, other, autojunk=False)
    return matcher.ratio() if matcher.quick_ratio() > MOST_ALIKE else 0.0


def near_copies(selects: dict[str, str]) -> list[str]:
    read = {name: tokens(sql) for name, sql in selects.items()}
    long = {name: found for name, found in read.items() if len(found) >= SHORT}
    return [
        f"{one} and {other}: {ratio:.2f}"
        for one, other in combinations(long, 2)
        if (ratio := alike(long[one], long[other])) > MOST_ALIKE
    ]


def test_no_select_is_a_near_copy_of_another() -> None:
    measures = [read_measure(path) for path in sorted(MEASURES_DIR.glob("*.sql"))]
    assert near_copies({one.id: one.source.sql for one in measures}) == []


def test_a_copy_under_another_name_is_named_with_its_pair() -> None:
    """So that the test above can fail."""
    sql = read_measure(MEASURES_DIR / "warm_excess.sql").source.sql
    copy = sql.replace("warm_until_minutes", "cold_until_minutes").replace("> setting", "< setting")
    assert near_copies({"warm_excess": sql, "copy": copy, "other": "select 1"}) == [
        "warm_excess and copy: 0.98"
    ]

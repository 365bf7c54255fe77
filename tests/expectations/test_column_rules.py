"""Every worked example of every rule about columns, by name; what such a rule may read."""

from collections.abc import Mapping
from typing import Any

import pytest
import sqlglot
from scipy.stats import poisson
from sqlglot import exp

from expectations.rules_of_columns import (
    ColumnRule,
    column_differences,
    read_column_rules,
    run_column_example,
    split_settings,
)

RULES = read_column_rules()
EXAMPLES = [
    pytest.param(rule, example, id=f"{rule.id}: {example['because']}")
    for rule in RULES.values()
    for example in rule.examples
]


@pytest.mark.parametrize(("rule", "example"), EXAMPLES)
def test_example(rule: ColumnRule, example: Mapping[str, Any]) -> None:
    assert column_differences(rule, example) == []


def test_every_rule_has_an_example_with_a_flag_and_one_without() -> None:
    assert set(RULES) == {"column_went_silent", "shift_went_silent", "month_count_breaks"}
    for rule in RULES.values():
        flagged = [len(example["expect"].strip().splitlines()) > 1 for example in rule.examples]
        assert {True, False} <= set(flagged), rule.id


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.id)
def test_rules_read_completeness_and_nothing_else(rule: ColumnRule) -> None:
    select = sqlglot.parse_one(rule.headed.sql, read="duckdb")
    names = {cte.alias for cte in select.find_all(exp.CTE)}
    read = {table.sql() for table in select.find_all(exp.Table)} - names
    plain = {name.split(" ")[0] for name in read} - names
    assert plain <= {"judged.completeness", "column_history", "rule_setting"}


def counts(*newborns: int) -> dict[str, Any]:
    lines = [
        f"admission | sex | 2025-{month:02d}-01 | {number}"
        for month, number in enumerate(newborns, start=1)
    ]
    head = "table_name | column_name | month | newborns"
    return {"given": {"completeness": "\n".join([head, *lines])}}


@pytest.mark.slow
@pytest.mark.parametrize("usual", [12, 40, 250])
def test_month_breaks_where_the_exact_poisson_probability_says_so(usual: int) -> None:
    """Held against scipy.stats.poisson, count by count on both sides."""
    for number in range(usual * 2 + 20):
        low, high = poisson.cdf(number, usual), poisson.sf(number - 1, usual)
        expected = 2 * (low if number < usual else high) < 1e-4
        near = abs(2 * min(low, high) - 1e-4) < 1e-7
        if number % max(usual // 12, 1) and not near:
            continue  # a sample of the counts is enough, and keeps the test short
        found = run_column_example(
            RULES["month_count_breaks"], counts(usual, usual, usual, number, usual, usual)
        )
        in_april = found["explanation"].str.contains("April 2025").any()
        assert near or bool(in_april) == expected, number


def test_settings_of_columns_are_told_from_those_of_values() -> None:
    given = {
        "fern": {
            "off": ["unusual", "shift_went_silent"],
            "numbers": {"column_went_silent": {"at_least": 5}, "size": {"z": 4}},
            "zone": "UTC",
        }
    }
    of_values, of_columns = split_settings(given)
    assert of_values == {"fern": {"off": ["unusual"], "numbers": {"size": {"z": 4}}, "zone": "UTC"}}
    assert of_columns == {
        "fern": {"off": ["shift_went_silent"], "numbers": {"column_went_silent": {"at_least": 5}}}
    }

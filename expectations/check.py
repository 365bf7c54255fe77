"""One check: a select that gives the failing keys, and how its findings reach ``found``.

Contract-derived checks (``from_contract``) and rule files (``rule``) both become a ``Check``,
so that each runs, gives way and counts in the same way.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import duckdb

from pipelines.base.sql import quote
from pipelines.definitions.read_contract import Contract, read_contract

SEVERITIES = ("error", "query", "note")
Number = float | bool

# The columns a select may give; what it leaves out is null and filled from the check.
_BLANK = (
    "select null::bigint as row_id, null::varchar as unit, null::varchar as source_file, "
    "null::varchar as column_name, null::varchar as severity, null::varchar as explanation, "
    "null::varchar as suggestion where false"
)


@dataclass(frozen=True)
class Check:
    """One thing that must hold in one canonical table.

    ``select`` gives the cells in which it does not hold. ``gives_way_to`` names rules: a row
    in which one of them found something is left to them. ``gives_way_to_causes`` leaves out
    cells on which another check of at least this severity already names the cause.
    ``parameters`` are the defaults of a rule (None for a check that has no settings),
    ``numbers`` the parameters by unit; ``off_units`` the units that switched it off.
    """

    rule_id: str
    table: str
    title: str
    severity: str
    explanation: str
    select: str
    column: str | None = None
    kind: str | None = None
    gives_way_to: tuple[str, ...] = ()
    gives_way_to_causes: bool = False
    is_whole_column: bool = False
    off_units: tuple[str, ...] = ()
    parameters: Mapping[str, Number] | None = None
    numbers: Mapping[str, Mapping[str, Number]] = field(default_factory=dict)

    @property
    def id(self) -> str:
        parts = (self.table, self.rule_id, self.column, self.kind)
        return ".".join(part for part in parts if part is not None)


def find(
    connection: duckdb.DuckDBPyConnection, check: Check, contract: Contract | None = None
) -> int:
    """Insert the findings of one check into ``found``; return how many.

    One statement, so a check that raises half-way leaves nothing behind.
    Raises whatever DuckDB raises where the select is wrong.
    """
    if check.parameters is not None:
        connection.execute(_settings_table(check.parameters, check.numbers))
    inserted = connection.execute(_insert(check, contract or read_contract())).fetchone()
    return int(inserted[0]) if inserted else 0


def rows_judged(
    connection: duckdb.DuckDBPyConnection, check: Check, contract: Contract | None = None
) -> int:
    """Return how many values (of the column, of the kind) or rows the check looked at."""
    wheres = [f"kind = {quote(check.kind)}"] if check.kind else []
    wheres += [f"unit not in ({_listed(check.off_units)})"] if check.off_units else []
    counted = "*"
    stored = (contract or read_contract())[check.table].stored_columns
    if check.column is not None and check.column in {column.name for column in stored}:
        counted = check.column
    where = f" where {' and '.join(wheres)}" if wheres else ""
    counts = connection.execute(
        f"select count({counted}) from typed.{check.table}{where}"
    ).fetchone()
    return int(counts[0]) if counts else 0


def _listed(texts: tuple[str, ...]) -> str:
    return ", ".join(quote(text) for text in texts)


def _settings_table(
    parameters: Mapping[str, Number], numbers: Mapping[str, Mapping[str, Number]]
) -> str:
    """Return SQL for ``rule_setting``: one row per unit with the parameters of this rule.

    The defaults stand first, under no unit, so that the columns are there without any unit.
    """
    rows = [["cast(null as varchar)", *map(_literal, parameters.values())]]
    rows += [[quote(unit), *map(_literal, own.values())] for unit, own in numbers.items()]
    listed = ", ".join(f"({', '.join(row)})" for row in rows)
    return (
        f"create or replace temp table rule_setting as select * from (values {listed}) "
        f"as setting ({', '.join(['unit', *parameters])}) where unit is not null"
    )


def _literal(value: Number) -> str:
    return str(value).lower() if isinstance(value, bool) else f"{float(value)!r}::double"


def _insert(check: Check, contract: Contract) -> str:
    names = _listed(tuple(contract[check.table].columns))
    say = "rule_id " + check.rule_id
    return f"""
    insert into found
    with hit as (
        from ({_BLANK}) union all by name ({check.select}
        )
    ),

    complete as (
        select
            row_id,
            unit,
            source_file,
            case
                when column_name in ({names}) then column_name
                else error({quote(say + ": column_name is not a column of " + check.table)})
            end as column_name,
            case
                when coalesce(severity, {quote(check.severity)}) in ({_listed(SEVERITIES)})
                then coalesce(severity, {quote(check.severity)})
                else error({quote(say + ": severity is not error, query or note")})
            end as severity,
            coalesce(explanation, {quote(check.explanation)}) as explanation,
            suggestion,
        from hit
    )

    select {quote(check.rule_id)}, {quote(check.table)}, complete.*
    from complete
    where {" and ".join(_conditions(check))}
    {_once_per_cell(check)}
    """


def _once_per_cell(check: Check) -> str:
    """A rule whose joins give a cell twice still makes one flag of it."""
    if check.is_whole_column or check.parameters is None:
        return ""
    return "qualify row_number() over (partition by row_id, column_name order by severity) = 1"


def _conditions(check: Check) -> list[str]:
    conditions = ["true"]
    if not check.is_whole_column:
        conditions.append("complete.row_id is not null")
    if check.gives_way_to_causes:
        # Severities are in falling order, so those up to this one weigh at least as much.
        rank = f"list_position([{_listed(SEVERITIES)}], {{}}.severity)"
        conditions.append(
            _no_other(
                check,
                "column_name = complete.column_name "
                f"and {rank.format('other')} <= {rank.format('complete')}",
            )
        )
    if check.gives_way_to:
        conditions.append(_no_other(check, f"rule_id in ({_listed(check.gives_way_to)})"))
    if check.off_units:
        units = _listed(check.off_units)
        conditions.append(
            f"coalesce(complete.unit not in ({units}), complete.row_id not in "
            f"(select row_id from typed.{check.table} where unit in ({units})))"
        )
    return conditions


def _no_other(check: Check, same: str) -> str:
    return (
        f"not exists (select 1 from found as other where other.table_name = "
        f"{quote(check.table)} and other.row_id = complete.row_id and other.{same})"
    )

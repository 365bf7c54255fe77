"""One check: a select that gives the failing keys, and how its findings reach ``found``.

Contract-derived checks (``from_contract``) and rule files (``rule``) both become a ``Check``,
so that each runs, gives way and counts in the same way.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import duckdb

from pipelines.base.sql import quote
from pipelines.definitions.read_contract import Contract, read_contract
from pipelines.definitions.states import SEVERITIES

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
    findings = _findings([check], contract or read_contract())
    inserted = connection.execute(
        f"insert into found select * exclude (check_id) from ({findings})"
    ).fetchone()
    return int(inserted[0]) if inserted else 0


def find_together(
    connection: duckdb.DuckDBPyConnection, checks: Sequence[Check], contract: Contract | None = None
) -> dict[str, int]:
    """Insert the findings of one lot of checks (``lot_of``) into ``found``; count them by check id.

    All or nothing: where one select is wrong, none of the lot has left a finding.
    Raises whatever DuckDB raises where a select is wrong.
    """
    findings = _findings(checks, contract or read_contract())
    laid = connection.execute(f"create or replace temp table lot as {findings}").fetchone()
    if laid == (0,):
        return {check.id: 0 for check in checks}
    connection.execute("insert into found select * exclude (check_id) from lot")
    counts = connection.execute("select check_id, count(*) from lot group by check_id").fetchall()
    return {**{check.id: 0 for check in checks}, **dict(counts)}


def lot_of(check: Check, joins_rules: bool = False) -> tuple[object, ...]:
    """Return what checks must share to be found together: none gives way to another of them.

    Of those that give way to causes, one rule looks at each cell but once: at a column, or at
    a column of one kind. A rule with settings stands alone unless ``joins_rules``, and also then
    where it gives way to anything.
    """
    is_alone = check.parameters is not None and (not joins_rules or check.gives_way_to_causes)
    alone = check.id if is_alone or check.gives_way_to else check.parameters is None
    giving_way = (check.rule_id, check.kind is None) if check.gives_way_to_causes else None
    return (check.table, alone, giving_way, check.is_whole_column, check.off_units)


@dataclass
class RowCounts:
    """How many rows and values each typed table has, by unit and kind; each table is read once."""

    connection: duckdb.DuckDBPyConnection
    contract: Contract
    _read: dict[str, list[tuple[str, str | None, dict[str, int]]]] = field(default_factory=dict)

    def judged(self, check: Check) -> int:
        """Return how many values (of the column, of the kind) or rows the check looked at."""
        if check.table not in self._read:
            self._read[check.table] = self._count(check.table)
        name = check.column if check.column in self._stored(check.table) else None
        return sum(
            counts[name or "*"]
            for unit, kind, counts in self._read[check.table]
            if check.kind in (None, kind) and unit not in check.off_units
        )

    def _count(self, table: str) -> list[tuple[str, str | None, dict[str, int]]]:
        names = ["*", *self._stored(table)]
        kind = "kind" if self.contract[table].is_event else "null"
        counts = ", ".join(f"count({name})" for name in names)
        rows = self.connection.execute(
            f"select unit, {kind}, {counts} from typed.{table} group by all"
        ).fetchall()
        return [(row[0], row[1], dict(zip(names, row[2:], strict=True))) for row in rows]

    def _stored(self, table: str) -> list[str]:
        return [column.name for column in self.contract[table].stored_columns]


def _listed(texts: tuple[str, ...]) -> str:
    return ", ".join(quote(text) for text in texts)


def _with_settings(check: Check) -> str:
    """Return the check's select; where it has settings, with them in front as ``rule_setting``."""
    if check.parameters is None:
        return check.select
    settings = _settings(check.parameters, check.numbers)
    return f"with rule_setting as ({settings}) select * from ({check.select}\n)"


def _settings(parameters: Mapping[str, Number], numbers: Mapping[str, Mapping[str, Number]]) -> str:
    """Return the select ``rule_setting``: one row per unit with the parameters of this rule.

    The defaults stand first, under no unit, so that the columns are there without any unit.
    """
    rows = [["cast(null as varchar)", *map(_literal, parameters.values())]]
    rows += [[quote(unit), *map(_literal, own.values())] for unit, own in numbers.items()]
    listed = ", ".join(f"({', '.join(row)})" for row in rows)
    return (
        f"select * from (values {listed}) "
        f"as setting ({', '.join(['unit', *parameters])}) where unit is not null"
    )


def _literal(value: Number) -> str:
    return str(value).lower() if isinstance(value, bool) else f"{float(value)!r}::double"


def _findings(checks: Sequence[Check], contract: Contract) -> str:
    """Return the select of what one lot of checks finds: ``check_id``, then as in ``found``."""
    first = checks[0]
    names = _listed(tuple(contract[first.table].columns))
    hits = " union all by name ".join(
        f"(select {quote(check.id)} as check_id, {quote(check.rule_id)} as check_rule, "
        f"{quote(check.severity)} as check_severity, "
        f"{quote(check.explanation)} as check_explanation, * from ({_with_settings(check)}\n))"
        for check in checks
    )
    return f"""
    with hit as (
        from ({_BLANK}) union all by name {hits}
    ),

    complete as (
        select
            check_id,
            check_rule,
            row_id,
            unit,
            source_file,
            case
                when column_name in ({names}) then column_name
                else error(
                    concat('rule_id ', check_rule, ': column_name is not a column of {first.table}')
                )
            end as column_name,
            case
                when coalesce(severity, check_severity) in ({_listed(SEVERITIES)})
                then coalesce(severity, check_severity)
                else error(concat('rule_id ', check_rule, ': severity is not error, query or note'))
            end as severity,
            coalesce(explanation, check_explanation) as explanation,
            suggestion,
        from hit
    )

    select
        check_id, check_rule as rule_id, {quote(first.table)} as table_name,
        complete.* exclude (check_id, check_rule),
    from complete
    where {" and ".join(_conditions(first))}
    {_once_per_cell(first)}
    """


def _once_per_cell(check: Check) -> str:
    """A rule whose joins give a cell twice still makes one flag of it, always the same one."""
    if check.is_whole_column or check.parameters is None:
        return ""
    cell = "partition by check_id, row_id, column_name"
    order = "severity, explanation, suggestion"
    return f"qualify row_number() over ({cell} order by {order}) = 1"


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

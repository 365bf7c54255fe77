"""How one canonical column is read from the export's text: DuckDB expressions.

Each function returns SQL for one row of a raw file. A text that does not fit gives null
(``try_cast``), never an error and never a guess.
"""

from collections.abc import Mapping

from pipelines.base.measuring_units import conversion
from pipelines.base.sql import quote
from pipelines.definitions.read_contract import Column, Table
from pipelines.definitions.read_units import Source, Take, Unit
from pipelines.stages.raw.export_files import RawFile
from pipelines.stages.raw.export_text import folded, recorded_text

# "39+6", "39w6d", "39 6/7", "39/6": completed weeks and days 0 to 6. A bare "39" is refused:
# whether it means 39+0 or "some day of week 39" is for the unit file to say.
WEEKS_AND_DAYS = r"^\s*(\d{1,2})\s*(?:\+|w(?:eeks?)?|/|\s)\s*([0-6])\s*(?:d(?:ays?)?|/7)?\s*$"
# What is said of a row whose unit of measurement is blank, or none of those that are known.
NO_UNIT, OTHER_UNIT = "none", "other"
TRUE_WORDS = ("true", "yes", "y", "1", "t")
FALSE_WORDS = ("false", "no", "n", "0", "f")


def _lookup(text: str, table: Mapping[str, str]) -> str:
    whens = " ".join(f"when {folded(local)} then {quote(value)}" for local, value in table.items())
    return f"case lower({text}) {whens} end" if whens else "cast(null as varchar)"


def coded_text(unit: Unit, raw: RawFile, take: Take, name: str, column: Column) -> str:
    """Return the canonical code: this column's own recode, else a recode that sets it beside."""
    choices = []
    own = take.sources.get(name)
    if own is not None and own.value is not None:
        choices.append(quote(own.value))
    elif own is not None:
        text = recorded_text(raw, own)
        recode = unit.recodes.get(own.recode or "", {})
        table = {local: row.get("") or row.get(name) for local, row in recode.items()}
        known = {local: value for local, value in table.items() if value is not None}
        if not recode:
            if column.type == "category":
                return text
            known = {word: word for word in column.allowed}
        choices.append(_lookup(text, known))
        if column.type == "category" and recode:
            choices.append(text)
    for other_name, other in take.sources.items():
        beside = {
            local: row[name]
            for local, row in unit.recodes.get(other.recode or "", {}).items()
            if name in row and other_name != name
        }
        if beside:
            choices.append(_lookup(recorded_text(raw, other), beside))
    if not choices:
        return "cast(null as varchar)"
    return choices[0] if len(choices) == 1 else f"coalesce({', '.join(choices)})"


def number(text: str) -> str:
    """Return the number a text says; "nan" and "inf" are words, not readings."""
    value = f"try_cast({text} as double)"
    return f"if(isfinite({value}), {value}, null)"


def _by_kind(table: Table, source: Source, text: str, kind: str, units: Mapping[str, str]) -> str:
    """Bring a value to the unit of its kind; undeclared kinds are in their canonical unit."""
    whens = []
    for name, recorded in units.items():
        rule = table.kinds[name].conversion(table.name, recorded)
        whens.append(f"when {quote(name)} then {rule.sql(number(text))}")
    if not whens:
        return number(text)
    return f"case {kind} {' '.join(whens)} else {number(text)} end"


def _by_unit_column(unit: Unit, raw: RawFile, table: Table, source: Source, kind: str) -> str:
    """Bring a value to canonical by the unit that its own row names; no unit, no value."""
    text = number(recorded_text(raw, Source(columns=source.columns)))
    given = stated_unit(unit, raw, table, source)
    whens = [
        f"when {kind} = {quote(name)} and {given} = {quote(recorded)} then {rule.sql(text)}"
        for name, spec in table.kinds.items()
        for recorded, rule in spec.conversions.items()
    ]
    return f"case {' '.join(whens)} end"


def stated_unit(unit: Unit, raw: RawFile, table: Table, source: Source | None) -> str:
    """Return the UCUM code of the unit that a row names; NO_UNIT, OTHER_UNIT; null: no column."""
    if source is None or source.unit_from is None:
        return "cast(null as varchar)"
    given = recorded_text(raw, Source(columns=(source.unit_from,)))
    spelling = unit.recodes.get("units", {})
    whens = []
    for recorded in sorted({code for kind in table.kinds.values() for code in kind.conversions}):
        words = {recorded} | {local for local, row in spelling.items() if row[""] == recorded}
        listed = ", ".join(folded(word) for word in sorted(words))
        whens.append(f"when lower({given}) in ({listed}) then {quote(recorded)}")
    return (
        f"case {' '.join(whens)} when {given} is null then {quote(NO_UNIT)} "
        f"else {quote(OTHER_UNIT)} end"
    )


def _measured(unit: Unit, raw: RawFile, table: Table, take: Take, column: Column) -> str:
    source = take.sources[column.name]
    text = recorded_text(raw, source)
    if column.name == "value" and table.kinds:
        kind = coded_text(unit, raw, take, "kind", table.columns["kind"])
        if source.unit_from:
            value = _by_unit_column(unit, raw, table, source, kind)
        elif isinstance(source.unit, str):
            units = dict.fromkeys(_kinds_of(take, table, source.unit), source.unit)
            value = _by_kind(table, source, text, kind, units)
        else:
            value = _by_kind(table, source, text, kind, source.unit or {})
    elif isinstance(source.unit, str) and column.unit is not None:
        value = conversion(table.name, column.unit, source.unit).sql(number(text))
    else:
        value = number(text)
    return f"round({value}, {column.decimals})" if column.decimals is not None else value


def _kinds_of(take: Take, table: Table, recorded: str) -> list[str]:
    """Return the kinds a single declared unit can belong to: the constant kind, if there is one."""
    constant = take.sources["kind"].value if "kind" in take.sources else None
    if constant in table.kinds:
        return [constant] if constant is not None else []
    return [name for name, kind in table.kinds.items() if recorded in kind.conversions]


def _gestation(text: str, source: Source) -> str:
    if source.form == "completed_weeks":
        return f"try_cast(try_cast({text} as integer) * 7 + 3 as integer)"
    weeks = f"try_cast(regexp_extract({text}, {quote(WEEKS_AND_DAYS)}, 1, 'i') as integer)"
    days = f"try_cast(regexp_extract({text}, {quote(WEEKS_AND_DAYS)}, 2, 'i') as integer)"
    return f"{weeks} * 7 + {days}"


def instant(unit: Unit, text: str) -> str:
    """Return a UTC instant from a local clock time."""
    formats = ", ".join(quote(form) for form in unit.formats)
    return f"timezone({quote(unit.zone or 'UTC')}, try_strptime({text}, [{formats}]))"


def _minutes(unit: Unit, text: str, source: Source) -> str:
    if unit.time_form == "clock":
        # Elapsed on UTC instants, so that a clock-change night neither adds nor loses an hour.
        return f"(epoch_us({instant(unit, text)}) - epoch_us(born_at)) / 60000000.0"
    recorded = source.unit if isinstance(source.unit, str) else "min"
    return conversion("minutes", "min", recorded).sql(number(text))


def _integer(text: str) -> str:
    # "7.0" is the integer 7; "7.5" is not an integer and does not become one by rounding.
    value = number(text)
    return f"case when {value} = trunc({value}) then try_cast({value} as integer) end"


def _boolean(text: str) -> str:
    yes = ", ".join(quote(word) for word in TRUE_WORDS)
    no = ", ".join(quote(word) for word in FALSE_WORDS)
    return (
        f"case when lower({text}) in ({yes}) then true when lower({text}) in ({no}) then false end"
    )


def typed_expression(unit: Unit, raw: RawFile, take: Take, table: Table, column: Column) -> str:
    """Return the SQL that reads ``column`` of ``table`` from a row of ``raw``."""
    source = take.sources.get(column.name)
    if column.type in {"code", "category"}:
        return coded_text(unit, raw, take, column.name, column)
    if source is None:
        return f"cast(null as {column.duckdb_type})"
    text = recorded_text(raw, source)
    if source.recode:
        text = coded_text(unit, raw, take, column.name, column)
    if source.form is not None:
        return _gestation(text, source)
    if column.type == "minutes":
        return f"round({_minutes(unit, text, source)}, 3)"
    if column.type == "integer" and isinstance(source.unit, str) and source.unit != column.unit:
        rule = conversion(table.name, column.unit or source.unit, source.unit)
        return f"try_cast(round({rule.sql(number(text))}) as integer)"
    by_type = {
        "text": lambda: text,
        "integer": lambda: _integer(text),
        "decimal": lambda: _measured(unit, raw, table, take, column),
        "boolean": lambda: _boolean(text),
        "instant": lambda: instant(unit, text),
        "month": lambda: f"try_cast(try_strptime({text}, '%Y-%m') as date)",
    }
    return by_type[column.type]()

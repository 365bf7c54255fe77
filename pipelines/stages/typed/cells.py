"""How one canonical column is read from the export's text: DuckDB expressions.

Each function returns SQL for one row of a raw file. A text that does not fit gives null
(``try_cast``), never an error and never a guess.
"""

from collections.abc import Iterable, Iterator, Mapping

from pipelines.base.measuring_units import conversion
from pipelines.base.sql import quote
from pipelines.definitions.read_contract import Column, Kind, Table
from pipelines.definitions.read_units import Unit
from pipelines.definitions.unit_readings import GESTATION_FORMS, fitting_kinds, span, units_of
from pipelines.definitions.unit_takes import Source, Take
from pipelines.stages.raw.export_text import folded, recorded_text
from pipelines.stages.raw.raw_file import RawFile
from pipelines.stages.typed.texts import added_up, gestation, instant, month, number_of

# What is said of a row whose unit of measurement is blank, or none of those that are known.
NO_UNIT, OTHER_UNIT = "none", "other"
TRUE_WORDS = ("true", "yes", "y", "1", "t")
_NUMBERS = {"integer", "decimal", "minutes"}
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


def _by_kind(table: Table, number: str, kind: str, units: Mapping[str, str]) -> str:
    """Bring a value to the unit of its kind; undeclared kinds are in their canonical unit."""
    whens = []
    for name, recorded in units.items():
        rule = table.kinds[name].conversion(table.name, recorded)
        whens.append(f"when {quote(name)} then {rule.sql(number)}")
    return f"case {kind} {' '.join(whens)} else {number} end" if whens else number


def _by_unit_column(unit: Unit, raw: RawFile, source: Source, number: str, kind: Kind) -> str:
    """Bring a value to canonical by the unit that its own row names; no unit, no value."""
    given = recorded_text(raw, Source(columns=(source.unit_from or "",)))
    whens = [
        f"when {is_spelled} then {kind.conversions[recorded].sql(number)}"
        for recorded, is_spelled in _spellings(unit, given, kind.conversions)
    ]
    return f"case {' '.join(whens)} end"


def stated_unit(unit: Unit, raw: RawFile, kinds: Mapping[str, Kind], source: Source | None) -> str:
    """Return the UCUM code of the unit that a row names; NO_UNIT, OTHER_UNIT; null: no column."""
    if source is None or source.unit_from is None:
        return "cast(null as varchar)"
    given = recorded_text(raw, Source(columns=(source.unit_from,)))
    codes = sorted({code for kind in kinds.values() for code in kind.conversions})
    whens = [
        f"when {is_spelled} then {quote(code)}"
        for code, is_spelled in _spellings(unit, given, codes)
    ]
    return (
        f"case {' '.join(whens)} when {given} is null then {quote(NO_UNIT)} "
        f"else {quote(OTHER_UNIT)} end"
    )


def _spellings(unit: Unit, given: str, codes: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield each code with the SQL that says whether a row writes it, in its own spelling too."""
    spelling = unit.recodes.get("units", {})
    for recorded in codes:
        words = {recorded} | {local for local, row in spelling.items() if row[""] == recorded}
        listed = ", ".join(folded(word) for word in sorted(words))
        yield recorded, f"lower({given}) in ({listed})"


def _of_kind(unit: Unit, raw: RawFile, source: Source, number: str, kind: Kind) -> str:
    """Return a value in its canonical unit, where the source says more than one unit for all."""
    if source.unit_from:
        return _by_unit_column(unit, raw, source, number, kind)
    if source.units:
        return added_up(raw, source, kind.unit)
    whens = []
    for recorded in source.either:
        low, high = span(kind, recorded)
        rule = kind.conversion("", recorded)
        whens.append(f"when {number} between {low!r} and {high!r} then {rule.sql(number)}")
    return f"case {' '.join(whens)} end"


def _in_units(unit: Unit, raw: RawFile, take: Take, column: Column, number: str) -> str | None:
    """Return a value whose unit differs by row or by part; None where one unit holds for all."""
    source, table = take.sources[column.name], unit.contract[take.table]
    kinds = units_of(table, column)
    if not kinds or not (source.unit_from or source.units or source.either):
        return None
    fitting = fitting_kinds(table, column, source.units or source.either)
    cases = {name: _of_kind(unit, raw, source, number, kinds[name]) for name in fitting}
    if "" in cases:
        return cases[""]
    kind = coded_text(unit, raw, take, "kind", table.columns["kind"])
    return _cases(kind, source, cases, number)


def _measured(unit: Unit, raw: RawFile, take: Take, column: Column, number: str) -> str:
    source, table = take.sources[column.name], unit.contract[take.table]
    if column.name == "value" and table.kinds:
        kind = coded_text(unit, raw, take, "kind", table.columns["kind"])
        units = source.unit or {}
        if isinstance(units, str):
            units = dict.fromkeys(_kinds_of(take, table, units), units)
        return _by_kind(table, number, kind, units)
    if isinstance(source.unit, str) and column.unit is not None:
        return conversion(table.name, column.unit, source.unit).sql(number)
    return number


def _decimal(value: str, column: Column) -> str:
    return f"round({value}, {column.decimals})" if column.decimals is not None else value


def _cases(kind: str, source: Source, cases: Mapping[str, str], number: str) -> str:
    """Return a value by its kind; a kind that knows none of these units has the one it has."""
    whens = " ".join(f"when {quote(name)} then {value}" for name, value in cases.items())
    return f"case {kind} {whens} else {'null' if source.unit_from else number} end"


def _kinds_of(take: Take, table: Table, recorded: str) -> list[str]:
    """Return the kinds a single declared unit can belong to: the constant kind, if there is one."""
    constant = take.sources["kind"].value if "kind" in take.sources else None
    if constant in table.kinds:
        return [constant] if constant is not None else []
    return [name for name, kind in table.kinds.items() if recorded in kind.conversions]


def _minutes(raw: RawFile, source: Source, text: str) -> str:
    if source.formats:
        # Elapsed on UTC instants, so that a clock-change night neither adds nor loses an hour.
        return f"(epoch_us({instant(raw, source, text)}) - epoch_us(born_at)) / 60000000.0"
    recorded = source.unit if isinstance(source.unit, str) else "min"
    return conversion("minutes", "min", recorded).sql(number_of(text, source.marks))


def _integer(value: str) -> str:
    # "7.0" is the integer 7; "7.5" is not an integer and does not become one by rounding.
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
        coded = coded_text(unit, raw, take, column.name, column)
        # Words for some numbers leave the others to be read as numbers.
        text = f"coalesce({coded}, {text})" if column.type in _NUMBERS else coded
    if column.type in _NUMBERS:
        return _number(unit, raw, take, column, text)
    by_type = {
        "text": lambda: text,
        "boolean": lambda: _boolean(text),
        "instant": lambda: instant(raw, source, text),
        "month": lambda: month(text),
    }
    return by_type[column.type]()


def _number(unit: Unit, raw: RawFile, take: Take, column: Column, text: str) -> str:
    """Return a number, a gestation or minutes after birth, in the contract's unit."""
    source = take.sources[column.name]
    if source.form in GESTATION_FORMS:
        return gestation(text, source.form)
    number = number_of(text, source.marks)
    in_units = _in_units(unit, raw, take, column, number)
    if column.type == "minutes":
        return f"round({in_units or _minutes(raw, source, text)}, 3)"
    if column.type == "decimal":
        return _decimal(in_units or _measured(unit, raw, take, column, number), column)
    if in_units is None and (not isinstance(source.unit, str) or source.unit == column.unit):
        return _integer(number)
    whole = in_units or _measured(unit, raw, take, column, number)
    return f"try_cast(round({whole}) as integer)"

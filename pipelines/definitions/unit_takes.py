"""Which export file is taken as which canonical table, and where each column comes from."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.read_contract import Table
from pipelines.definitions.spec_checks import need, refuse_unknown
from pipelines.definitions.unit_readings import (
    PLAIN,
    READING_KEYS,
    Context,
    Marks,
    fitting_kinds,
    read_locale,
    reading_of,
)

_FILE_KEYS = {
    *("pattern", "delimiter", "encoding", "quote", "takes", "locale"),
    *("format", "sheet", "header_line", "columns"),
}
_SOURCE_KEYS = {"from", "value", "unit", "unit_from", "recode", "form"} | READING_KEYS


@dataclass(frozen=True)
class Source:
    """Where one canonical column comes from in one take of an export file.

    Exactly one of ``columns`` (local column names, joined by a blank or, for gestation,
    by a plus) and ``value`` (a constant) is given.
    """

    columns: tuple[str, ...] = ()
    value: str | None = None
    unit: str | Mapping[str, str] | None = None
    unit_from: str | None = None
    recode: str | None = None
    form: str | None = None
    # The unit of each of two columns that are added up: pounds and ounces.
    units: tuple[str, ...] = ()
    # Units that stand in one column and are told apart by what is possible.
    either: tuple[str, ...] = ()
    # How the text is read; see ``unit_readings`` and ``unit_times``.
    marks: Marks = PLAIN
    missing: tuple[str, ...] = ()
    not_applicable: tuple[str, ...] = ()
    formats: tuple[str, ...] = ()

    @property
    def codes(self) -> tuple[str, ...]:
        """Every text that stands for no value."""
        return (*self.missing, *self.not_applicable)


@dataclass(frozen=True)
class Take:
    """One canonical table taken from one export file."""

    table: str
    sources: Mapping[str, Source]


@dataclass(frozen=True)
class ExportFile:
    """One pattern of export files and what is taken from each matching file."""

    pattern: str
    delimiter: str
    encoding: str
    takes: tuple[Take, ...]
    quote: str = '"'
    # The reader, by its name in ``stages/raw/formats.py``; None: by the ending of the file's name.
    format: str | None = None
    sheet: str | None = None
    # The line of the names, and the names of a file that has none.
    header_line: int | None = None
    columns: tuple[str, ...] = ()

    @property
    def local_columns(self) -> tuple[str, ...]:
        """Every local column the takes name, in order of first mention."""
        names: dict[str, None] = {}
        for take in self.takes:
            for source in take.sources.values():
                names.update(dict.fromkeys(source.columns))
                if source.unit_from:
                    names[source.unit_from] = None
        return tuple(names)


def _source(where: str, table: Table, name: str, spec: Any, context: Context) -> Source:
    if name not in table.columns:
        raise DeclarationError(
            f"{where}: table '{table.name}' has no column '{name}'.{nearest(name, table.columns)}"
        )
    recodes = context.recodes
    spec = {"from": spec} if isinstance(spec, str) else spec
    refuse_unknown(where, spec, _SOURCE_KEYS)
    if ("from" in spec) == ("value" in spec):
        raise DeclarationError(f"{where}: give either 'from' (a column) or 'value' (a constant).")
    origin = spec.get("from", ())
    columns = (origin,) if isinstance(origin, str) else tuple(origin)
    if spec.get("recode") is not None and spec["recode"] not in recodes:
        raise DeclarationError(
            f"{where}: recode '{spec['recode']}' is not in [recodes]."
            f"{nearest(spec['recode'], recodes)}"
        )
    column = table.columns[name]
    plain = {key: spec.get(key) for key in ("value", "unit_from", "recode", "form")}
    source = Source(columns=columns, **plain, **reading_of(where, table, column, spec, context))
    if column.type == "code" and source.value is not None and source.value not in column.allowed:
        raise DeclarationError(
            f"{where}: '{source.value}' is not allowed.{nearest(source.value, column.allowed)}"
        )
    both = {code.casefold() for code in source.codes} & {
        word.casefold() for word in recodes.get(source.recode or "", {})
    }
    if both:
        raise DeclarationError(
            f"{where}: '{min(both)}' is in [recodes.{source.recode}] and stands for no value; "
            "take it out of one."
        )
    return source


def _check_constant_kind(where: str, table: Table, sources: Mapping[str, Source]) -> None:
    """A reading of one kind alone must be in units that this kind has."""
    kind, value = sources.get("kind"), sources.get("value")
    if kind is None or value is None or kind.value is None or kind.value not in table.kinds:
        return
    if isinstance(value.unit, str):
        table.kinds[kind.value].conversion(f"{where} {table.name}.value", value.unit)
    fitting = fitting_kinds(table, table.columns["value"], value.units or value.either)
    if kind.value not in fitting:
        raise DeclarationError(
            f"{where}: {' and '.join(value.units or value.either)} are no units of {kind.value}."
        )


def _take(where: str, spec: Mapping[str, Any], context: Context) -> Take:
    recodes, contract = context.recodes, context.contract
    refuse_unknown(where, spec, {"table", "columns"})
    need(where, spec, "table", "columns")
    if spec["table"] not in contract:
        raise DeclarationError(
            f"{where}: there is no table '{spec['table']}'.{nearest(spec['table'], contract)}"
        )
    table = contract[spec["table"]]
    sources = {
        name: _source(f"{where} {table.name}.{name}", table, name, source, context)
        for name, source in spec["columns"].items()
    }
    _check_constant_kind(where, table, sources)
    set_by_recode = {
        target
        for source in sources.values()
        if source.recode
        for row in recodes[source.recode].values()
        for target in row
    }
    needed = {"record_id"} | ({"kind"} if table.is_event else set())
    for name in needed:
        if name not in sources and name not in set_by_recode:
            raise DeclarationError(f"{where}: table '{table.name}' needs a source for '{name}'.")
    return Take(table.name, sources)


def read_file(where: str, spec: Mapping[str, Any], context: Context) -> ExportFile:
    """Read one ``[[files]]`` of a unit's file, with everything that is taken from it.

    Raises DeclarationError naming the key where something cannot be meant.
    """
    refuse_unknown(where, spec, _FILE_KEYS)
    need(where, spec, "pattern", "takes")
    own = read_locale(f"{where} [files.locale]", spec.get("locale", {}), context.locale)
    context = replace(context, locale=own)
    takes = tuple(
        _take(f"{where} takes[{place}]", take, context)
        for place, take in enumerate(spec["takes"], start=1)
    )
    is_tabbed = spec["pattern"].removesuffix(".gz").endswith((".tsv", ".tab"))
    delimiter, quote = spec.get("delimiter", "\t" if is_tabbed else ","), spec.get("quote", '"')
    encoding = spec.get("encoding", "utf-8")
    try:
        "a".encode(encoding)  # a codec that makes bytes of bytes, such as base64, is none of text
    except (LookupError, ValueError):
        raise DeclarationError(
            f"{where}: encoding '{encoding}' is not known; write one such as 'utf-8', "
            "'windows-1252' or 'utf-16'."
        ) from None
    if delimiter in {"\n", "\r"} or (quote and delimiter == quote):
        raise DeclarationError(f"{where}: delimiter cannot be a line end or the quote.")
    if len(delimiter) != 1:
        raise DeclarationError(f"{where}: delimiter must be one character, such as ',' or ';'.")
    if len(quote) > 1:
        raise DeclarationError(f'{where}: quote is one character, or "" where none is used.')
    line, columns = spec.get("header_line"), tuple(spec.get("columns", ()))
    if line is not None and (not isinstance(line, int) or line < 1):
        raise DeclarationError(f"{where}: header_line is the number of a line, from 1.")
    if len(set(columns)) < len(columns):
        raise DeclarationError(f"{where}: 'columns' has a name twice; each must be its own.")
    return ExportFile(
        pattern=spec["pattern"],
        delimiter=delimiter,
        encoding=encoding,
        takes=takes,
        quote=quote,
        format=spec.get("format"),
        sheet=spec.get("sheet"),
        header_line=line,
        columns=columns,
    )

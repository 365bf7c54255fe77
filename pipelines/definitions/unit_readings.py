"""How the text of one column is read: marks of numbers, codes for nothing, units of measure.

All of it is declared in the unit's file and checked here when that is read: what could be read
in two ways is refused, for a number that was misread looks like any other.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any, Final

from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.measuring_units import conversion
from pipelines.definitions.read_contract import Column, Contract, Kind, Table
from pipelines.definitions.spec_checks import refuse_unknown
from pipelines.definitions.unit_times import checked_forms

GESTATION_FORMS: Final = (
    "weeks_and_days",
    "weeks_with_or_without_days",
    "weeks_point_days",
    "completed_weeks",
)
# One text of two numbers, the larger unit first.
PART_FORMS: Final = {
    "pounds_and_ounces": ("[lb_av]", "[oz_av]"),
    "feet_and_inches": ("[ft_i]", "[in_i]"),
}
LOCALE_KEYS: Final = {"decimal", "thousands", "missing", "not_applicable"}
READING_KEYS: Final = LOCALE_KEYS | {"either_unit", "formats"}
_DECIMAL_MARKS: Final = (".", ",")
# A blank stands for a no-break space and a narrow one, too.
_THOUSANDS_MARKS: Final = ("", ".", ",", "'", "\u2019", " ", "_")
_JOINED_TYPES: Final = {"text", "category", "code", "boolean", "instant"}
_PLAIN_NUMBER: Final = re.compile(r"[-+]?\d+(\.\d+)?")


@dataclass(frozen=True)
class Marks:
    """The decimal mark of numbers and the mark that sets off thousands ("" for none)."""

    decimal: str = "."
    thousands: str = ""


PLAIN: Final = Marks()


@dataclass(frozen=True)
class Locale:
    """What holds for every column that does not say otherwise."""

    marks: Marks = Marks()
    missing: tuple[str, ...] = ()
    not_applicable: tuple[str, ...] = ()


@dataclass(frozen=True)
class Context:
    """What a unit's file says for all its columns, or all of one file."""

    recodes: Mapping[str, Mapping[str, Mapping[str, str]]]
    contract: Contract
    locale: Locale
    is_clock: bool
    formats: tuple[str, ...]


def read_locale(where: str, spec: Mapping[str, Any], above: Locale | None = None) -> Locale:
    """Read a ``locale`` table, over the one that holds above it (the unit's, for a file)."""
    above = above or Locale()
    refuse_unknown(where, spec, LOCALE_KEYS)
    return Locale(
        read_marks(where, spec, above.marks),
        (*above.missing, *_words(where, "missing", spec)),
        (*above.not_applicable, *_words(where, "not_applicable", spec)),
    )


def read_marks(where: str, spec: Mapping[str, Any], above: Marks) -> Marks:
    """Return the marks of numbers. Raises DeclarationError where one mark would mean two things."""
    decimal = spec.get("decimal", above.decimal)
    # Whoever changes the decimal mark alone does not mean the thousands of another language.
    inherited = "" if "decimal" in spec and decimal != above.decimal else above.thousands
    marks = Marks(decimal, spec.get("thousands", inherited))
    if marks.decimal not in _DECIMAL_MARKS:
        raise DeclarationError(f"{where}: decimal must be '.' or ','.")
    if marks.thousands not in _THOUSANDS_MARKS:
        listed = ", ".join(repr(mark) for mark in _THOUSANDS_MARKS if mark)
        raise DeclarationError(f"{where}: thousands must be one of {listed}, or left out.")
    if marks.decimal == marks.thousands:
        raise DeclarationError(
            f"{where}: '{marks.decimal}' cannot set off both decimals and thousands: 3{decimal}020 "
            f'would be 3 and 3,020. Write decimal = "{"," if decimal == "." else "."}" as well.'
        )
    return marks


def _words(where: str, key: str, spec: Mapping[str, Any]) -> tuple[str, ...]:
    words = spec.get(key, ())
    if not isinstance(words, list | tuple) or not all(isinstance(word, str) for word in words):
        raise DeclarationError(f'{where}: {key} must be a list of texts, such as ["88", "k.A."].')
    return tuple(word.strip() for word in words)


def reading_of(
    where: str, table: Table, column: Column, spec: Mapping[str, Any], context: Context
) -> dict[str, Any]:
    """Return the fields of a Source that say how its text is read.

    Raises DeclarationError where a text could not be read, or not in one way alone.
    """
    locale = context.locale
    origin = spec.get("from", ())
    columns = (origin,) if isinstance(origin, str) else tuple(origin)
    unit = spec.get("unit")
    units: tuple[str, ...] = ()
    if isinstance(unit, list):
        units, unit = _parts(where, table, column, columns, unit), None
    elif spec.get("form") in PART_FORMS:
        units = _parts(where, table, column, ("", ""), PART_FORMS[spec["form"]])
    either = _either(where, table, column, spec.get("either_unit", ()))
    _check_form(where, column, spec.get("form"))
    _check_unit(where, table, column, spec)
    if len(columns) > 1 and not units:
        _refuse_joined(where, column, spec, context)
    missing = (*locale.missing, *_words(where, "missing", spec))
    not_applicable = (*locale.not_applicable, *_words(where, "not_applicable", spec))
    read_as = units or either or ((unit,) if isinstance(unit, str) else ())
    _check_codes(where, table, column, (*missing, *not_applicable), read_as)
    return {
        "unit": unit,
        "units": units,
        "either": either,
        "marks": read_marks(where, spec, locale.marks),
        "missing": missing,
        "not_applicable": not_applicable,
        "formats": _formats(where, column, spec, context),
    }


def _formats(
    where: str, column: Column, spec: Mapping[str, Any], context: Context
) -> tuple[str, ...]:
    """Return the written forms of a clock time; () where the column holds none."""
    with_unit = any(spec.get(key) for key in ("unit", "unit_from", "either_unit"))
    is_clock = context.is_clock and column.type in {"minutes", "instant"} and not with_unit
    if "formats" in spec and not is_clock:
        raise DeclarationError(
            f"{where}: formats belong to a column of clock times; take them out."
        )
    if not is_clock:
        return ()
    return checked_forms(where, spec["formats"]) if "formats" in spec else context.formats


def units_of(table: Table, column: Column) -> dict[str, Kind]:
    """Return what the column measures by kind: "" where it has one unit, {} where it has none."""
    if column.name == "value" and table.kinds:
        return dict(table.kinds)
    unit = column.unit or ("min" if column.type == "minutes" else None)
    return {"": Kind("", unit, column.limits)} if unit else {}


def fitting_kinds(table: Table, column: Column, units: Sequence[str]) -> list[str]:
    """Return the kinds whose canonical unit each of ``units`` can be brought to."""
    return [
        name
        for name, kind in units_of(table, column).items()
        if all(unit in kind.conversions for unit in units)
    ]


def _refuse_joined(where: str, column: Column, spec: Mapping[str, Any], context: Context) -> None:
    """Several columns make one text; a number cannot be read from two without more being said."""
    is_clock_time = column.type == "minutes" and context.is_clock and "unit" not in spec
    if column.type in _JOINED_TYPES or is_clock_time or spec.get("form") == "weeks_and_days":
        return
    if column.name == "gestational_age_days":
        raise DeclarationError(
            f'{where}: weeks and days in two columns need form = "weeks_and_days".'
        )
    raise DeclarationError(
        f"{where}: a number cannot be read from several columns joined; say the unit of each, as "
        'in unit = ["[lb_av]", "[oz_av]"].'
    )


def _check_form(where: str, column: Column, form: str | None) -> None:
    if form is None:
        return
    known = (*GESTATION_FORMS, *PART_FORMS)
    if form not in known:
        raise DeclarationError(f"{where}: form '{form}' is not known.{nearest(form, known)}")
    if (form in GESTATION_FORMS) != (column.name == "gestational_age_days"):
        raise DeclarationError(f"{where}: form '{form}' is not a form of {column.name}.")


def _check_unit(where: str, table: Table, column: Column, spec: Mapping[str, Any]) -> None:
    """Of unit, unit_from and either_unit at most one, on a column that is measured in units."""
    given = [key for key in ("unit", "unit_from", "either_unit") if spec.get(key) is not None]
    if len(given) > 1:
        raise DeclarationError(f"{where}: give one of {' and '.join(given)}, not both.")
    if given and not units_of(table, column):
        beside = " Its unit is the column amount_unit." if column.name == "amount" else ""
        raise DeclarationError(f"{where}: {column.name} has no unit; take {given[0]} out.{beside}")
    unit = spec.get("unit")
    if isinstance(unit, Mapping):
        _check_unit_of_kinds(where, table, unit)
    if isinstance(unit, str) and not fitting_kinds(table, column, [unit]):
        known = sorted(
            {code for kind in units_of(table, column).values() for code in kind.conversions}
        )
        raise DeclarationError(
            f"{where}: unit '{unit}' cannot be brought to that of {column.name}."
            f"{nearest(unit, known)}"
        )


def _check_unit_of_kinds(where: str, table: Table, units: Mapping[str, Any]) -> None:
    for kind, unit in units.items():
        if kind not in table.kinds:
            raise DeclarationError(
                f"{where}: kind '{kind}' has no unit.{nearest(kind, table.kinds)}"
            )
        table.kinds[kind].conversion(where, unit)


def _parts(
    where: str, table: Table, column: Column, columns: Sequence[str], units: Sequence[str]
) -> tuple[str, ...]:
    """Return the units of the parts that are added up, the larger first."""
    if len(units) != len(columns) or len(units) != 2:
        raise DeclarationError(
            f"{where}: a list of units belongs to two columns, one each, as in "
            'from = ["lb", "oz"], unit = ["[lb_av]", "[oz_av]"]. Where one column holds either '
            "unit, write either_unit."
        )
    kinds = fitting_kinds(table, column, units)
    if not kinds:
        raise DeclarationError(
            f"{where}: {' and '.join(units)} cannot be added up to {column.name}."
        )
    canonical = units_of(table, column)[kinds[0]].unit
    if parts_ratio(canonical, units) <= 1:
        raise DeclarationError(f"{where}: name the larger unit first: {units[1]}, then {units[0]}.")
    return tuple(units)


def parts_ratio(canonical: str, units: Sequence[str]) -> float:
    """Return how many of the second unit make one of the first, as 16 ounces a pound."""
    first, second = (conversion("", canonical, unit).to_canonical(1.0) for unit in units)
    return round(first / second, 6)


def _either(where: str, table: Table, column: Column, units: Any) -> tuple[str, ...]:
    """Return units that stand in one column and are told apart by what is possible at all."""
    if not units:
        return ()
    if not isinstance(units, list | tuple) or len(units) < 2:
        raise DeclarationError(f'{where}: either_unit is a list, such as ["Cel", "[degF]"].')
    kinds = fitting_kinds(table, column, units)
    if not kinds:
        raise DeclarationError(f"{where}: {' and '.join(units)} do not measure {column.name}.")
    for kind in kinds:
        spans = {unit: span(units_of(table, column)[kind], unit) for unit in units}
        for one, other in combinations(units, 2):
            if _overlap(spans[one], spans[other]):
                raise DeclarationError(
                    f"{where}: some values of {kind or column.name} are possible in {one} and in "
                    f"{other}, so the number alone does not tell which it is. Name the column that "
                    'says the unit: unit_from = "...".'
                )
    return tuple(units)


def span(kind: Kind, unit: str) -> tuple[float, float]:
    """Return the bounds of what is possible of a kind, in a recorded unit."""
    low, high = kind.limits.error_below, kind.limits.error_above
    rule = kind.conversion("", unit)
    return (
        float("-inf") if low is None else rule.from_canonical(low),
        float("inf") if high is None else rule.from_canonical(high),
    )


def _overlap(one: tuple[float, float], other: tuple[float, float]) -> bool:
    return max(one[0], other[0]) <= min(one[1], other[1])


def _check_codes(
    where: str, table: Table, column: Column, codes: Sequence[str], units: Sequence[str]
) -> None:
    """Raises DeclarationError where a code for nothing could be a reading.

    Only where the contract knows both bounds of the column: a code such as 9 for Apgar would
    make every true 9 vanish. ``units`` are those the column may be written in.
    """
    for kind in units_of(table, column).values():
        limits = kind.limits
        if kind.name or limits.error_below is None or limits.error_above is None:
            continue
        for unit in units or (kind.unit,):
            low, high = span(kind, unit)
            for code in codes:
                if _PLAIN_NUMBER.fullmatch(code) and low <= float(code) <= high:
                    raise DeclarationError(
                        f"{where}: '{code}' cannot mean that there is no value: it is a possible "
                        f"{column.name} ({low:g} to {high:g} {unit}). Have the export leave the "
                        "cell blank or write a word."
                    )

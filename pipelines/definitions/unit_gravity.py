"""Gravity in force in a unit: what the measures say, and what the unit's file says instead.

``[gravity]`` of a unit's file: ``approved_by`` (a role, never a person), ``approved_on``, and
``[gravity.measures]``: measure or band -> a level, or a table of states and grades -> level.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Final

import duckdb

from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.insert_rows import insert_rows
from pipelines.definitions.gravity import ANY_GRADE, LEVELS, Part, check_level, states_of
from pipelines.definitions.read_measures import Band, Measure, refuse_no_measure
from pipelines.definitions.read_units import Unit
from pipelines.definitions.spec_checks import as_date, refuse_unknown

_KEYS: Final = {"approved_by", "approved_on", "measures"}
_UNIT_SOURCE: Final = "as the unit decided"


def approval(unit: Unit) -> tuple[str | None, dt.date | None]:
    """Return the role that approved the gravities and when; None and None: nobody has yet.

    Raises DeclarationError where one is given without the other, or the date is none.
    """
    where = f"{unit.file_name} [gravity]"
    refuse_unknown(where, unit.gravity, _KEYS)
    by, on = unit.gravity.get("approved_by"), unit.gravity.get("approved_on")
    if (by is None) != (on is None):
        missing = "approved_on" if on is None else "approved_by"
        raise DeclarationError(f"{where}: key '{missing}' is missing; say which role and when.")
    if by is not None and (not isinstance(by, str) or not by.strip()):
        raise DeclarationError(f"{where} approved_by: name a role in quotes, never a person.")
    return by, None if on is None else as_date(f"{where} approved_on", on)


def gravity_rows(unit: Unit, measures: Mapping[str, Measure]) -> list[list[object]]:
    """Return unit, measure_id, grade, state, level, place, why, source, is_default.

    One row per measure or band of the unit, grade ('' is any) and state that has a gravity;
    place counts the levels from 1, the gravest. Raises DeclarationError naming the unit's file
    and the key.
    """
    approval(unit)
    here = {name: one for name, one in measures.items() if one.is_for(unit.id)}
    given = dict(unit.gravity.get("measures", {}))
    for name in given:
        refuse_no_measure(f"{unit.file_name} [gravity.measures]", name, here)
    rows: list[list[object]] = []
    for measure in here.values():
        bands: Sequence[Band | None] = measure.bands or (None,)
        for measure_id, band in zip(measure.result_ids, bands, strict=True):
            said = given.get(measure_id, given.get(measure.id, {}))
            where = f"{unit.file_name} [gravity.measures] {measure_id}"
            rows += [
                [
                    unit.id,
                    measure_id,
                    grade,
                    state,
                    one.level,
                    _place(one),
                    one.why,
                    one.source,
                    as_shipped,
                ]
                for grade, state, one, as_shipped in _in_force(where, measure, band, said)
            ]
    return rows


def _place(part: Part) -> int:
    return LEVELS.index(part.level) + 1


def _in_force(
    where: str, measure: Measure, band: Band | None, said: object
) -> list[tuple[str, str, Part, bool]]:
    """Return grade, state, part, is_default of one measure or band, as the unit has them."""
    states = states_of(measure.text("direction"))
    by_name = said if isinstance(said, Mapping) else {}
    parts = dict(measure.gravity.parts(band.id if band else None))
    known = {*states, *(grade for grade in parts if grade)}
    for name in by_name:
        if name not in known:
            raise DeclarationError(f"{where}: '{name}' is not known.{nearest(name, sorted(known))}")
    level = None if isinstance(said, Mapping) else check_level(where, said)
    found = []
    for grade, part in parts.items():
        whole = level or by_name.get(grade)
        own = part if whole is None else Part(check_level(where, whole), part.why, _UNIT_SOURCE)
        for state in states:
            one, is_default = own.of(state), whole is None
            # A state is named for the measure; a grade that the unit named speaks for itself.
            if state in by_name and grade in {ANY_GRADE, *(set(parts) - set(by_name))}:
                one = Part(check_level(where, by_name[state]), part.why, _UNIT_SOURCE)
                is_default = False
            found.append((grade, state, one, is_default))
    return found


def fill_gravity(
    connection: duckdb.DuckDBPyConnection, units: Sequence[Unit], measures: Mapping[str, Measure]
) -> None:
    """Fill ``measure.gravity``, one row per unit, measure, grade and state."""
    rows = [row for unit in units for row in gravity_rows(unit, measures)]
    insert_rows(connection, "measure.gravity", rows)

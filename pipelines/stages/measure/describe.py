"""What a store says about itself: its measures, units, changes and policies, in words."""

from collections.abc import Mapping, Sequence

import duckdb

from pipelines.base.hashes import file_hash
from pipelines.base.insert_rows import insert_rows
from pipelines.definitions.leading import leading_ids
from pipelines.definitions.measure_words import (
    exception_words,
    exclusion_words,
    plain_number,
    window_words,
)
from pipelines.definitions.parameters import change_words
from pipelines.definitions.policy import InForce, result_ids
from pipelines.definitions.read_measures import Band, Measure
from pipelines.definitions.read_units import EARLIEST, Unit
from pipelines.definitions.signal_lines import by_result
from pipelines.definitions.unit_gravity import approval, fill_gravity
from pipelines.definitions.worklist import find_chart


def _info_rows(measures: Mapping[str, Measure]) -> list[list[object]]:
    rows: list[list[object]] = []
    for measure in measures.values():
        bands: Sequence[Band | None] = measure.bands or (None,)
        for measure_id, band in zip(measure.result_ids, bands, strict=True):
            title = band.title if band else measure.text("title")
            target = measure.get("target")
            rows.append(
                [
                    measure_id,
                    measure.id,
                    title,
                    measure.text("question"),
                    measure.text("group"),
                    measure.kind,
                    measure.text("direction"),
                    measure.text("population"),
                    measure.text("numerator"),
                    measure.text("anchor"),
                    window_words(measure, band),
                    measure.text("window_status"),
                    exception_words(measure),
                    exclusion_words(measure),
                    measure.text("missing"),
                    "" if target is None else f"{target:.0%}, published",
                    "; ".join(measure.get("sources", ())),
                    measure.text("disagreement"),
                    measure.text("documentation_trap"),
                    measure.text("caution"),
                    list(measure.get("balancing", ())),
                    list(measure.get("look_at", ())),
                    measure.text("version"),
                    len(rows) + 1,
                    band.unit if band else measure.text("value_unit") or None,
                    list(measure.get("also_called", ())),
                ]
            )
    return rows


def _policy_rows(
    units: Sequence[Unit], measures: Mapping[str, Measure], policies: InForce
) -> tuple[list[list[object]], list[list[object]]]:
    targets: list[list[object]] = []
    breaks: list[list[object]] = []
    for unit in units:
        for measure in measures.values():
            before: Mapping[str, object] = {}
            for start, end, numbers in policies[measure.id][unit.id]:
                targets += [
                    [measure_id, unit.id, start, end, numbers.get("target")]
                    for measure_id in measure.result_ids
                ]
                changed = [
                    change_words(key, before[key], value)
                    for key, value in numbers.items()
                    # Who reads a record changes no number, so no chart breaks there.
                    if start != EARLIEST and key != "listed" and before.get(key) != value
                ]
                if changed:
                    breaks += [
                        [unit.id, measure_id, start, "local policy: " + "; ".join(changed)]
                        for measure_id in measure.result_ids
                    ]
                before = numbers
    return targets, breaks


def _in_force(
    units: Sequence[Unit], measures: Mapping[str, Measure], policies: InForce
) -> list[list[object]]:
    """Every number of every measure by unit and birth date, and which reading leads a page."""
    rows: list[list[object]] = []
    for unit in units:
        for measure in measures.values():
            leads = dict(measure.get("headline_when", {}))
            for start, end, numbers in policies[measure.id][unit.id]:
                said = dict(numbers)
                if leads:
                    said["headline"] = all(numbers[key] == value for key, value in leads.items())
                rows += [
                    [
                        unit.id,
                        measure_id,
                        name,
                        _plain(value),
                        start,
                        end,
                        value == measure.numbers.get(name, value),
                    ]
                    for measure_id in measure.result_ids
                    for name, value in said.items()
                ]
    return rows


def _plain(value: object) -> str | None:
    """Write a number, yes/no or word as the unit's file would."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return plain_number(value)
    return None if value is None else str(value)


def _numbers_set(unit: Unit) -> list[str]:
    return [
        f"{rule}: {name} = {value}"
        for rule, numbers in unit.checks.get("numbers", {}).items()
        for name, value in numbers.items()
    ]


def _signal_rows(units: Sequence[Unit], measures: Mapping[str, Measure]) -> list[list[object]]:
    results = result_ids(measures)
    return [
        [unit.id, name, line.on, line.step, line.level_from, line.role, line.reason]
        for unit in units
        for name, line in by_result(unit.signals, results)
    ]


# Of fewer newborns an empty column says nothing of the export.
_FEW = 10


def _missing_columns(
    connection: duckdb.DuckDBPyConnection, measures: Mapping[str, Measure]
) -> list[list[object]]:
    """Return (unit, measure, column) where nobody of a unit has what says whom it is about."""
    needs = {name for measure in measures.values() for name in measure.population_needs}
    names = sorted(needs)
    counts = "".join(f", count({name.removeprefix('admission.')})" for name in names)
    rows = connection.execute(
        f"select unit{counts} from mart.newborn group by unit having count(*) >= {_FEW} "
        "order by unit"
    ).fetchall()
    empty = {
        (unit, name)
        for unit, *filled in rows
        for name, n in zip(names, filled, strict=True)
        if n == 0
    }
    found: list[list[object]] = []
    for unit in sorted({unit for unit, _ in empty}):
        for measure in (one for one in measures.values() if one.is_for(unit)):
            first = next((one for one in measure.population_needs if (unit, one) in empty), None)
            if first is not None:
                found += [[unit, measure_id, first] for measure_id in measure.result_ids]
    return found


def describe_store(
    connection: duckdb.DuckDBPyConnection,
    units: Sequence[Unit],
    measures: Mapping[str, Measure],
    policies: InForce,
    build_info: Mapping[str, str],
) -> None:
    """Fill every table of the schema measure that says what a store is about."""
    targets, breaks = _policy_rows(units, measures, policies)
    insert_rows(connection, "measure.measure_info", _info_rows(measures))
    insert_rows(connection, "measure.missing_column", _missing_columns(connection, measures))
    fill_gravity(connection, units, measures)
    insert_rows(connection, "measure.target", targets)
    insert_rows(connection, "measure.policy_break", breaks)
    insert_rows(connection, "measure.policy", _in_force(units, measures, policies))
    insert_rows(
        connection,
        "measure.unit_info",
        [
            [
                unit.id,
                unit.title,
                unit.time_form,
                unit.keep_birth_date,
                file_hash(unit.path) if unit.path else "",
                list(unit.checks.get("off", ())),
                _numbers_set(unit),
                *approval(unit),
                find_chart(unit),
                leading_ids(unit, measures),
            ]
            for unit in units
        ],
    )
    insert_rows(
        connection,
        "measure.change_log",
        [
            [
                unit.id,
                change.id,
                change.start,
                change.title,
                list(change.measures),
                list(change.balancing),
                list(change.process),
            ]
            for unit in units
            for change in unit.changes
        ],
    )
    insert_rows(connection, "measure.signal_line", _signal_rows(units, measures))
    insert_rows(
        connection, "measure.build_info", [[key, value] for key, value in build_info.items()]
    )

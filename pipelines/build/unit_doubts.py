"""What a build found that is more likely a slip in the unit's file than in the charts.

A whole column that cannot be read, a unit of measure that does not fit, a word that is on no
recode list: said at the end of a build, so that the file is put right before anyone looks at
single records. No single newborn's value is in these words: shapes, counts and repeated codes.
"""

from typing import Final

import duckdb
import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.build.frames import (
    DoubtfulColumnRow,
    DoubtfulMeasureRow,
    DoubtfulWordRow,
    DoubtRow,
)
from pipelines.definitions.read_contract import Contract
from pipelines.definitions.safe_to_say import shape
from pipelines.reading.queries import query
from pipelines.stages.raw.time_forms import forms_of_shape
from pipelines.words.of_silence import NOT_IN_EXPORT, SWITCH_OFF

LEAST: Final = 10  # entries of a column, and times that a word stands, before it is a pattern
_SHOWN: Final = 12
# What a cause of ``text_reading`` is declared as.
_TO_WRITE: Final = {
    "decimal comma": 'write decimal = "," under [locale], or beside this column alone,',
    "thousands are set off with a comma": 'write thousands = "," under [locale]',
    "written in pounds and ounces": 'write form = "pounds_and_ounces" beside this column',
    "written without its days": 'write form = "weeks_with_or_without_days" beside this column, '
    "if the middle of the week may stand for it,",
    "with a decimal point, and not as weeks": 'write form = "weeks_point_days" beside this column, '
    "if the digit after the point is days,",
}


def unit_doubts(
    connection: duckdb.DuckDBPyConnection, files: dict[str, str], contract: Contract
) -> list[str]:
    """Return sentences, one per column or word in doubt; ``files``: unit -> name of its file."""
    found = query(connection, "build/doubtful_columns", DoubtfulColumnRow, least=LEAST)
    columns = rows_of(found, DoubtfulColumnRow)
    unknown = query(connection, "build/doubtful_words", DoubtfulWordRow, least=LEAST)
    words = rows_of(unknown, DoubtfulWordRow)
    times = [row for row in columns if _is_time(row, contract)]
    said = [_of_times(rows, files) for rows in _alike(times)]
    said += [_of_values(row, files) for row in columns if row not in times]
    said += [_of_word(row, files) for row in words]
    more = len(said) - _SHOWN
    return said[:_SHOWN] + ([f"{more} more: see the data quality page."] if more > 0 else [])


def not_in_export(connection: duckdb.DuckDBPyConnection, files: dict[str, str]) -> list[str]:
    """Return a sentence per unit whose export says nothing of some measures, naming them."""
    measures = query(connection, "build/doubtful_measures", DoubtfulMeasureRow)
    return [
        _of_measures(str(unit), rows, files) for unit, rows in measures.groupby("unit", sort=False)
    ]


def _is_time(row: DoubtfulColumnRow, contract: Contract) -> bool:
    table = contract[row["table_name"]]
    return row["rule_id"] == "unreadable" and table.columns[row["column_name"]].is_time


def _alike(times: list[DoubtfulColumnRow]) -> list[list[DoubtfulColumnRow]]:
    """Return the unreadable times, those of one unit and one shape together."""
    groups: dict[tuple[str, str | None], list[DoubtfulColumnRow]] = {}
    for row in times:
        groups.setdefault((row["unit"], row["recorded_value"]), []).append(row)
    return list(groups.values())


def _local(row: DoubtRow) -> str:
    of = f" of {row['kind']}" if isinstance(row.get("kind"), str) else ""
    local = f" (column '{row['local_column']}')" if isinstance(row["local_column"], str) else ""
    return f"{row['table_name']}.{row['column_name']}{of}{local}"


def _of_times(rows: list[DoubtfulColumnRow], files: dict[str, str]) -> str:
    first = rows[0]
    flags = sum(int(row["flags"]) for row in rows)
    shape = first["recorded_value"]
    forms = [f'formats = ["{form}"]' for form in forms_of_shape(str(shape))]
    todo = (
        f"under [time] write {' or '.join(forms)}"
        if forms
        else "write the form of the times under [time] as formats"
    )
    where = _local(first) + (f" and {len(rows) - 1} more columns of times" if rows[1:] else "")
    return (
        f"{files[first['unit']]}: {flags:,} entries of {where} could not be read. "
        f"They look like '{shape}': {todo}."
    )


def _of_values(row: DoubtfulColumnRow, files: dict[str, str]) -> str:
    return (
        f"{files[row['unit']]}: {row['flags']:,} entries of {_local(row)}, most of them, "
        f"carry one flag ({row['rule_id']}). {row['explanation']} So many at once are rarely slips "
        f"of single entries: {_todo(row['explanation'])}."
    )


def _todo(explanation: str | None) -> str:
    """Say what to write where the texts show their cause, else where to look."""
    found = [todo for cause, todo in _TO_WRITE.items() if cause in (explanation or "")]
    return (
        f"{found[0]} in the unit file"
        if found
        else "look at the column, its unit and its form in the unit file first"
    )


def _named(row: DoubtfulMeasureRow) -> str:
    """Name a measure, with the column of which nobody has what says whom it is about."""
    missing = row["missing_column"]
    return f"{row['measure_id']} (needs {missing})" if missing else row["measure_id"]


def _of_measures(unit: str, rows: pd.DataFrame, files: dict[str, str]) -> str:
    measures = [_named(row) for row in rows_of(rows, DoubtfulMeasureRow)]
    find = "measure finds" if len(measures) == 1 else "measures find"
    return (
        f"{files[unit]}: {len(measures)} {find} no usable record in the whole export; pages say "
        f"'{NOT_IN_EXPORT}': {', '.join(measures)}. Map the column where the "
        "export has one ('lanugo measures ID' says what is read). Switch a measure off "
        f'{SWITCH_OFF}: [[policy]] measure = "ID", applies = false.'
    )


def _of_word(row: DoubtfulWordRow, files: dict[str, str]) -> str:
    said = str(row["recorded_value"])
    if said == shape(said):  # a word that is not known here may be a name
        return (
            f"{files[row['unit']]}: {row['flags']:,} entries of {_local(row)} are on no recode "
            f"list. They look like '{said}' and are not said here; the first is in "
            f"{row['source_file']} line {row['source_line']}. Add what they mean there."
        )
    return (
        f"{files[row['unit']]}: the word '{row['recorded_value']}' stands {row['flags']:,} times "
        f"in {_local(row)} and is on no recode list, so its meaning is not known. Add it there."
    )

"""What the data quality page reads beside the review: added to the fabricated store.

Each table says one thing that a test looks for: a measure that flags move, answers that hold and
one that is stale, a silent column, a word on no list, heaped digits, a check that is off and one
that could not be judged.
"""

from typing import Any

import duckdb
import numpy as np
import pandas as pd

HOSTILE_WORD = "<script>document.title='broken'</script>"
MOVED = "first_feed"  # the measure whose rate the flags move
SILENT_MONTHS = ("2025-12-01", "2026-01-01")
COLUMNS = ("weight_g", "length_cm", "apgar_10")
KINDS = (("observation", "temperature"), ("dose", "vitamin_k"), ("care", "bath"))


def _flag(newborn: dict[str, Any], **fields: Any) -> dict[str, Any]:
    return {
        "unit": newborn["unit"],
        "record_id": newborn["record_id"],
        "table_name": "admission",
        "kind": None,
        "source_file": "newborns_2026.csv",
        "source_line": newborn["newborn_id"] + 1,
        "column_name": "weight_g",
        "recorded_value": "34000",
        "rule_id": "weight_unit_slip",
        "severity": "error",
        "explanation": "The weight would fit if a digit had slipped.",
        "suggestion": "3400 g if a digit was added",
        "answer": None,
        "answered_by": None,
        "answer_reason": None,
        **fields,
    }


def quality_flags(newborns: pd.DataFrame, months: list[Any]) -> pd.DataFrame:
    """Return flags of months before the last, and two that are about a whole column."""
    before = newborns[newborns["birth_month"] < months[-1]]
    rows = [_flag(newborn) for newborn in before.tail(150).iloc[::9].to_dict("records")]
    temperature = {
        "table_name": "observation",
        "kind": "temperature",
        "column_name": "value",
        "recorded_value": "98.6",
        "rule_id": "temperature_slip",
        "suggestion": "37.0 \N{DEGREE SIGN}C if it was Fahrenheit",
    }
    rows += [_flag(one, **temperature) for one in before.head(4).to_dict("records")]
    word = {
        "column_name": "mode_of_birth",
        "recorded_value": HOSTILE_WORD,
        "rule_id": "not_on_list",
        "severity": "query",
        "suggestion": None,
    }
    rows += [_flag(one, **word) for one in before.iloc[20:27].to_dict("records")]
    rows[0] |= {"answer": "confirmed", "answered_by": "charge nurse", "answer_reason": "weighed"}
    rows[1] |= {"answer": "wrong", "answered_by": "analyst", "answer_reason": HOSTILE_WORD}
    whole = {"record_id": None, "source_line": None, "recorded_value": None, "suggestion": "Ask."}
    first = before.iloc[0].to_dict()
    rows.append(
        _flag(
            first,
            **whole,
            rule_id="column_went_silent",
            severity="query",
            column_name="length_cm",
            explanation="length, December 2025 to January 2026: 0 of 120 newborns have it.",
        )
    )
    rows.append(
        _flag(
            first,
            **whole,
            rule_id="month_count_breaks",
            severity="note",
            column_name="birth_month",
            explanation="May 2024: 52 newborns, where about 60 a month were usual.",
        )
    )
    return pd.DataFrame(rows)


def _completeness(newborns: pd.DataFrame) -> pd.DataFrame:
    births = newborns.groupby("birth_month").size()
    rows = []
    lines = [("admission", None, name) for name in COLUMNS]
    lines += [(table, kind, "kind") for table, kind in KINDS]
    lines.append(("observation", "temperature", "value"))
    for table, kind, name in lines:
        for month, born in births.items():
            usual = 0.01 if name == "apgar_10" else 0.96
            usable = 0 if name == "length_cm" and str(month) in SILENT_MONTHS else int(born * usual)
            rows.append(
                {
                    "unit": newborns["unit"].iloc[0],
                    "table_name": table,
                    "kind": kind,
                    "column_name": name,
                    "shift": "all",
                    "month": month,
                    "newborns": born,
                    "total": born,
                    "recorded": min(usable + 1, born),
                    "usable": usable,
                }
            )
    return pd.DataFrame(rows)


def _events(rng: np.random.Generator, newborns: pd.DataFrame) -> pd.DataFrame:
    """Temperatures heaped on 36.5, respiratory rates on multiples of 4, heart rates on nothing."""
    number = len(newborns)
    heaped = rng.random(number) < 0.3
    values = {
        "temperature": np.where(heaped, 36.5, rng.normal(36.9, 0.3, number).round(1)),
        "respiratory_rate": np.where(
            heaped, 4 * rng.integers(9, 15, number), rng.normal(45, 7, number).round()
        ),
        "heart_rate": rng.normal(140, 14, number).round(),
    }
    return pd.concat(
        [
            newborns[["unit", "record_id", "newborn_id"]].assign(
                table_name="observation", kind=kind, minutes=45.0, value=value, status=None
            )
            for kind, value in values.items()
        ]
    )


def _as_recorded(results: pd.DataFrame) -> pd.DataFrame:
    """The same rates, but for one measure whose unusable values would all be met."""
    recorded = results.copy()
    moved = recorded["measure_id"] == MOVED
    recorded.loc[moved, "numerator"] += recorded.loc[moved, "unusable"]
    recorded.loc[moved, "unusable"] = 0
    return recorded


def add_quality(
    store: duckdb.DuckDBPyConnection,
    rng: np.random.Generator,
    newborns: pd.DataFrame,
    results: pd.DataFrame,
) -> None:
    """Add the tables of the data quality page to the fabricated store."""
    frames = {
        "completeness": _completeness(newborns),
        "event": _events(rng, newborns),
        "as_recorded": _as_recorded(results),
    }
    for name, frame in frames.items():
        store.register("frame", frame)
        store.execute(f"create or replace table {name} as select * from frame")
        store.unregister("frame")
    store.execute("alter table completeness alter month type date")
    store.execute("alter table as_recorded alter period_start type date")
    unit = newborns["unit"].iloc[0]
    store.execute(
        """
        create table answer (unit varchar, record_id varchar, column_name varchar,
            decision varchar, role varchar, why varchar, table_name varchar,
            recorded_value varchar, source_line bigint, file_line bigint, flags bigint);
        insert into answer values
            (?, 'FH00001', 'weight_g', 'wrong', 'charge nurse', 'twice entered', 'admission',
             '99', null, 4, 0);
        """,
        [unit],
    )
    store.execute(
        """
        create or replace table verdict as select * from (values
            ('weight_unit_slip', 'admission', 'Birth weight in another unit', 'error', null),
            ('temperature_slip', 'observation', 'Temperature in another scale', 'error', null),
            ('outside_limits', 'admission', 'weight_g is outside 200 to 8200 g', 'error', null),
            ('outside_limits', 'admission', 'length_cm is outside 20 to 65 cm', 'error', null),
            ('twin_sizes', 'admission', 'Twins of one size', 'note',
             'BinderException: no column'),
            ('conflicting_duplicate', 'admission', 'no record stands twice', 'query', null))
            as t(rule_id, table_name, title, severity, could_not_be_judged);
        alter table unit_info add column checks_off varchar[];
        alter table unit_info add column checks_set varchar[];
        update unit_info set checks_off = ['conflicting_duplicate'],
            checks_set = ['column_went_silent: at_least = 30'];
        """
    )

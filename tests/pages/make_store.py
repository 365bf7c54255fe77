"""A small fabricated store with the public views' columns, for tests of the pages alone.

``make_store(path)`` writes it. The numbers are drawn with a fixed seed; a few newborns carry
text that would be markup if a page let it through.
"""

import datetime as dt
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pandas as pd
from statsmodels.stats.proportion import proportion_confint

from pipelines.base.store_file import STORE_VERSION

from .make_quality import add_quality, quality_flags

UNIT = "fern_hollow"
HOSTILE = "<img src=x onerror=\"document.title='broken'\">"
UNIT_TITLE = f"Fern Hollow birth unit {HOSTILE}"
MONTHS = [month.date() for month in pd.date_range("2024-05-01", "2026-04-01", freq="MS")]
REVIEW_MONTH = "2026-04"
CHANGE_ON = dt.date(2025, 9, 10)
BREAK_ON = dt.date(2026, 1, 1)

# id, parent, title, group, kind, direction, missing, target, rate before, rate in the last
# month, share not documented, share excluded, share eligible, upper edge in minutes
MEASURES: list[tuple[Any, ...]] = [
    ("first_temperature", None, "First temperature within 60 minutes", "warmth", "proportion",
     "higher", "not_met", 0.90, 0.86, 0.95, 0.04, 0.02, 1.0, 60),
    ("arrival_temperature", None, "Arrival temperature in range", "warmth", "proportion",
     "higher", "left_out", 0.85, 0.80, 0.80, 0.06, 0.02, 0.9, None),
    ("arrival_cold_mild", "arrival_cold", "Cold at arrival, 36.0 to 36.4 degrees C", "warmth",
     "bands", "lower", "left_out", None, 0.12, 0.12, 0.06, 0.02, 0.9, None),
    ("arrival_cold_severe", "arrival_cold", "Cold at arrival, below 32 degrees C", "warmth",
     "bands", "lower", "left_out", None, 0.01, 0.02, 0.06, 0.02, 0.9, None),
    ("warm_excess", None, "Too warm in the first 4 hours", "warmth", "proportion", "lower",
     "left_out", None, 0.05, 0.06, 0.05, 0.02, 1.0, None),
    ("recheck", None, "Re-check within 30 minutes of a cold reading", "warmth", "episode",
     "higher", "not_met", 0.80, 0.55, 0.55, 0.2, 0.0, 0.15, 30),
    ("half_hourly", None, "Half-hourly observation until settled", "first observations",
     "proportion", "higher", "not_met", None, 0.6, 0.62, 0.03, 0.05, 1.0, None),
    ("size_triad", None, "Weight, length and head recorded within 24 hours", "measuring",
     "proportion", "higher", "not_met", 0.98, 0.97, 0.99, 0.01, 0.0, 1.0, 1440),
    ("two_bands", None, "Two identity bands before leaving the birth room", "identity",
     "proportion", "higher", "not_met", None, 0.9, 0.9, 0.1, 0.0, 0.4, None),
    ("vitamin_k", None, "Vitamin K within 6 hours", "protection", "proportion", "higher",
     "not_met", 0.95, 0.95, 0.72, 0.15, 0.0, 1.0, 360),
    ("hepatitis_b_negative", None, "Hepatitis B vaccine within 24 hours, mother negative",
     "protection", "proportion", "higher", "not_met", 0.90, 0.88, 0.86, 0.1, 0.0, 0.9, 1440),
    ("hepatitis_b_positive", None, "Vaccine and immune globulin within 12 hours, mother positive",
     "protection", "proportion", "higher", "not_met", 1.0, 1.0, 1.0, 0.0, 0.0, 0.0, 720),
    ("first_feed", None, "First feed within 60 minutes", "contact and feeding", "proportion",
     "higher", "not_met", None, 0.7, 0.73, 0.08, 0.02, 1.0, 60),
    ("first_stool", None, "First stool within 24 hours", "screening", "proportion", "neither",
     "left_out", None, 0.95, 0.96, 0.03, 0.02, 1.0, 1440),
    ("told_tier_1", None, "Provider told of an urgent finding within 15 minutes",
     "telling the provider", "episode", "higher", "not_met", None, 0.8, 0.8, 0.1, 0, 0.05, 15),
]  # fmt: skip


def _newborns(rng: np.random.Generator) -> pd.DataFrame:
    rows = []
    for month in MONTHS:
        for _ in range(int(rng.integers(52, 68))):
            key = len(rows) + 1
            rows.append(
                {
                    "newborn_id": key,
                    "unit": UNIT,
                    "record_id": f"FH{key:05d}" if key % 40 else f"FH{key:05d}{HOSTILE}",
                    "birth_month": month,
                    "birth_order": key,
                    "birth_date": month + dt.timedelta(days=int(rng.integers(0, 28))),
                    "live_birth": bool(rng.random() > 0.004),
                    "shift": str(rng.choice(["day", "night"])),
                    "weight_g": 3300.0,
                }
            )
    return pd.DataFrame(rows)


def _state(rng: np.random.Generator, measure: tuple[Any, ...], is_last: bool) -> str:
    rate = measure[9] if is_last else measure[8]
    if rng.random() < measure[11]:
        return "exclusion"
    if rng.random() < measure[10]:
        return "not_documented"
    if rng.random() < rate / (1 - measure[10]):
        return "met"
    if measure[5] == "lower" or measure[4] == "bands":
        return "not_met"
    late = "late" if measure[13] else "not_met"
    weights = {late: 0.6, "not_done": 0.15, "unusable": 0.15, "exception": 0.1}
    return str(rng.choice(list(weights), p=list(weights.values())))


def _memberships(rng: np.random.Generator, newborns: pd.DataFrame) -> pd.DataFrame:
    rows = []
    for newborn in newborns[newborns["live_birth"]].to_dict("records"):
        for measure in MEASURES:
            if rng.random() >= measure[12]:
                continue
            state = _state(rng, measure, newborn["birth_month"] == MONTHS[-1])
            edge = measure[13] or 60
            minutes = {"met": edge * 0.6, "late": edge * rng.uniform(1.02, 2.5)}.get(state)
            reasons = {"not_done": "no_stock", "exception": "declined", "exclusion": "transferred"}
            rows.append(
                {
                    "unit": UNIT,
                    "record_id": newborn["record_id"],
                    "newborn_id": newborn["newborn_id"],
                    "measure_id": measure[0],
                    "item": 1,
                    "period": newborn["birth_month"],
                    "state": state,
                    "is_counted": state not in {"exclusion", "exception"}
                    and not (measure[6] == "left_out" and state in {"not_documented", "unusable"}),
                    "minutes": None if minutes is None else round(minutes),
                    "due_minutes": measure[13],
                    "reason": reasons.get(state),
                    "grade": None,
                    "value": None,
                    "value_minutes": None,
                    "edge": None,
                    "detail": None,
                }
            )
    return pd.DataFrame(rows)


def _results(memberships: pd.DataFrame) -> pd.DataFrame:
    counts = memberships.groupby(["measure_id", "period", "state"]).size().unstack(fill_value=0)
    states = ["exclusion", "exception", "met", "late", "not_done", "not_met", "not_documented"]
    counts = counts.reindex(columns=[*states, "unusable"], fill_value=0).reset_index()
    missing = {measure[0]: measure[6] for measure in MEASURES}
    target = {measure[0]: measure[7] for measure in MEASURES}
    unknown = counts["not_documented"] + counts["unusable"]
    total = counts[[*states, "unusable"]].sum(axis=1)
    left_out = counts["measure_id"].map(missing) == "left_out"
    full = total - counts["exclusion"] - counts["exception"]
    used = full - unknown.where(left_out, 0)
    lower, upper = proportion_confint(counts["met"], used.clip(lower=1), method="wilson")
    return pd.DataFrame(
        {
            "measure_id": counts["measure_id"],
            "unit": UNIT,
            "period_kind": "month",
            "period_start": counts["period"],
            "stratifier": "all newborns",
            "stratum": "all newborns",
            "initial_population": total,
            "exclusion": counts["exclusion"],
            "denominator": total - counts["exclusion"],
            "exception": counts["exception"],
            "numerator": counts["met"],
            "late": counts["late"],
            "not_done": counts["not_done"],
            "not_met": counts["not_met"],
            "not_documented": counts["not_documented"],
            "unusable": counts["unusable"],
            "counted": used,
            "missing_left_out": left_out,
            "rate": (counts["met"] / used).where(used > 0),
            "lower": pd.Series(lower).where(used > 0),
            "upper": pd.Series(upper).where(used > 0),
            "if_none_met": (counts["met"] / full).where(full > 0),
            "if_all_met": ((counts["met"] + unknown) / full).where(full > 0),
            "target": counts["measure_id"].map(target),
        }
    )


def _strata(memberships: pd.DataFrame, newborns: pd.DataFrame) -> pd.DataFrame:
    """Return results by quarter for two groups, one of them with a name that would be markup."""
    quarters = memberships.assign(
        period=pd.to_datetime(memberships["period"]).dt.to_period("Q").dt.start_time.dt.date,
        shift=memberships["newborn_id"].map(newborns.set_index("newborn_id")["shift"]),
    )
    groups = {
        ("shift", "night"): quarters[quarters["shift"] == "night"],
        ("mode_of_birth", HOSTILE): quarters[quarters["newborn_id"] % 3 == 0],
    }
    return pd.concat(
        _results(own).assign(period_kind="quarter", stratifier=split, stratum=name)
        for (split, name), own in groups.items()
    )


def _measure_info() -> pd.DataFrame:
    rows = []
    for position, measure in enumerate(MEASURES, start=1):
        rows.append(
            {
                "measure_id": measure[0],
                "parent_id": measure[1] or measure[0],
                "title": measure[2],
                "question": f"Was it so: {measure[2].lower()}?",
                "group_name": measure[3],
                "kind": measure[4],
                "direction": measure[5],
                "population": "live-born newborns of the unit",
                "numerator": measure[2].lower(),
                "anchor": "birth",
                "window_words": f"0 to {measure[13]} minutes after birth" if measure[13] else "",
                "window_status": "local",
                "exceptions": "declined by the family" if measure[3] == "protection" else "",
                "exclusions": "stillborn; died before the window closed",
                "missing": measure[6],
                "target_words": "",
                "sources": "local decision, no published value",
                "disagreement": "handbooks differ on the window",
                "documentation_trap": "the time charted may be the time of charting",
                "caution": "",
                "balancing": ["warm_excess"] if measure[0] == "arrival_temperature" else [],
                "version": "1.0",
                "position": position,
                "value_unit": "°C" if measure[3] == "warmth" else None,
                "also_called": ["hypothermia", HOSTILE] if "cold" in measure[0] else [],
            }
        )
    return pd.DataFrame(rows)


# What the measures of this store weigh, by hand: level, and of what is less sure.
LEVELS = {
    "hepatitis_b_positive": ("sentinel", "serious"),
    **dict.fromkeys(("told_tier_1", "two_bands"), ("sentinel", "sentinel")),
    "arrival_cold_severe": ("sentinel", "serious"),
    **dict.fromkeys(("recheck", "hepatitis_b_negative"), ("serious", "process")),
    "vitamin_k": ("serious", "serious"),
    "first_stool": ("descriptive", "descriptive"),
}


def _gravity() -> pd.DataFrame:
    order = ["sentinel", "serious", "process", "descriptive"]
    rows = []
    for measure in MEASURES:
        sure, less = LEVELS.get(measure[0], ("process", "process"))
        for state in ("met", "late", "not_done", "not_met", "not_documented", "unusable"):
            level = less if state in {"late", "not_documented", "unusable"} else sure
            rows.append(
                {
                    "unit": UNIT,
                    "measure_id": measure[0],
                    "grade": "",
                    "state": state,
                    "level": level,
                    "place": order.index(level) + 1,
                    "why": f"Why it matters that {measure[2].lower()} {HOSTILE}",
                    "source": "local decision",
                    "is_default": True,
                }
            )
    return pd.DataFrame(rows)


def _flags(newborns: pd.DataFrame) -> pd.DataFrame:
    last = newborns[newborns["birth_month"] == MONTHS[-1]].head(6)
    rows = []
    for place, newborn in enumerate(last.to_dict("records"), start=1):
        is_error = place % 2 == 1
        rows.append(
            {
                "unit": UNIT,
                "record_id": newborn["record_id"],
                "table_name": "admission",
                "source_file": "newborns_2026.csv",
                "source_line": newborn["newborn_id"] + 1,
                "column_name": "weight_g" if is_error else "head_circumference_cm",
                "recorded_value": f"99999{HOSTILE}" if is_error else "48.2",
                "rule_id": "outside_limits" if is_error else "head_for_weight",
                "severity": "error" if is_error else "query",
                "explanation": "The number is far outside what a newborn can weigh."
                if is_error
                else "The head is large for this weight; two numbers may have been swapped.",
                "suggestion": None if is_error else "look at length_cm of the same record",
            }
        )
    return pd.DataFrame(rows)


def _write_small_tables(store: duckdb.DuckDBPyConnection, newborns: pd.DataFrame) -> None:
    store.execute(
        f"""
        create table load_log as select * from (values
            ('{UNIT}', 'newborns_2026.csv', 'b41f0a77c2d9e155aa', {len(newborns) + 3}::bigint,
             {len(newborns)}::bigint, 3::bigint, timestamp '2026-05-04 06:10:00', null),
            ('{UNIT}', 'medication_2026.csv', '0c77aa91f3e2b8d41b', 4100::bigint, 4100::bigint,
             0::bigint, timestamp '2026-05-04 06:10:05', 'header only in one part'))
            as t(unit, source_file, content_hash, rows_in, rows_kept, rows_rejected, loaded_at,
            note);
        create table rejected as select * from (values
            ('{UNIT}', 'newborns_2026.csv', 12::bigint, 'no study key'),
            ('{UNIT}', 'newborns_2026.csv', 19::bigint, 'no study key'),
            ('{UNIT}', 'newborns_2026.csv', 40::bigint, 'second row for the same newborn'))
            as t(unit, source_file, source_line, reason);
        create table unit_info as
            select '{UNIT}' as unit, '' as title, 'clock' as time_form,
                true as keep_birth_date, 'ab12cd34ef' as unit_file_hash,
                null::varchar as gravity_approved_by, null::date as gravity_approved_on,
                'Ask for the list of study keys.' as find_chart,
                null::varchar[] as leading_measures;
        create table worklist_line (unit varchar, record_id varchar, month date,
            outcome varchar, note varchar, role varchar, read_on date, file_name varchar,
            file_line bigint, rejected varchar);
        create table change_log as
            select '{UNIT}' as unit, 'warm_room' as change_id, date '{CHANGE_ON}' as start_on,
                'Warm birth room and pre-warmed towels' as title,
                ['arrival_temperature', 'first_temperature'] as measures,
                ['warm_excess'] as balancing, []::varchar[] as process;
        create table signal_line (unit varchar, measure_id varchar, said_on date, step varchar,
            level_from date, role varchar, reason varchar);
        create table silent_measure (unit varchar, measure_id varchar, denominator bigint,
            not_documented bigint, unusable bigint, missing_column varchar);
        create table policy_break as
            select '{UNIT}' as unit, 'hepatitis_b_negative' as measure_id,
                date '{BREAK_ON}' as start_on, 'Policy: individual decision' as words;
        create table policy as
            select '{UNIT}' as unit, 'half_hourly' as measure_id, 'listed' as name,
                'false' as value, date '1900-01-01' as valid_from,
                date '9999-12-31' as valid_before, true as is_default;
        create table restated as
            select '{UNIT}' as unit, 'vitamin_k' as measure_id, date '2026-02-01' as period_start,
                timestamp '2026-05-04 06:11:02' as noticed_at,
                timestamp '2026-04-03 06:00:00' as shown_at, 50::bigint as old_numerator,
                52::bigint as new_numerator, 58::bigint as old_counted,
                58::bigint as new_counted, 50 / 58 as old_rate, 52 / 58 as new_rate,
                'numerator 50 to 52' as changed,
                'late entries: events added (2) {HOSTILE.replace("'", "''")}' as why;
        create table build_info as select * from (values
            ('store_version', '{STORE_VERSION}'), ('software_version', '0.1.0'),
            ('built_at', '2026-05-04 06:11:02'),
            ('contract_hash', '91d2aa00ff'), ('rules_hash', '77ee01bc9a'))
            as t(key, value);
        """
    )
    store.execute("update unit_info set title = ?", [UNIT_TITLE])


# What the pages read of a newborn and this store says nothing of.
_BLANK = {
    **dict.fromkeys(
        ("race_ethnicity", "language", "payer", "mode_of_birth", "gestation_band", "birth_place",
         "anaesthesia", "resuscitation"), "varchar"),
    **dict.fromkeys(("birth_hour", "birth_weekday", "gestational_age_days"), "integer"),
    **dict.fromkeys(
        ("room_temperature_c", "maternal_temperature_c", "arrival_minutes",
         "leave_birth_room_minutes", "discharge_minutes"),
        "double"),
    "unusable": "varchar[]",
}  # fmt: skip


def _add_blank(store: duckdb.DuckDBPyConnection) -> None:
    for name, kind in _BLANK.items():
        store.execute(f"alter table newborn add column {name} {kind}")
    store.execute(
        """
        create table way as
            select newborn_id, null::double as here_until_minutes from newborn;
        create table cause_review (unit varchar, record_id varchar, cause varchar);
        create table spread (measure_id varchar, unit varchar, period_kind varchar,
            period_start date, stratifier varchar, stratum varchar, measured bigint,
            not_measured bigint, median_minutes double, p90_minutes double);
        """
    )


def make_store(path: Path) -> Path:
    """Write the fabricated store to ``path`` and return it."""
    rng = np.random.default_rng(20260401)
    newborns = _newborns(rng)
    memberships = _memberships(rng, newborns)
    results = _results(memberships)
    frames = {
        "newborn": newborns,
        "membership": memberships,
        "result": pd.concat([results, _strata(memberships, newborns)], ignore_index=True),
        "measure_info": _measure_info(),
        "gravity": _gravity(),
        "flag": pd.concat([_flags(newborns), quality_flags(newborns, MONTHS)]),
    }
    path.unlink(missing_ok=True)
    with duckdb.connect(str(path)) as store:
        for name, frame in frames.items():
            store.register("frame", frame)
            store.execute(f"create table {name} as select * from frame")
            store.unregister("frame")
        for name, column in (("newborn", "birth_month"), ("result", "period_start")):
            store.execute(f"alter table {name} alter {column} type date")
        store.execute("alter table membership alter period type date")
        for name, kind in (("grade", "varchar"), ("detail", "varchar"), ("value", "double"),
                           ("value_minutes", "double"), ("edge", "double")):  # fmt: skip
            store.execute(f"alter table membership alter {name} type {kind}")
        _add_blank(store)
        # A flag on a whole column has no line, which the frame writes as a fraction.
        store.execute("alter table flag alter source_line type bigint")
        _write_small_tables(store, newborns)
        add_quality(store, rng, newborns, results)
    return path

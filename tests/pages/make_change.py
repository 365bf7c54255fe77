"""The fabricated store of ``make_store`` around one change whose effect is known.

``make_change_store(path)`` plants an effect in the arrival temperature and a harm in its
balancing measure; every text of the log is hostile. ``edit`` spoils a copy in one way.
"""

import shutil
from pathlib import Path
from typing import Any

import duckdb

from .make_store import HOSTILE, UNIT, make_store

CHANGE = "warm_room"
START_ON = "2025-05-01"  # 12 months before it, 12 from it on
MEASURE = "arrival_temperature"
WORSE = "warm_excess"
OTHER_UNIT = "still_pond"
TITLE = f"Warm room {HOSTILE}<script>document.title='broken'</script>"

# Shares before and after by measure: planted counts of 400 newborns a month with a small ripple.
SHARES = {MEASURE: (0.70, 0.85), WORSE: (0.05, 0.16), "first_temperature": (0.86, 0.86)}
_PLANT = """
update result set
    denominator = 420, exception = 0, not_documented = 20, unusable = 0,
    initial_population = 420, counted = if(missing_left_out, 400, 420),
    numerator = round(400 * (if(period_start < $start::date, $before, $after)
        + [0.012, -0.016, 0.008, -0.004][1 + month(period_start) % 4])),
where measure_id = $measure and unit = $unit and period_kind = 'month';
"""
# The ends of the interval: Wilson, 1927, as in tests/pages/true_numbers.py.
_RATES = """
update result set
    rate = numerator / counted, late = 0, not_done = 0, not_met = 400 - numerator,
    lower = (numerator + 1.92073 - 1.959964
        * sqrt(numerator * (counted - numerator) / counted + 0.96036)) / (counted + 3.84146),
    upper = (numerator + 1.92073 + 1.959964
        * sqrt(numerator * (counted - numerator) / counted + 0.96036)) / (counted + 3.84146),
where measure_id = $measure and unit = $unit and period_kind = 'month';
"""
_OTHER = """
insert into unit_info by name
    select * replace ($other as unit, 'Still Pond' as title) from unit_info;
insert into newborn by name select * replace ($other as unit) from newborn;
insert into result by name
    select * replace ($other as unit) from result where measure_id <> $measure;
insert into result by name
    select * replace (
        $other as unit, round(400 * 0.74) as numerator, round(400 * 0.74) / counted as rate)
    from result where measure_id = $measure;
"""


def _plant(store: duckdb.DuckDBPyConnection, measure: str, before: float, after: float) -> None:
    named = {"measure": measure, "unit": UNIT}
    store.execute(_PLANT, {**named, "start": START_ON, "before": before, "after": after})
    store.execute(_RATES, named)


def make_change_store(path: Path) -> Path:
    """Write the store to ``path`` and return it."""
    make_store(path)
    with duckdb.connect(str(path)) as store:
        for measure, (before, after) in SHARES.items():
            _plant(store, measure, before, after)
        for statement in _OTHER.split(";"):
            if statement.strip():
                wanted = {"other": OTHER_UNIT, "measure": MEASURE}
                used = {name: one for name, one in wanted.items() if f"${name}" in statement}
                store.execute(statement, used)
        store.execute("update change_log set start_on = ?::date, title = ?", [START_ON, TITLE])
        store.execute(
            "insert into change_log select unit, 'second', date '2025-11-15', ?, "
            "['vitamin_k'], []::varchar[], []::varchar[] from change_log",
            [f"Another {HOSTILE}"],
        )
    return path


def edit(made: Path, path: Path, sql: str, *values: Any) -> Path:
    """Copy a made store and run ``sql`` on the copy."""
    shutil.copy(made, path)
    with duckdb.connect(str(path)) as store:
        store.execute(sql, list(values) or None)
    return path

"""Faults planted into a true record: each is an entry in the ledger, which the writer obeys.

The tables themselves stay true, except for lines that stand twice; a fault changes the text of
one cell. One newborn carries at most one fault.
"""

import re
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from pipelines.base.errors import DeclarationError, nearest
from pipelines.base.measuring_units import conversion
from pipelines.definitions.read_contract import read_contract
from synthetic_data.chances import Objects
from synthetic_data.contradictions import plant_contradictions
from synthetic_data.event_contradictions import plant_event_contradictions
from synthetic_data.generate import Tables, Truth
from synthetic_data.ledger import LEDGER_COLUMNS
from synthetic_data.local_text import (
    DECIMALS,
    local_numbers,
    local_unit,
    number_text,
    time_texts,
    wrong_units,
)
from synthetic_data.pair_faults import plant_pairs
from synthetic_data.planted_rows import plant_rows
from synthetic_data.planter import Planter
from synthetic_data.scenario import Bools, Floats, Scenario, read_scenario

__all__ = ["LEDGER_COLUMNS", "plant"]

SHORT = {
    "g": "g", "kg": "kg", "[lb_av]": "lb", "[oz_av]": "oz",
    "cm": "cm", "mm": "mm", "[in_i]": "inch",
}  # fmt: skip
TEMPERATURE_FAULTS = {
    "[degF]": "temperature_fahrenheit_as_celsius",
    "Cel": "temperature_celsius_in_fahrenheit_column",
}
SHOWN_TWICE = "clock_hour_shown_twice"
TIMED_TABLES = ("observation", "dose", "care")


def plant(
    truth: Truth,
    scenario: Scenario | None = None,
    *,
    seed: int = 1,
    shares: Mapping[str, float] | None = None,
) -> tuple[Tables, pd.DataFrame]:
    """Return the tables as recorded and the ledger of what is wrong in them.

    ``shares`` overrides shares of ``[faults]`` in the scenario: newborns given each fault, 0 to
    1, and ``at_least``, the fewest newborns of each fault with a share above nil. The ledger has
    ``LEDGER_COLUMNS``; ``row`` is the place in the recorded table.
    """
    scenario = scenario or read_scenario()
    for name in shares or {}:
        if name not in scenario["faults"]:
            raise DeclarationError(
                f"fault '{name}' is not known.{nearest(name, scenario['faults'])}"
            )
    planter = Planter(truth, scenario, seed, {**scenario["faults"], **(shares or {})})
    for step in (
        _wrong_units, _scaled, _head_and_length, _out_of_limits, _before_birth, _unreadable,
        _unmapped, _orphans, _duplicates, _scaled_too, _digits_swapped, plant_pairs,
    ):  # fmt: skip
        step(planter)
    planter.draw_from("contradictions")
    plant_contradictions(planter)
    plant_event_contradictions(planter)
    plant_rows(planter)
    _clock_shown_twice(planter)
    return planter.tables, planter.ledger.frame()


def _in_unit(rows: pd.DataFrame, column: str, canonical: str, other: str) -> Objects:
    exact = conversion(column, canonical, other).from_canonical(rows[column].to_numpy(dtype=float))  # type: ignore[arg-type]
    return number_text(exact, DECIMALS[other])


def _wrong_units(planter: Planter) -> None:
    """The number of another unit of measurement, in a column of this one."""
    for column, prefix, share in (
        ("weight_g", "weight", "wrong_unit_weight"),
        ("length_cm", "length", "wrong_unit_length"),
        ("head_circumference_cm", "head", "wrong_unit_head"),
    ):
        placed = next((p for p in planter.takes if p.take.table == "admission"), None)
        if placed is None or column not in placed.take.sources:
            continue
        spec = placed.table.columns[column]
        canonical = str(spec.unit)
        own = str(local_unit(placed.table, spec, placed.take.sources[column], None))
        others = [unit for unit in wrong_units(canonical, own) if unit in SHORT]
        for other in others:
            each = planter.shares[share] / len(others)
            for rows in planter.choose("admission", column, planter.how_many(each)):
                fault = f"{prefix}_{SHORT[other]}_as_{SHORT.get(own, own)}"
                planter.write(
                    "admission", rows, column, fault, _in_unit(rows, column, canonical, other)
                )
    _wrong_unit_temperature(planter)


def _wrong_unit_temperature(planter: Planter) -> None:
    eligible = planter.kind("temperature")
    wanted = planter.how_many(planter.shares["wrong_unit_temperature"])
    for rows in planter.choose("observation", "value", wanted, eligible):
        placed, source = planter.source(rows, "value")
        own = local_unit(placed.table, placed.table.columns["value"], source, "temperature")
        other = "Cel" if own == "[degF]" else "[degF]"
        recorded = _in_unit(rows, "value", "Cel", other)
        planter.write("observation", rows, "value", TEMPERATURE_FAULTS[other], recorded)


def _shown(planter: Planter, rows: pd.DataFrame, column: str) -> tuple[Floats, int]:
    """The numbers as the export shows them, and their decimals."""
    placed, source = planter.source(rows, column)
    spec = placed.table.columns[column]
    kind = str(rows["kind"].iloc[0]) if column == "value" else None
    own = local_unit(placed.table, spec, source, kind)
    return local_numbers(placed.table, spec, source, rows), DECIMALS.get(own or "", 0)


def _scaled(planter: Planter) -> None:
    """A decimal point in the wrong place."""
    temperature = planter.kind("temperature")
    for table, column, eligible, fault, factor in (
        ("admission", "weight_g", None, "weight_x10", 10.0),
        ("admission", "weight_g", None, "weight_div10", 0.1),
        ("admission", "length_cm", None, "length_x10", 10.0),
        ("observation", "value", temperature, "temperature_x10", 10.0),
        ("observation", "value", temperature, "temperature_div10", 0.1),
    ):
        _scale(planter, table, column, eligible, fault=fault, factor=factor)


def _scaled_too(planter: Planter) -> None:
    """The same for the other sizes; apart, so that what was planted before stays where it was."""
    for column, fault, factor in (
        ("length_cm", "length_div10", 0.1),
        ("head_circumference_cm", "head_x10", 10.0),
        ("head_circumference_cm", "head_div10", 0.1),
    ):
        _scale(planter, "admission", column, None, fault=fault, factor=factor)


def _scale(
    planter: Planter,
    table: str,
    column: str,
    eligible: Bools | None,
    *,
    fault: str,
    factor: float,
) -> None:
    for rows in planter.choose(table, column, planter.how_many(planter.shares[fault]), eligible):
        numbers, decimals = _shown(planter, rows, column)
        digits = max(0, decimals - 1) if factor > 1 else decimals + 1
        planter.write(table, rows, column, fault, number_text(numbers * factor, digits))


def _digits_swapped(planter: Planter) -> None:
    """36.8 written 63.8; only in Celsius, where it cannot be true."""
    rows = planter.tables["observation"]
    celsius = [
        placed.number
        for placed in planter.takes
        if placed.take.table == "observation"
        and "value" in placed.take.sources
        and local_unit(
            placed.table, placed.table.columns["value"], placed.take.sources["value"], "temperature"
        )
        == "Cel"
    ]
    usable = planter.kind("temperature") & rows["take"].isin(celsius).to_numpy()
    wanted = planter.how_many(planter.shares["temperature_digits_swapped"])
    for part in planter.choose("observation", "value", wanted, usable):
        true = planter.true_texts(part, "value")
        swapped = np.array([text[1] + text[0] + text[2:] for text in true], dtype=object)
        planter.write("observation", part, "value", "temperature_digits_swapped", swapped)


def _head_and_length(planter: Planter) -> None:
    """Head and length in each other's cell; and two sizes that cannot be one newborn's."""
    babies = planter.tables["admission"]
    both = babies["head_circumference_cm"].notna().to_numpy()
    wanted = planter.how_many(planter.shares["head_length_swapped"])
    for rows in planter.choose("admission", "length_cm", wanted, both):
        length = planter.true_texts(rows, "length_cm")
        head = planter.true_texts(rows, "head_circumference_cm")
        planter.write("admission", rows, "length_cm", "head_length_swapped", head)
        planter.write("admission", rows, "head_circumference_cm", "head_length_swapped", length)
    term = both & (babies["gestational_age_days"] >= 37 * 7).fillna(False).to_numpy(dtype=bool)
    wanted = planter.how_many(planter.shares["head_against_length"])
    for rows in planter.choose("admission", "length_cm", wanted, term):
        for column, size_cm in (("length_cm", 44.0), ("head_circumference_cm", 38.0)):
            _, decimals = _shown(planter, rows, column)
            placed, source = planter.source(rows, column)
            faked = rows.assign(**{column: size_cm})
            number = local_numbers(placed.table, placed.table.columns[column], source, faked)
            recorded = number_text(number, decimals)
            planter.write("admission", rows, column, "head_against_length", recorded)


def _out_of_limits(planter: Planter) -> None:
    """Rates and scores beyond what the contract lets stand."""
    kinds = read_contract()["observation"].kinds
    for kind in ("heart_rate", "respiratory_rate"):
        fault, top = f"{kind}_out_of_limits", kinds[kind].limits.error_above or 0.0
        wanted = planter.how_many(planter.shares[fault])
        for rows in planter.choose("observation", "value", wanted, planter.kind(kind)):
            beyond = top + planter.rng.integers(1, 900, len(rows))
            planter.write("observation", rows, "value", fault, number_text(beyond, 0))
    cells = [("admission", column) for column in ("apgar_1", "apgar_5")]
    for table, column, rows in planter.spread(cells, planter.shares["apgar_out_of_range"]):
        recorded = _any_text(planter, "apgar_out_of_range", len(rows))
        planter.write(table, rows, column, "apgar_out_of_range", recorded)


def _any_text(planter: Planter, name: str, n: int) -> Objects:
    choices = np.array(planter.scenario["fault_texts"][name], dtype=object)
    return np.asarray(planter.rng.choice(choices, n), dtype=object)


def _before_birth(planter: Planter) -> None:
    """A time before birth: a midnight slip, a 12-hour slip, and a few minutes."""
    slips: tuple[tuple[str, float, Callable[[Floats], Any]], ...] = (
        ("before_birth_a_day", 1440, lambda minutes: minutes - 1440),
        ("before_birth_12_hours", 720, lambda minutes: minutes - 720),
        ("before_birth_a_little", 60, lambda minutes: -planter.rng.integers(1, 21, len(minutes))),
    )
    cells = [(table, "minutes") for table in TIMED_TABLES]
    for fault, below, slip in slips:
        early = {
            table: (planter.tables[table]["minutes"] < below).to_numpy() for table in TIMED_TABLES
        }
        for table, column, rows in planter.spread(cells, planter.shares[fault], early):
            _, source = planter.source(rows, column)
            births = planter.birth_at[rows["newborn"].to_numpy()]
            wrong = slip(rows[column].to_numpy(dtype=float))
            planter.write(
                table, rows, column, fault, time_texts(planter.unit, source, wrong, births)
            )


def _unreadable(planter: Planter) -> None:
    """Numbers and times that are none."""
    numbers = [
        (table, column)
        for table, column in (
            ("admission", "weight_g"), ("admission", "length_cm"),
            ("admission", "head_circumference_cm"), ("admission", "room_temperature_c"),
            ("admission", "apgar_5"), ("observation", "value"),
        )
        if planter.takes_with(table, column)
    ]  # fmt: skip
    for table, column, rows in planter.spread(numbers, planter.shares["unreadable_number"]):
        planter.write(
            table,
            rows,
            column,
            "unreadable_number",
            _any_text(planter, "unreadable_number", len(rows)),
        )
    times = [
        (table, column)
        for table, column in (
            ("observation", "minutes"), ("dose", "minutes"), ("care", "minutes"),
            ("admission", "size_minutes"), ("admission", "discharge_minutes"),
        )
        if planter.takes_with(table, column)
    ]  # fmt: skip
    texts = f"unreadable_time_{planter.unit.time_form}"
    for table, column, rows in planter.spread(times, planter.shares["unreadable_time"]):
        planter.write(table, rows, column, "unreadable_time", _any_text(planter, texts, len(rows)))


def _unmapped(planter: Planter) -> None:
    """Words that stand on no recode list."""
    cells = [
        (table.name, column.name)
        for table in read_contract().values()
        for column in table.columns.values()
        if table.name in {"admission", "dose"} and column.name != "kind"
        and planter.takes_with(table.name, column.name, recoded=True)
    ]  # fmt: skip
    for table, column, rows in planter.spread(cells, planter.shares["unmapped_code"]):
        planter.write(
            table, rows, column, "unmapped_code", _any_text(planter, "unmapped_code", len(rows))
        )


def _orphans(planter: Planter) -> None:
    """A study key on an event that stands in no admission; needs an event file of its own."""
    long = [
        placed.take.table for placed in planter.takes
        if not placed.is_wide and placed.take.table in TIMED_TABLES
    ]  # fmt: skip
    cells = [(table, "record_id") for table in dict.fromkeys(long)]
    if not cells:
        return
    next_number = planter.n + 1
    for table, column, rows in planter.spread(cells, planter.shares["orphan_event"]):
        keys = rows["record_id"].astype(str)
        digits = len(re.search(r"\d+$", keys.iloc[0]).group())  # type: ignore[union-attr]
        numbers = range(next_number, next_number + len(rows))
        wrong = [
            f"{key[:-digits]}{number:0{digits}d}" for key, number in zip(keys, numbers, strict=True)
        ]
        next_number += len(rows)
        planter.write(table, rows, column, "orphan_event", np.array(wrong, dtype=object))


def _duplicates(planter: Planter) -> None:
    """A newborn's line that stands twice: the same, or with another weight."""
    share = planter.shares["duplicate_exact"]
    exact = planter.choose("admission", "record_id", planter.how_many(share))
    share = planter.shares["duplicate_conflicting"]
    conflicting = planter.choose("admission", "weight_g", planter.how_many(share))
    for rows in exact:
        again = _stand_again(planter, rows)
        keys = again["record_id"].astype(object).to_numpy()
        planter.enter("admission", again, "record_id", "duplicate_record_exact", (keys, keys))
    for rows in conflicting:
        again = _stand_again(planter, rows)
        shift = (
            planter.rng.integers(4, 9, len(again)) * 50.0 * planter.rng.choice([-1, 1], len(again))
        )
        placed, source = planter.source(again, "weight_g")
        moved = again.assign(weight_g=again["weight_g"] + shift)
        number = local_numbers(placed.table, placed.table.columns["weight_g"], source, moved)
        _, decimals = _shown(planter, again, "weight_g")
        recorded = number_text(number, decimals)
        planter.write("admission", again, "weight_g", "duplicate_record_conflicting", recorded)


def _stand_again(planter: Planter, rows: pd.DataFrame) -> pd.DataFrame:
    table = planter.tables["admission"]
    planter.tables["admission"] = pd.concat([table, rows], ignore_index=True)
    return rows.set_axis(range(len(table), len(table) + len(rows)))


def _clock_shown_twice(planter: Planter) -> None:
    """Nothing was written wrong: in the hour that the clock shows twice, the text cannot say
    which of the two it means, so a reader may put these times an hour early or late."""
    if planter.unit.time_form != "clock" or not planter.unit.zone:
        return
    for table in read_contract().values():
        for column in table.columns.values():
            if column.is_time and planter.takes_with(table.name, column.name):
                _enter_unclear(planter, table.name, column.name)


def _enter_unclear(planter: Planter, table: str, column: str) -> None:
    rows = planter.tables[table]
    filled = np.flatnonzero(rows[column].notna().to_numpy())
    at = planter.birth_at[rows["newborn"].to_numpy()[filled]]
    if column != "birth_time":
        at = at + rows[column].to_numpy(dtype=float)[filled].astype("m8[m]")
    unclear = rows.iloc[filled[_ambiguous(at, str(planter.unit.zone))]]
    for _, part in unclear.groupby("take"):
        text = planter.true_texts(part, column)
        planter.enter(table, part, column, SHOWN_TWICE, (text, text))


def _ambiguous(instants: Any, zone: str) -> Bools:
    codes, unique = pd.factorize(np.asarray(instants))
    local = pd.DatetimeIndex(unique).tz_localize("UTC").tz_convert(zone).tz_localize(None)
    unclear = local.tz_localize(zone, ambiguous="NaT").isna()
    return np.asarray(unclear[codes], dtype=bool)

"""Faults of readings, doses, care items and findings that contradict the rest of the record.

As in ``faults``. What the record cannot tell (``forward_12_hours_untold``) has a share of nil
where exports are shipped, and is planted where it is counted.
"""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from pipelines.base.measuring_units import MOLAR
from synthetic_data.chances import Objects
from synthetic_data.contradictions import (
    EVENTS,
    INSIDE,
    YEAR_MINUTES,
    entries,
    is_in,
    number,
    per_newborn,
)
from synthetic_data.local_text import number_text
from synthetic_data.planter import Planter
from synthetic_data.scenario import Bools, Floats

HALF_DAY, DAY = 720.0, 1440.0
TIMED = ("observation", "dose", "care")
AT_BIRTH = ("cord_clamp", "drying", "head_cover")
MANY_ENTRIES = 9
VACCINE = "hepatitis_b_vaccine"


def plant_event_contradictions(planter: Planter) -> None:
    """Plant every fault of this module."""
    for step in (
        _other_unit, _jump, _one_rate, _year_late, _forward, _at_birth_late, _all_at_once,
        _charted_in_one_go, _medicines, _amounts, _cord, _contact, _moved_before, _told_before,
    ):  # fmt: skip
        step(planter)


def _of_rows(planter: Planter, table: str, values: Floats) -> Floats:
    return np.asarray(values[planter.tables[table]["newborn"].to_numpy()])


def _kinds(planter: Planter, table: str, *kinds: str) -> Bools:
    return is_in(planter.tables[table]["kind"], kinds)


def _given(planter: Planter, *kinds: str) -> Bools:
    return _kinds(planter, "dose", *kinds) & is_in(planter.tables["dose"]["status"], ("given",))


def _write(
    planter: Planter,
    fault: str,
    cell: tuple[str, str],
    eligible: Bools,
    recorded: Callable[[pd.DataFrame], Objects],
) -> None:
    """Plant one cell each, leaving out what the unit has no word for."""
    (table, column), wanted = cell, planter.how_many(planter.shares[fault])
    for rows in planter.choose(table, column, wanted, eligible):
        texts = recorded(rows)
        said = pd.notna(texts)
        if said.any():
            planter.write(table, rows[said], column, fault, texts[said])


def _moved_by(planter: Planter, column: str, shift: float) -> Callable[[pd.DataFrame], Objects]:
    def recorded(rows: pd.DataFrame) -> Objects:
        return planter.time_text(rows, column, rows[column].to_numpy(dtype=float) + shift)

    return recorded


def _put(planter: Planter, column: str, value: Any) -> Callable[[pd.DataFrame], Objects]:
    return lambda rows: planter.text_of(rows, column, value)


def _other_unit(planter: Planter) -> None:
    """A saturation as a fraction of 1, a glucose in mmol/L."""

    def scaled(factor: float, decimals: int) -> Callable[[pd.DataFrame], Objects]:
        return lambda rows: number_text(rows["value"].to_numpy(dtype=float) * factor, decimals)

    saturation, glucose = planter.kind("oxygen_saturation"), planter.kind("glucose")
    mmol = MOLAR["glucose"]["mmol/L"].from_canonical(1.0)
    _write(planter, "saturation_fraction", ("observation", "value"), saturation, scaled(0.01, 2))
    _write(planter, "glucose_mmol", ("observation", "value"), glucose, scaled(mmol, 1))


def _jump(planter: Planter) -> None:
    """Three degrees below a reading of the half hour before, past the first half hour."""
    rows = planter.tables["observation"]
    warm = rows[planter.kind("temperature")].dropna(subset=["minutes", "value"])
    warm = warm.sort_values(["newborn", "minutes"], kind="stable")
    before = warm.groupby("newborn")[["minutes", "value"]].shift()
    near = (warm["minutes"] - before["minutes"]).between(1, 35) & (before["minutes"] > 30)
    near &= ((warm["value"] - before["value"]).abs() < 0.4) & (warm["value"] > 36)
    eligible = np.zeros(len(rows), dtype=bool)
    eligible[warm.index[near.to_numpy()]] = True
    cooled = planter.tables["care"].loc[_kinds(planter, "care", "cooling"), "newborn"]
    eligible &= ~is_in(rows["newborn"], tuple(cooled))
    _write(
        planter, "temperature_jump", ("observation", "value"), eligible,
        lambda part: planter.text_of(part, "value", part["value"] - 3),
    )  # fmt: skip


def _one_rate(planter: Planter) -> None:
    """Every heart rate as the first of the day."""
    rows = planter.tables["observation"]
    rates = rows[planter.kind("heart_rate")].dropna(subset=["minutes", "value"])
    whole = rates.groupby("newborn")["minutes"]
    long = (whole.count() >= 6) & (whole.max() - whole.min() >= 130)
    chosen = _newborns(planter, "one_rate_all_day", long.index[long.to_numpy()])
    picked = rates[rates["newborn"].isin(chosen)]
    first = picked.groupby("newborn")["value"].transform("first")
    for _, part in picked.assign(value=first).groupby("take"):
        recorded = planter.true_texts(part, "value")
        planter.write("observation", rows.loc[part.index], "value", "one_rate_all_day", recorded)


def _newborns(planter: Planter, fault: str, usable: Any) -> Any:
    """Choose newborns that have no fault yet, for a fault of many cells."""
    free = np.array([place for place in usable if planter.free[int(place)]], dtype=int)
    chosen = planter.rng.permutation(free)[: planter.how_many(planter.shares[fault])]
    planter.free[chosen] = False
    return chosen


def _spread(
    planter: Planter, fault: str, where: Mapping[str, Bools], shift: float, cells: tuple[str, ...]
) -> None:
    timed = [(table, "minutes") for table in cells if planter.takes_with(table, "minutes")]
    for table, column, rows in planter.spread(timed, planter.shares[fault], where):
        planter.write(table, rows, column, fault, _moved_by(planter, column, shift)(rows))


def _year_late(planter: Planter) -> None:
    """An entry a year later or earlier; its newborn has others that are not."""
    many = per_newborn(planter, entries(planter).groupby("newborn")["minutes"].count(), 0)
    where = {table: _of_rows(planter, table, many) > 3 for table in TIMED}
    _spread(planter, "entry_a_year_late", where, YEAR_MINUTES, TIMED)
    _spread(planter, "entry_a_year_early", where, -YEAR_MINUTES, TIMED)


def _forward(planter: Planter) -> None:
    """Twelve hours or a day late: beyond the stay, beyond its charting, or where nothing tells."""
    left = number(planter, "discharge_minutes")
    for fault, shift in (("forward_12_hours", HALF_DAY), ("forward_a_day", DAY)):
        beyond = {
            table: planter.minutes_of(table) + shift > _of_rows(planter, table, left)
            for table in TIMED
        }
        _spread(planter, f"{fault}_beyond_stay", beyond, shift, TIMED)
    minutes = planter.minutes_of("observation")
    charted = planter.minutes_of("observation", "charted_minutes")
    stays = ~(minutes + HALF_DAY > _of_rows(planter, "observation", left))
    soon = (charted >= minutes) & (charted - minutes <= 120) & stays
    _write(
        planter, "forward_12_hours_charted", ("observation", "minutes"), soon,
        _moved_by(planter, "minutes", HALF_DAY),
    )  # fmt: skip
    within = planter.minutes_of("dose") + HALF_DAY <= _of_rows(planter, "dose", left)
    _spread(planter, "forward_12_hours_untold", {"dose": within}, HALF_DAY, ("dose",))


def _at_birth_late(planter: Planter) -> None:
    inside = is_in(planter.of_newborn("birth_place"), INSIDE).astype(float)
    eligible = _kinds(planter, "care", *AT_BIRTH) & (_of_rows(planter, "care", inside) > 0)
    eligible &= planter.minutes_of("care") < 60
    _write(
        planter, "at_birth_12_hours_late", ("care", "minutes"), eligible,
        _moved_by(planter, "minutes", HALF_DAY),
    )  # fmt: skip


def _all_at_once(planter: Planter) -> None:
    """Every entry of a newborn at one minute, or at the minute of birth."""
    count = entries(planter).groupby("newborn")["minutes"].count()
    for fault in ("all_at_one_minute", "all_at_minute_zero"):
        chosen = _newborns(planter, fault, count.index[(count >= MANY_ENTRIES).to_numpy()])
        for table in EVENTS:
            rows = planter.tables[table]
            mine = rows[rows["newborn"].isin(chosen) & rows["minutes"].notna()]
            for _, part in mine.groupby("take"):
                at = np.asarray(40 + part["newborn"].to_numpy() % 90, dtype=np.float64)
                minutes = at if fault == "all_at_one_minute" else np.zeros(len(part))
                recorded = planter.time_text(part, "minutes", minutes)
                planter.write(table, part, "minutes", fault, recorded)


def _charted_in_one_go(planter: Planter) -> None:
    """Every reading of hours charted in the minute of the last."""
    rows = planter.tables["observation"]
    charted = rows.dropna(subset=["minutes", "charted_minutes"])
    if not planter.takes_with("observation", "charted_minutes") or charted.empty:
        return
    whole = charted.groupby("newborn")["minutes"]
    long = (whole.count() >= 8) & (whole.max() - whole.min() >= 130)
    chosen = _newborns(planter, "charted_in_one_go", long.index[long.to_numpy()])
    mine = charted[charted["newborn"].isin(chosen)]
    last = mine.groupby("newborn")["charted_minutes"].transform("max")
    for _, part in mine.groupby("take"):
        recorded = planter.time_text(part, "charted_minutes", last[part.index].to_numpy())
        planter.write("observation", part, "charted_minutes", "charted_in_one_go", recorded)


def _medicines(planter: Planter) -> None:
    """A route or a place on the body that is not of the medicine."""
    _write(
        planter, "vaccine_by_mouth", ("dose", "route"), _given(planter, VACCINE),
        _put(planter, "route", "oral"),
    )  # fmt: skip
    for fault, kind, site in (
        ("ointment_into_thigh", "eye_antibiotic", "left_thigh"),
        ("vitamin_k_into_eyes", "vitamin_k", "both_eyes"),
    ):
        _write(planter, fault, ("dose", "site"), _given(planter, kind), _put(planter, "site", site))


def _amounts(planter: Planter) -> None:
    """A volume that is no dose, a unit and a presentation of another medicine."""
    vaccine = _given(planter, VACCINE)
    for fault, column, value in (
        ("vaccine_volume_x10", "amount", 5.0),
        ("vaccine_in_centimetres", "amount_unit", "cm"),
        ("vaccine_adult_presentation", "strength", "adult"),
    ):
        _write(planter, fault, ("dose", column), vaccine, _put(planter, column, value))


def _cord(planter: Planter) -> None:
    clamped = _kinds(planter, "care", "cord_clamp")
    for fault, seconds in (("cord_clamp_one_second", 1.0), ("cord_clamp_an_hour", 3600.0)):
        _write(planter, fault, ("care", "quantity"), clamped, _put(planter, "quantity", seconds))


def _contact(planter: Planter) -> None:
    """Skin contact that goes on after leaving."""
    left = number(planter, "discharge_minutes")
    known = ~np.isnan(_of_rows(planter, "care", left)) & _kinds(planter, "care", "skin_contact")
    known &= ~np.isnan(planter.minutes_of("care"))

    def recorded(rows: pd.DataFrame) -> Objects:
        later = planter.rng.integers(20, 600, len(rows)).astype(float)
        return planter.time_text(rows, "end_minutes", left[rows["newborn"].to_numpy()] + later)

    _write(planter, "contact_after_leaving", ("care", "end_minutes"), known, recorded)


def _moved_before(planter: Planter) -> None:
    """Moved on ten minutes before arriving; of one born elsewhere it would be the journey."""
    inside = is_in(planter.of_newborn("birth_place"), INSIDE)
    arrival = np.where(inside, number(planter, "arrival_minutes"), np.nan)
    moved = _kinds(planter, "care", "transfer") & (_of_rows(planter, "care", arrival) > 20)
    _write(
        planter, "moved_before_arrival", ("care", "minutes"), moved,
        lambda rows: planter.time_text(rows, "minutes", arrival[rows["newborn"].to_numpy()] - 10),
    )  # fmt: skip


def _told_before(planter: Planter) -> None:
    told = ~np.isnan(planter.minutes_of("finding", "told_minutes"))

    def recorded(rows: pd.DataFrame) -> Objects:
        found = rows["minutes"].to_numpy(dtype=float)
        sooner = planter.rng.integers(5, 40, len(rows))
        return planter.time_text(rows, "told_minutes", found - np.minimum(sooner, found))

    late = planter.minutes_of("finding") >= 5
    _write(planter, "told_before_found", ("finding", "told_minutes"), told & late, recorded)

"""Faults of an admission that contradict the rest of the record, or that its own text explains.

As in ``faults``: the tables stay true, the ledger says what stands in the export instead. What
the record cannot tell is planted too where its share is above nil, so that it can be counted.
"""

from collections.abc import Callable

import numpy as np
import pandas as pd

from pipelines.base.measuring_units import CONVERSIONS
from synthetic_data.chances import Objects
from synthetic_data.local_text import clock_text, number_text
from synthetic_data.planter import Planter
from synthetic_data.scenario import Bools, Floats

EVENTS = ("observation", "dose", "care", "finding")
INSIDE = ("birth_room", "operating_room")
YEAR_MINUTES = 525_600
OUNCE_G = CONVERSIONS["g"]["[oz_av]"].to_canonical(1.0)
TWINS_APART = 12  # places in the order of births within which no true twin may stand


def plant_contradictions(planter: Planter) -> None:
    """Plant every fault of this module."""
    for step in (
        _stillborn, _died, _moves, _long_stay, _birth_day, _apgar, _compressions, _twin_missing,
        _twin_weights, _weight_text, _comma_and_unit, _gestation_point,
    ):  # fmt: skip
        step(planter)


def is_in(values: pd.Series, wanted: tuple[object, ...]) -> Bools:
    return np.asarray(values.isin(wanted).to_numpy(dtype=bool))


def number(planter: Planter, column: str) -> Floats:
    """A true admission column by newborn, nan where it is blank."""
    return planter.of_newborn(column).to_numpy(dtype=float, na_value=np.nan)


def admission_rows(planter: Planter, eligible: Bools) -> Bools:
    """Spread what holds of newborns over the rows of the admission table."""
    return np.asarray(eligible[planter.tables["admission"]["newborn"].to_numpy()])


def entries(planter: Planter) -> pd.DataFrame:
    """Newborn and minutes of every true entry with a time."""
    parts = [planter.tables[table][["newborn", "minutes"]] for table in EVENTS]
    return pd.concat(parts, ignore_index=True).dropna()


def per_newborn(planter: Planter, values: pd.Series, empty: float) -> Floats:
    return values.reindex(range(planter.n), fill_value=empty).to_numpy(dtype=float)


def _cells(
    planter: Planter,
    fault: str,
    column: str,
    eligible: Bools,
    recorded: Callable[[pd.DataFrame], Objects],
) -> list[pd.DataFrame]:
    """Plant one cell each in as many admissions as the fault's share asks for."""
    wanted = planter.how_many(planter.shares[fault])
    parts = planter.choose("admission", column, wanted, admission_rows(planter, eligible))
    for rows in parts:
        planter.write("admission", rows, column, fault, recorded(rows))
    return parts


def _stillborn(planter: Planter) -> None:
    alive = (number(planter, "apgar_1") > 0) & is_in(planter.of_newborn("live_birth"), (True,))
    _cells(
        planter, "stillborn_with_signs", "live_birth", alive,
        lambda rows: planter.text_of(rows, "live_birth", False),
    )  # fmt: skip


def _died(planter: Planter) -> None:
    """Recorded as died two hours before the last entry."""
    last = per_newborn(planter, entries(planter).groupby("newborn")["minutes"].max(), np.nan)
    home = is_in(planter.of_newborn("disposition"), ("home",)) & (last > 300)
    home &= number(planter, "discharge_minutes") > 0
    parts = _cells(
        planter, "died_then_charted", "disposition", home,
        lambda rows: planter.text_of(rows, "disposition", "died"),
    )  # fmt: skip
    for rows in parts:
        died = last[rows["newborn"].to_numpy()] - 120
        recorded = planter.time_text(rows, "discharge_minutes", died)
        planter.write("admission", rows, "discharge_minutes", "died_then_charted", recorded)


def _moves(planter: Planter) -> None:
    """Arrival, measuring and the way out of the room of birth, in an order that cannot be."""
    left = number(planter, "discharge_minutes")
    for fault, column in (
        ("arrival_after_leaving", "arrival_minutes"),
        ("size_after_leaving", "size_minutes"),
    ):
        _later(planter, fault, column, after=left)
    inside = is_in(planter.of_newborn("birth_place"), INSIDE)
    arrival = np.where(inside, number(planter, "arrival_minutes"), np.nan)
    _later(planter, "left_room_after_arrival", "leave_birth_room_minutes", after=arrival)


def _later(planter: Planter, fault: str, column: str, *, after: Floats) -> None:
    def recorded(rows: pd.DataFrame) -> Objects:
        later = planter.rng.integers(30, 600, len(rows)).astype(float)
        return planter.time_text(rows, column, after[rows["newborn"].to_numpy()] + later)

    _cells(planter, fault, column, ~np.isnan(after), recorded)


def _long_stay(planter: Planter) -> None:
    left = number(planter, "discharge_minutes")
    _cells(
        planter, "stay_of_a_year", "discharge_minutes", ~np.isnan(left),
        lambda rows: planter.time_text(
            rows, "discharge_minutes", left[rows["newborn"].to_numpy()] + YEAR_MINUTES
        ),
    )  # fmt: skip


def _birth_day(planter: Planter) -> None:
    """A date of birth a day late or early, or the year before; only where there is one."""
    if not planter.takes_with("admission", "birth_time"):
        return
    births = pd.DatetimeIndex(planter.birth_at)
    whole = entries(planter).groupby("newborn")["minutes"]
    count = per_newborn(planter, whole.count(), 0)
    early = per_newborn(planter, whole.agg(lambda minutes: (minutes < 1400).mean()), 0)
    # Not at the edge of a month, nor before the first: no month of the export may be new.
    usable = (count >= 6) & is_in(planter.of_newborn("birth_place"), INSIDE)
    usable &= np.asarray((births.day > 3) & (births.day < 26))
    old_enough = usable & np.asarray(births > births.min() + pd.DateOffset(years=1, days=3))
    for fault, where, moved in (
        ("birth_a_day_late", usable & (early > 0.85), births + pd.Timedelta(days=1)),
        ("birth_a_day_early", usable, births - pd.Timedelta(days=1)),
        ("birth_a_year_early", old_enough, births - pd.DateOffset(years=1)),
    ):
        texts = clock_text(moved.to_numpy(), planter.unit.zone, planter.unit.formats[0])
        _cells(
            planter, fault, "birth_time", where,
            lambda rows, texts=texts: texts[rows["newborn"].to_numpy()],  # type: ignore[misc]
        )  # fmt: skip


def _vigorous(planter: Planter) -> Bools:
    well = (number(planter, "apgar_1") >= 8) & (number(planter, "apgar_5") >= 8)
    well &= is_in(planter.of_newborn("resuscitation"), ("none",))
    return well & is_in(planter.of_newborn("live_birth"), (True,))


def _apgar(planter: Planter) -> None:
    """Noughts in place of scores, and 9 then 2."""
    parts = _cells(
        planter, "apgar_noughts", "apgar_1", _vigorous(planter),
        lambda rows: planter.text_of(rows, "apgar_1", 0),
    )  # fmt: skip
    for rows in parts:
        noughts = planter.text_of(rows, "apgar_5", 0)
        planter.write("admission", rows, "apgar_5", "apgar_noughts", noughts)
    _cells(
        planter, "apgar_steep_fall", "apgar_5", _vigorous(planter),
        lambda rows: planter.text_of(rows, "apgar_5", 2),
    )  # fmt: skip


def _compressions(planter: Planter) -> None:
    _cells(
        planter, "compressions_beside_nines", "resuscitation", _vigorous(planter),
        lambda rows: planter.text_of(rows, "resuscitation", "compressions"),
    )  # fmt: skip


def _twin_missing(planter: Planter) -> None:
    """One of two, said of a newborn near whom no twin was born."""
    plurality = number(planter, "plurality")
    twin = np.flatnonzero(plurality >= 2)
    near = np.zeros(planter.n, dtype=bool)
    for place in twin:
        near[max(0, place - TWINS_APART) : place + TWINS_APART + 1] = True
    alone = (plurality == 1) & ~near
    _cells(
        planter, "twin_missing", "plurality", alone,
        lambda rows: planter.text_of(rows, "plurality", 2),
    )  # fmt: skip


def _twin_weights(planter: Planter) -> None:
    """The weights of two twins in each other's cell: most twins are too alike to tell."""
    babies = planter.tables["admission"].drop_duplicates("newborn")
    is_twin = (babies["plurality"] == 2).to_numpy(dtype=bool, na_value=False)
    first = np.flatnonzero(is_twin[:-1] & is_twin[1:])
    same = babies["gestational_age_days"].to_numpy()
    weighed = babies["weight_g"].notna().to_numpy()
    first = first[(same[first] == same[first + 1]) & weighed[first] & weighed[first + 1]]
    first = first[np.diff(first, prepend=-2) > 1]  # a pair shares no newborn with the next
    first = first[planter.free[first] & planter.free[first + 1]]
    wanted = planter.how_many(planter.shares["twin_weights_exchanged"])
    for place in np.sort(planter.rng.permutation(first)[:wanted]):
        planter.free[[place, place + 1]] = False
        one, other = babies.iloc[[place]], babies.iloc[[place + 1]]
        texts = [planter.true_texts(rows, "weight_g") for rows in (one, other)]
        for rows, text in ((one, texts[1]), (other, texts[0])):
            planter.write("admission", rows, "weight_g", "twin_weights_exchanged", text)


def _weight_text(planter: Planter) -> None:
    """Pounds and ounces in words; thousands, or the point of a kilogram, as a comma."""
    grams = number(planter, "weight_g")

    def in_words(rows: pd.DataFrame) -> Objects:
        ounces = np.round(rows["weight_g"].to_numpy(dtype=float) / OUNCE_G).astype(int)
        return np.array([f"{all_oz // 16} lb {all_oz % 16} oz" for all_oz in ounces], dtype=object)

    def with_comma(rows: pd.DataFrame) -> Objects:
        whole = np.round(rows["weight_g"].to_numpy(dtype=float)).astype(int)
        return np.array([f"{number:,}" for number in whole], dtype=object)

    _cells(planter, "weight_pounds_and_ounces", "weight_g", grams > 500, in_words)
    _cells(planter, "weight_comma", "weight_g", grams >= 1000, with_comma)


def _comma_and_unit(planter: Planter) -> None:
    """A decimal comma, and a unit beside the number."""
    wanted = planter.how_many(planter.shares["temperature_comma"])
    for rows in planter.choose("observation", "value", wanted, planter.kind("temperature")):
        texts = [text.replace(".", ",") for text in planter.true_texts(rows, "value")]
        recorded = np.array(texts, dtype=object)
        planter.write("observation", rows, "value", "temperature_comma", recorded)
    everyone = np.ones(planter.n, dtype=bool)
    _cells(
        planter, "length_with_unit", "length_cm", everyone,
        lambda rows: np.array(
            [f"{text} cm" for text in planter.true_texts(rows, "length_cm")], dtype=object
        ),
    )  # fmt: skip


def _gestation_point(planter: Planter) -> None:
    """39.4 for 39+4; where weeks and days have a column each, it cannot happen."""
    column = "gestational_age_days"
    takes = [p.take for p in planter.takes if p.take.table == "admission"]
    if not all(column in take.sources and len(take.sources[column].columns) == 1 for take in takes):
        return

    def pointed(rows: pd.DataFrame) -> Objects:
        days = rows[column].to_numpy(dtype=float)
        return number_text(np.floor(days / 7) + days % 7 / 10, 1)

    _cells(planter, "gestation_point", column, number(planter, column) > 0, pointed)

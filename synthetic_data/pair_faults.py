"""Faults that show only beside another cell: of the same newborn, the same set or the twin.

Each step chooses newborns, writes what stands in the export and leaves the truth in the ledger.
"""

import numpy as np
import pandas as pd

from synthetic_data.local_text import number_text
from synthetic_data.planter import Planter
from synthetic_data.scenario import Bools, Floats
from synthetic_data.sizes import SIZE_COLUMNS

TOO_EARLY_DAYS = 98
TERM_FIRST_DAY, TERM_LAST_DAY = 39 * 7, 40 * 7 + 6
SET_MINUTES, SETS_APART_MINUTES = 3, 21
SIGNS = ("temperature", "heart_rate", "respiratory_rate")
WRONG_ROUTE = {"eye_antibiotic": "intramuscular", "vitamin_k": "ophthalmic"}


def plant_pairs(planter: Planter) -> None:
    """Plant every fault of this module."""
    for step in (
        _gestation, _apgar, _route, _vitamin_k, _copied_forward, _twins, _end_before_start,
        _after_leaving, _charted,
    ):  # fmt: skip
        step(planter)


def _days(planter: Planter) -> Floats:
    days = planter.tables["admission"]["gestational_age_days"]
    return np.asarray(days.to_numpy(dtype=float, na_value=np.nan))


def _gestation(planter: Planter) -> None:
    """A term newborn said to be born fourteen weeks early; days written for weeks and days."""
    column = "gestational_age_days"
    source = next(
        (p.take.sources.get(column) for p in planter.takes if p.take.table == "admission"), None
    )
    # Where weeks and days have a column each, one text would change two cells.
    if source is None or len(source.columns) != 1:
        return
    days = _days(planter)
    weighed = planter.tables["admission"]["weight_g"].notna().to_numpy()
    term = (days >= TERM_FIRST_DAY) & (days <= TERM_LAST_DAY) & weighed
    wanted = planter.how_many(planter.shares["gestation_too_early"])
    for rows in planter.choose("admission", column, wanted, term):
        recorded = planter.text_of(rows, column, rows[column] - TOO_EARLY_DAYS)
        planter.write("admission", rows, column, "gestation_too_early", recorded)
    wanted = planter.how_many(planter.shares["gestation_in_days"])
    for rows in planter.choose("admission", column, wanted):
        recorded = number_text(rows[column].to_numpy(dtype=float), 0)
        planter.write("admission", rows, column, "gestation_in_days", recorded)


def _apgar(planter: Planter) -> None:
    babies = planter.tables["admission"]
    rises = (babies["apgar_5"] > babies["apgar_1"] + 1).fillna(False).to_numpy(dtype=bool)
    wanted = planter.how_many(planter.shares["apgar_swapped"])
    for rows in planter.choose("admission", "apgar_1", wanted, rises):
        one, five = planter.true_texts(rows, "apgar_1"), planter.true_texts(rows, "apgar_5")
        planter.write("admission", rows, "apgar_1", "apgar_swapped", five)
        planter.write("admission", rows, "apgar_5", "apgar_swapped", one)


def _given(planter: Planter, kind: str) -> Bools:
    dose = planter.tables["dose"]
    return ((dose["kind"] == kind) & (dose["status"] == "given")).to_numpy(dtype=bool)


def _route(planter: Planter) -> None:
    for kind, route in WRONG_ROUTE.items():
        wanted = planter.how_many(planter.shares["dose_wrong_route"] / len(WRONG_ROUTE))
        for rows in planter.choose("dose", "route", wanted, _given(planter, kind)):
            recorded = planter.text_of(rows, "route", route)
            planter.write("dose", rows, "route", "dose_wrong_route", recorded)


def _vitamin_k(planter: Planter) -> None:
    """Ten times the amount, and the adult presentation, of doses into a muscle."""
    dose = planter.tables["dose"]
    weight = planter.tables["admission"].drop_duplicates("newborn")["weight_g"]
    weighed = weight.notna().to_numpy()[dose["newborn"].to_numpy()]
    muscle = _given(planter, "vitamin_k") & (dose["route"] == "intramuscular").to_numpy(dtype=bool)
    wanted = planter.how_many(planter.shares["vitamin_k_dose_x10"])
    for rows in planter.choose("dose", "amount", wanted, muscle & weighed):
        recorded = number_text(rows["amount"].to_numpy(dtype=float) * 10, None)
        planter.write("dose", rows, "amount", "vitamin_k_dose_x10", recorded)
    newborn = muscle & (dose["strength"] == "newborn").to_numpy(dtype=bool)
    wanted = planter.how_many(planter.shares["vitamin_k_adult_strength"])
    for rows in planter.choose("dose", "strength", wanted, newborn):
        recorded = planter.text_of(rows, "strength", "adult")
        planter.write("dose", rows, "strength", "vitamin_k_adult_strength", recorded)


def _sets(planter: Planter) -> pd.DataFrame:
    """One row per whole set of signs: newborn, minutes, and the place of each sign's row."""
    rows = planter.tables["observation"][["newborn", "kind", "minutes", "value"]]
    rows = rows.dropna().reset_index(names="place")
    warmth, *others = (rows[rows["kind"] == kind].drop(columns="kind") for kind in SIGNS)
    sets = warmth.rename(columns={"place": SIGNS[0]})
    for kind, other in zip(SIGNS[1:], others, strict=True):
        near = other.rename(columns={"place": kind, "minutes": "at"})[["newborn", kind, "at"]]
        sets = sets.merge(near, on="newborn")
        sets = sets[(sets["at"] - sets["minutes"]).between(0, SET_MINUTES)].drop(columns="at")
        sets = sets.drop_duplicates(SIGNS[0])
    return sets.sort_values(["newborn", "minutes"])


def _copied_forward(planter: Planter) -> None:
    """All three signs of a set as in the set before."""
    takes = set(planter.takes_with("observation", "value"))
    rows = planter.tables["observation"]
    wanted = planter.how_many(planter.shares["copied_forward"])
    if len(takes) != 1 or wanted == 0:  # one take carries every sign: an export of sets
        return
    sets = _sets(planter)
    before = sets.groupby("newborn").shift()
    apart = (sets["minutes"] - before["minutes"]) >= SETS_APART_MINUTES
    free = planter.free[sets["newborn"].to_numpy()]
    pairs = sets.assign(**{f"{sign}_before": before[sign] for sign in SIGNS})[apart & free]
    pairs = pairs.drop_duplicates("newborn")
    pairs = pairs.iloc[planter.rng.permutation(len(pairs))[:wanted]]
    planter.free[pairs["newborn"].to_numpy()] = False
    for sign in SIGNS if len(pairs) else ():
        source = rows.loc[pairs[f"{sign}_before"].astype(int)]
        copied = planter.true_texts(source, "value")
        planter.write("observation", rows.loc[pairs[sign]], "value", "copied_forward", copied)


def _twins(planter: Planter) -> None:
    """The sizes of the first twin in the cells of the second."""
    babies = planter.tables["admission"].drop_duplicates("newborn")
    second = np.flatnonzero(babies["plurality"].to_numpy()[1:] == 2) + 1
    same = babies["plurality"].to_numpy()[second - 1] == 2
    for column in ("birth_month", "birth_weekday", "birth_hour"):
        values = babies[column].to_numpy()
        same &= values[second] == values[second - 1]
    sizes = babies[list(SIZE_COLUMNS)].notna().all(axis="columns").to_numpy()
    same &= sizes[second] & sizes[second - 1] & planter.free[second] & planter.free[second - 1]
    second = second[same]
    second = second[np.diff(second, prepend=-2) > 1]  # a pair shares no newborn with the next
    wanted = planter.how_many(planter.shares["twin_sizes_copied"])
    second = np.sort(planter.rng.permutation(second)[:wanted])
    planter.free[second] = planter.free[second - 1] = False
    for column in SIZE_COLUMNS:
        if len(second) and planter.takes_with("admission", column):
            copied = planter.true_texts(babies.iloc[second - 1], column)
            rows = babies.iloc[second]
            planter.write("admission", rows, column, "twin_sizes_copied", copied)


def _end_before_start(planter: Planter) -> None:
    late = (planter.tables["care"]["minutes"] >= 20).to_numpy(dtype=bool)
    wanted = planter.how_many(planter.shares["end_before_start"])
    for rows in planter.choose("care", "end_minutes", wanted, late):
        minutes = rows["minutes"].to_numpy(dtype=float)
        ended = minutes - planter.rng.integers(1, 20, len(rows)).astype(float)
        recorded = planter.time_text(rows, "end_minutes", ended)
        planter.write("care", rows, "end_minutes", "end_before_start", recorded)


def _after_leaving(planter: Planter) -> None:
    rows = planter.tables["observation"]
    left = planter.tables["admission"].drop_duplicates("newborn")["discharge_minutes"]
    left_at = left.to_numpy(dtype=float)[rows["newborn"].to_numpy()]
    wanted = planter.how_many(planter.shares["after_leaving"])
    for part in planter.choose("observation", "minutes", wanted, ~np.isnan(left_at)):
        ends = left.to_numpy(dtype=float)[part["newborn"].to_numpy()]
        later = ends + planter.rng.integers(60, 1440, len(part)).astype(float)
        recorded = planter.time_text(part, "minutes", later)
        planter.write("observation", part, "minutes", "after_leaving", recorded)


def _charted(planter: Planter) -> None:
    rows = planter.tables["observation"]
    timed = rows["minutes"].notna().to_numpy()
    for fault, shift in (("charted_before", -25.0), ("charted_late", 800.0)):
        usable = timed & (rows["minutes"] >= 25).to_numpy(dtype=bool)
        wanted = planter.how_many(planter.shares[fault])
        for part in planter.choose("observation", "charted_minutes", wanted, usable):
            charted = part["minutes"].to_numpy(dtype=float) + shift
            recorded = planter.time_text(part, "charted_minutes", charted)
            planter.write("observation", part, "charted_minutes", fault, recorded)

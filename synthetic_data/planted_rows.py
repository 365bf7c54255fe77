"""Faults that are a line too many: a dose twice, given and declined, a newborn under two keys.

The lines stand at the end of their files, so that no other line moves. The ledger's true value
of such a cell is blank: nothing should stand there.
"""

import re

import numpy as np
import pandas as pd

from synthetic_data.contradictions import is_in, number
from synthetic_data.planter import Planter
from synthetic_data.scenario import Bools

FIRST_FREE_KEY = 5_000  # beyond the last key, so that no planted key meets another
GLOBULIN = "hepatitis_b_immune_globulin"


def plant_rows(planter: Planter) -> None:
    """Plant every fault of this module; after all others, for tables grow."""
    for step in (_twice, _declined_and_given, _globulin, _two_keys):
        step(planter)


def _enter(planter: Planter, table: str, rows: pd.DataFrame, column: str, fault: str) -> None:
    for _, part in rows.groupby("take"):
        blank = np.full(len(part), "", dtype=object)
        planter.enter(table, part, column, fault, (blank, planter.true_texts(part, column)))


def _chosen_doses(planter: Planter, fault: str, eligible: Bools) -> list[pd.DataFrame]:
    """Doses whose export has room for a second line: one of events, not one line a newborn."""
    long = [placed.number for placed in planter.takes if not placed.is_wide]
    rows = planter.tables["dose"]
    usable = eligible & rows["take"].isin(long).to_numpy(dtype=bool)
    usable &= rows["minutes"].notna().to_numpy() & (rows["route"] != "oral").to_numpy(dtype=bool)
    if not usable.any():
        return []
    return planter.choose("dose", "minutes", planter.how_many(planter.shares[fault]), usable)


def _given(planter: Planter) -> Bools:
    return np.asarray((planter.tables["dose"]["status"] == "given").to_numpy(dtype=bool))


def _twice(planter: Planter) -> None:
    for rows in _chosen_doses(planter, "dose_given_twice", _given(planter)):
        later = rows["minutes"] + planter.rng.integers(5, 300, len(rows))
        added = planter.stand_beside("dose", rows.assign(minutes=later))
        _enter(planter, "dose", added, "minutes", "dose_given_twice")


def _declined_and_given(planter: Planter) -> None:
    """The refusal stands in the minute of the dose."""
    for rows in _chosen_doses(planter, "dose_declined_and_given", _given(planter)):
        refused = rows.copy()
        refused["status"] = pd.Categorical(["refused"] * len(rows), rows["status"].cat.categories)
        for column in ("route", "site", "amount", "amount_unit", "strength"):
            refused[column] = refused[column].mask(np.ones(len(rows), dtype=bool))
        added = planter.stand_beside("dose", refused)
        _enter(planter, "dose", added, "status", "dose_declined_and_given")


def _globulin(planter: Planter) -> None:
    """Globulin of a newborn whose mother is negative and was known to be."""
    dose = planter.tables["dose"]
    negative = is_in(planter.of_newborn("maternal_hepatitis_b"), ("negative",)).copy()
    negative &= ~(number(planter, "maternal_hepatitis_b_minutes") > 0)
    has = dose.loc[(dose["kind"] == GLOBULIN).to_numpy(dtype=bool), "newborn"]
    negative[has.to_numpy(dtype=int)] = False
    vaccine = (dose["kind"] == "hepatitis_b_vaccine").to_numpy(dtype=bool) & _given(planter)
    eligible = vaccine & negative[dose["newborn"].to_numpy()]
    for rows in _chosen_doses(planter, "globulin_of_negative", eligible):
        globulin = rows.copy()
        globulin["kind"] = pd.Categorical([GLOBULIN] * len(rows), rows["kind"].cat.categories)
        added = planter.stand_beside("dose", globulin)
        _enter(planter, "dose", added, "kind", "globulin_of_negative")


def _two_keys(planter: Planter) -> None:
    """The newborn's line again, under another key."""
    facts = [
        "weight_g", "length_cm", "head_circumference_cm", "apgar_1", "apgar_5",
        "gestational_age_days", "sex",
    ]  # fmt: skip
    babies = planter.tables["admission"]
    known = babies[facts].notna().all(axis="columns").to_numpy()
    known = known & is_in(babies["plurality"], (1,))
    wanted = planter.how_many(planter.shares["newborn_under_two_keys"])
    key = planter.n + FIRST_FREE_KEY
    for rows in planter.choose("admission", "record_id", wanted, known):
        added = planter.stand_beside("admission", rows)
        shape = re.compile(r"\d+$")
        keys = [
            shape.sub(lambda old, n=key + place: f"{n:0{len(old.group())}d}", str(one))  # type: ignore[misc]
            for place, one in enumerate(added["record_id"])
        ]
        key += len(added)
        blank = np.full(len(added), "", dtype=object)
        texts = (blank, np.array(keys, dtype=object))
        # The record that is wrong is the one of the new key; the other stays as it was.
        wrong = added.assign(record_id=keys)
        planter.enter("admission", wrong, "record_id", "newborn_under_two_keys", texts)

"""Every rate of the demo against the generator's own truth.

The outside thing is ``true_events`` and its neighbours: the measures' prose counted in plain pandas
from the tables that the generator drew, before faults were planted and exports written.
"""

import tomllib
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Final

import duckdb
import numpy as np
import pandas as pd
import pytest

from pipelines.definitions.read_measures import read_measures
from pipelines.definitions.read_units import find_unit
from synthetic_data import Truth, generate
from synthetic_data.demo import DEMO_MONTHS, DEMO_START, DEMO_UNITS
from synthetic_data.stories import read_stories
from tests.conftest import DEMO_SEED, Demo

from .true_care import CARE
from .true_days import DAYS
from .true_events import TRUE, Events
from .true_items import ITEMS, Things
from .true_watch import MINUTES, WATCH

# Of a normal distribution, two-sided: one in ten thousand lies beyond.
BEYOND = 3.89
BY_NEWBORN: Final = TRUE | DAYS | CARE | WATCH
# What is planted in doses is what these are to find: their years are held apart from the faulty.
FINDS_THE_PLANTED: Final = {"product_strength", "vitamin_k_dose"}
# What an export has no column for, so that the measure is silent there.
SILENT: Final = {("tansy_ridge", "finding_escalated"): "no finding but the hearing screen"}
# So few that a whole demo has a handful of them.
RARE: Final = {"hepatitis_b_unknown_under_2000_g"}


@dataclass(frozen=True)
class Side:
    """One unit: its true events, and what the demo's store says of each newborn and year.

    Newborns have the generator's numbers on both sides; ``spoilt`` carry a planted fault.
    """

    events: Events
    truth: Truth
    members: dict[str, pd.DataFrame]  # of each measure, whom it counts: newborn, met, minutes
    rates: dict[str, pd.DataFrame]  # of each measure, by month: numerator, counted
    spoilt: pd.Index
    known: dict[str, Things] = field(default_factory=dict)

    def true(self, name: str) -> Things:
        """Return what is true of each thing that a measure counts: newborn, met."""
        if name not in self.known:
            if name in BY_NEWBORN:
                things = BY_NEWBORN[name](self.events).rename_axis("newborn").reset_index()
            else:
                things = ITEMS[name](self.events)
            self.known[name] = things.loc[things["in_rate"], ["newborn", "met"]]
        return self.known[name]

    def whole(self, things: pd.DataFrame) -> pd.DataFrame:
        return things[~things["newborn"].isin(self.spoilt)]

    @property
    def names(self) -> list[str]:
        """The measures that the unit asks for."""
        return [name for name in [*BY_NEWBORN, *ITEMS] if is_asked(self.truth.unit.id, name)]


@cache
def is_asked(unit: str, name: str) -> bool:
    """Return whether the unit's export can say it and its own file does not switch it off."""
    text = files("pipelines.definitions").joinpath("units", f"{unit}.toml")
    policy = tomllib.loads(text.read_text(encoding="utf-8")).get("policy", [])
    off = any(one["measure"] == name and one.get("applies") is False for one in policy)
    return not off and (unit, name) not in SILENT


def true_of(unit: str) -> Truth:
    return generate(
        find_unit(unit),
        start=DEMO_START,
        n_months=DEMO_MONTHS,
        seed=DEMO_SEED,
        stories=read_stories(),
    )


@pytest.fixture(scope="module", params=DEMO_UNITS)
def side(request: pytest.FixtureRequest, told_demo: Demo) -> Side:
    truth = true_of(request.param)
    with duckdb.connect(str(told_demo.store), read_only=True) as store:
        members = store.execute(
            "select measure_id, record_id, state = 'met' as met, period, minutes from membership "
            "where unit = ? and is_counted",
            [request.param],
        ).df()
        rates = store.execute(
            "select measure_id, period_start, numerator, counted from result where unit = ? and "
            "period_kind = 'month' and stratifier = 'all newborns' and period_start is not null",
            [request.param],
        ).df()
    faults = told_demo.ledger.loc[told_demo.ledger["unit"] == request.param, "record_id"]
    # A fault may put a newborn under a key that it never had: the numbers go on after the true.
    true_keys = truth.tables["admission"]["record_id"].astype(str)
    keys = pd.Index(pd.concat([true_keys, members["record_id"], faults]).unique())
    return Side(
        Events(truth),
        truth,
        by_measure(members.assign(newborn=keys.get_indexer(pd.Index(members["record_id"])))),
        by_measure(rates.sort_values("period_start")),
        pd.Index(keys.get_indexer(pd.Index(faults))),
    )


def by_measure(rows: pd.DataFrame) -> dict[str, pd.DataFrame]:
    return {str(name): own for name, own in rows.groupby("measure_id")}


def test_every_measure_is_held_to_the_truth() -> None:
    every = {
        name
        for measure in read_measures().values()
        for name in [f"{measure.id}_{band.id}" for band in measure.bands] or [measure.id]
    }
    assert every == {*BY_NEWBORN, *ITEMS, *MINUTES}


def by_newborn(things: pd.DataFrame) -> pd.DataFrame:
    rows = pd.DataFrame({"counted": 1, "met": things["met"].astype(int)})
    return rows.groupby(things["newborn"]).sum()


@pytest.mark.build
def test_each_newborn_counts_as_its_true_events_say(side: Side) -> None:
    """Who is counted, and how often it was met, of those who carry no planted fault."""
    for name in side.names:
        true = by_newborn(side.whole(side.true(name)))
        told = by_newborn(side.whole(side.members[name]))
        assert len(true) > (0 if name in RARE else 20), name
        apart = told.sub(true, fill_value=0)
        wrong = apart[told.reindex(apart.index).ne(true.reindex(apart.index)).any(axis=1)]
        assert wrong.empty, f"{name}: of {len(apart)} {len(wrong)}, {wrong.head(5).to_dict()}"


@pytest.mark.build
def test_each_minute_is_the_true_one(side: Side) -> None:
    """Of measures that are a time and no rate: who has one, and how many minutes."""
    for name, minutes_of in MINUTES.items():
        if not is_asked(side.truth.unit.id, name):
            continue
        true = minutes_of(side.events).rename_axis("newborn").reset_index()
        true = side.whole(true[true["in_rate"]]).set_index("newborn")
        told = side.whole(side.members[name]).set_index("newborn")
        assert len(true) > 20
        assert told["minutes"].to_dict() == true["minutes"].to_dict(), name


def test_what_a_unit_does_not_ask_counts_for_nobody(side: Side) -> None:
    asked = [*BY_NEWBORN, *ITEMS, *MINUTES]
    assert set(side.members) == {name for name in asked if is_asked(side.truth.unit.id, name)}


def year_of(side: Side, things: Things) -> pd.Series:
    born = pd.DatetimeIndex(side.events.babies["birth_month"])
    first = pd.Timestamp(DEMO_START)
    year = (12 * (born.year - first.year) + born.month - first.month) // 12
    return pd.Series(year.to_numpy()[things["newborn"]], things.index)


@pytest.mark.build
def test_each_year_has_its_true_rate(side: Side) -> None:
    """Both over their own newborns: faults and rare exclusions differ, within chance."""
    for name in sorted(set(side.names) - FINDS_THE_PLANTED - RARE):
        known, own = side.true(name), side.rates[name]
        year = year_of(side, known)
        assert len(own) == DEMO_MONTHS, name
        for at in range(3):
            told = own.iloc[12 * at : 12 * at + 12][["numerator", "counted"]].sum()
            true = known[year == at]
            share, of = true["met"].mean(), len(true)
            margin = BEYOND * float(np.sqrt(share * (1 - share) / of)) + 0.5 / of
            rate = told["numerator"] / told["counted"]
            assert abs(rate - share) <= margin, f"{name}, year {at + 1}: {rate} against {share}"
            assert abs(told["counted"] - of) <= 0.05 * of + 3, f"{name}: {told['counted']}, {of}"


@pytest.mark.build
def test_each_month_counts_the_true_events_and_the_planted_faults(side: Side) -> None:
    """To the newborn: a month's counts, without those who carry a planted fault, are the truth."""
    month = pd.DatetimeIndex(side.events.babies["birth_month"]).to_period("M").to_timestamp()
    for name in side.names:
        true, own = side.whole(side.true(name)), side.members[name]
        truly = true["met"].groupby(month[true["newborn"]])
        own = own[own["newborn"].isin(side.spoilt)]
        spoilt = own.groupby(pd.DatetimeIndex(own["period"]))["met"]
        rates = side.rates[name].set_index("period_start")
        for column, how in (("counted", "size"), ("numerator", "sum")):
            left = rates[column].sub(spoilt.agg(how), fill_value=0)
            wrong = left[left != truly.agg(how).reindex(left.index, fill_value=0)]
            assert wrong.empty, f"{name}, {column}: {wrong.head(3).to_dict()}"


@pytest.mark.build
def test_the_truth_file_names_whom_the_stories_touched(side: Side, told_demo: Demo) -> None:
    written = pd.read_csv(told_demo.truths[side.truth.unit.id])
    told = side.truth.told.sort_values(["story", "record_id"])
    assert written["record_id"].tolist() == told["record_id"].tolist()
    planted = {one.id for one in read_stories() if one.unit == side.truth.unit.id}
    assert set(written["story"]) <= planted
    of_faults = told_demo.ledger.loc[told_demo.ledger["unit"] == side.truth.unit.id, "record_id"]
    assert not set(written["record_id"]) & set(of_faults)

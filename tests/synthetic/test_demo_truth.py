"""Every rate of the demo against the generator's own truth.

The outside thing is ``true_events`` and its neighbours: the measures' prose counted in plain pandas
from the tables that the generator drew, before faults were planted and exports written.
"""

import tomllib
from dataclasses import dataclass, field
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
# A measure that is neither here nor held by the above fails the test below, whatever is the reason.
NOT_HELD: Final[dict[str, str]] = {}
# What is planted in doses is what these are to find: their years are held apart from the faulty.
FINDS_THE_PLANTED: Final = {"product_strength", "vitamin_k_dose"}
# What an export has no column for, so that the measure is silent there.
SILENT: Final = {("tansy_ridge", "finding_escalated"): "no finding but the hearing screen"}
# So few that a whole demo has a handful of them.
RARE: Final = {"hepatitis_b_unknown_under_2000_g"}


@dataclass(frozen=True)
class Side:
    """One unit: its true events, and what the demo's store says of each newborn and year."""

    events: Events
    truth: Truth
    members: pd.DataFrame
    rates: pd.DataFrame
    faulty: set[str]
    known: dict[str, Things] = field(default_factory=dict)

    def true(self, name: str) -> Things:
        """Return what is true of each thing that a measure counts, with its newborn's key."""
        if name in self.known:
            return self.known[name]
        if name in BY_NEWBORN:
            things = BY_NEWBORN[name](self.events).rename_axis("newborn").reset_index()
        else:
            things = ITEMS[name](self.events)
        keys = self.events.babies["record_id"].astype(str).to_numpy()
        self.known[name] = things.assign(record_id=keys[things["newborn"]])
        return self.known[name]

    def told(self, name: str) -> pd.DataFrame:
        """Return what the store says of each thing, of newborns without a planted fault."""
        own = self.members[self.members["measure_id"] == name]
        return own[~own["record_id"].isin(self.faulty)]

    @property
    def names(self) -> list[str]:
        """The measures that the unit asks for."""
        return [name for name in [*BY_NEWBORN, *ITEMS] if is_asked(self.truth.unit.id, name)]


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
            "select record_id, measure_id, state = 'met' as met, is_counted, period, minutes "
            "from membership where unit = ?",
            [request.param],
        ).df()
        rates = store.execute(
            "select measure_id, period_start, numerator, counted from result where unit = ? and "
            "period_kind = 'month' and stratifier = 'all newborns' and period_start is not null",
            [request.param],
        ).df()
    faulty = set(told_demo.ledger.loc[told_demo.ledger["unit"] == request.param, "record_id"])
    return Side(Events(truth), truth, members, rates, faulty)


def test_every_measure_is_held_to_the_truth_or_listed_with_its_reason() -> None:
    every = {
        name
        for measure in read_measures().values()
        for name in [f"{measure.id}_{band.id}" for band in measure.bands] or [measure.id]
    }
    held = set(BY_NEWBORN) | set(ITEMS) | set(MINUTES)
    assert every == held | set(NOT_HELD)
    assert not held & set(NOT_HELD)
    assert all(NOT_HELD.values())


def by_record(things: pd.DataFrame) -> pd.DataFrame:
    return things.groupby("record_id")["met"].agg(counted="size", met="sum")


@pytest.mark.build
def test_each_newborn_counts_as_its_true_events_say(side: Side) -> None:
    """Who is counted, and how often it was met, of those who carry no planted fault."""
    for name in side.names:
        true, told = side.true(name), side.told(name)
        true = by_record(true[true["in_rate"] & ~true["record_id"].isin(side.faulty)])
        told = by_record(told[told["is_counted"]])
        both = true.join(told, how="outer", lsuffix="_true").fillna(0).astype(int)
        wrong = both[(both["counted_true"] != both["counted"]) | (both["met_true"] != both["met"])]
        assert len(true) > (0 if name in RARE else 20), name
        assert wrong.empty, f"{name}: {len(wrong)} of {len(both)}, {wrong.head(5).to_dict('index')}"


@pytest.mark.build
def test_each_minute_is_the_true_one(side: Side) -> None:
    """Of measures that are a time and no rate: who has one, and how many minutes."""
    keys = side.events.babies["record_id"].astype(str).to_numpy()
    for name, minutes_of in MINUTES.items():
        if not is_asked(side.truth.unit.id, name):
            continue
        true = minutes_of(side.events).set_axis(keys)
        true = true.loc[true["in_rate"] & ~true.index.isin(side.faulty), "minutes"]
        told = side.told(name)
        told = told[told["is_counted"]].set_index("record_id")["minutes"]
        assert len(true) > 20
        pd.testing.assert_series_equal(
            told.sort_index(), true.sort_index(), check_names=False, check_index_type=False
        )


def test_what_a_unit_does_not_ask_counts_for_nobody(side: Side) -> None:
    counted = set(side.members.loc[side.members["is_counted"], "measure_id"])
    asked = [*BY_NEWBORN, *ITEMS, *MINUTES]
    assert counted == {name for name in asked if is_asked(side.truth.unit.id, name)}


def year_of(side: Side, things: Things) -> pd.Series:
    born = pd.DatetimeIndex(side.events.babies["birth_month"])
    first = pd.Timestamp(DEMO_START)
    year = (12 * (born.year - first.year) + born.month - first.month) // 12
    return pd.Series(year.to_numpy()[things["newborn"]], things.index)


@pytest.mark.build
def test_each_year_has_its_true_rate(side: Side) -> None:
    """Both over their own newborns: faults and rare exclusions differ, within chance."""
    for name in set(side.names) - FINDS_THE_PLANTED - RARE:
        known = side.true(name)
        year = year_of(side, known)
        own = side.rates[side.rates["measure_id"] == name].sort_values("period_start")
        assert len(own) == DEMO_MONTHS, name
        for at in range(3):
            told = own.iloc[12 * at : 12 * at + 12][["numerator", "counted"]].sum()
            true = known[(year == at) & known["in_rate"]]
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
        true = side.true(name)
        true = true[true["in_rate"] & ~true["record_id"].isin(side.faulty)]
        true = true.assign(month=month[true["newborn"]]).groupby("month")["met"]
        own = side.members[(side.members["measure_id"] == name) & side.members["is_counted"]]
        own = own[own["record_id"].isin(side.faulty)]
        spoilt = own.groupby(pd.DatetimeIndex(own["period"]))["met"]
        rates = side.rates[side.rates["measure_id"] == name].set_index("period_start")
        for column, how in (("counted", "size"), ("numerator", "sum")):
            left = rates[column].sub(spoilt.agg(how), fill_value=0)
            wrong = left[left != true.agg(how).reindex(left.index, fill_value=0)]
            assert wrong.empty, f"{name}, {column}: {wrong.head(3).to_dict()}"


@pytest.mark.build
def test_the_truth_file_names_whom_the_stories_touched(side: Side, told_demo: Demo) -> None:
    written = pd.read_csv(told_demo.truths[side.truth.unit.id])
    told = side.truth.told.sort_values(["story", "record_id"])
    assert written["record_id"].tolist() == told["record_id"].tolist()
    planted = {one.id for one in read_stories() if one.unit == side.truth.unit.id}
    assert set(written["story"]) <= planted
    assert not set(written["record_id"]) & side.faulty

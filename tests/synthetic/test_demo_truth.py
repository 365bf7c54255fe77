"""Every rate of the demo that true events can give, against the generator's own truth.

The outside thing is ``true_events``: the measures' prose counted in plain pandas from the tables
that the generator drew, before faults were planted and exports written.
"""

from dataclasses import dataclass

import duckdb
import numpy as np
import pandas as pd
import pytest

from pipelines.definitions.read_units import find_unit
from synthetic_data import Truth, generate
from synthetic_data.demo import DEMO_MONTHS, DEMO_START, DEMO_UNITS
from synthetic_data.stories import read_stories
from tests.conftest import DEMO_SEED, Demo

from .true_events import TRUE, Events

# Of a normal distribution, two-sided: one in ten thousand lies beyond.
BEYOND = 3.89
NOT_IN_TANSY_RIDGE = {
    *("heart_screen", "first_examination", "first_stool", "first_void"),
    *("glucose_check", "glucose_low_risk"),
}


@dataclass(frozen=True)
class Side:
    """One unit: its true events, and what the demo's store says of each newborn and year."""

    events: Events
    truth: Truth
    members: pd.DataFrame
    rates: pd.DataFrame
    faulty: set[str]


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
            "select record_id, measure_id, state from membership where unit = ? and item = 1",
            [request.param],
        ).df()
        rates = store.execute(
            "select measure_id, period_start, numerator, counted from result where unit = ? and "
            "period_kind = 'month' and stratifier = 'all newborns' and period_start is not null",
            [request.param],
        ).df()
    faulty = set(told_demo.ledger.loc[told_demo.ledger["unit"] == request.param, "record_id"])
    return Side(Events(truth), truth, members, rates, faulty)


def measures_of(side: Side) -> list[str]:
    is_wide = side.truth.unit.id == "tansy_ridge"
    return [name for name in TRUE if not (is_wide and name in NOT_IN_TANSY_RIDGE)]


@pytest.mark.build
def test_each_newborn_counts_as_its_true_events_say(side: Side) -> None:
    """State by state, of those whom the store counts and who carry no planted fault."""
    keys = side.events.babies["record_id"].astype(str)
    for name in measures_of(side):
        known = TRUE[name](side.events)
        met = pd.Series(known["met"].to_numpy(), index=keys)
        own = side.members[side.members["measure_id"] == name]
        own = own[~own["record_id"].isin(side.faulty)]
        own = own[~own["state"].isin(["exclusion", "exception", "unusable"])]
        wrong = own[(own["state"] == "met") != own["record_id"].map(met)]
        assert len(own) > 20, name
        assert wrong.empty, f"{name}: {wrong.head(5).to_dict('records')}"


@pytest.mark.build
def test_each_year_has_its_true_rate(side: Side) -> None:
    """Both over their own newborns: faults and rare exclusions differ, within chance."""
    born = pd.DatetimeIndex(side.events.babies["birth_month"])
    first = pd.Timestamp(DEMO_START)
    year = (12 * (born.year - first.year) + born.month - first.month) // 12
    for name in measures_of(side):
        known = TRUE[name](side.events)
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
def test_the_truth_file_names_whom_the_stories_touched(side: Side, told_demo: Demo) -> None:
    written = pd.read_csv(told_demo.truths[side.truth.unit.id])
    told = side.truth.told.sort_values(["story", "record_id"])
    assert written["record_id"].tolist() == told["record_id"].tolist()
    planted = {one.id for one in read_stories() if one.unit == side.truth.unit.id}
    assert set(written["story"]) <= planted
    assert not set(written["record_id"]) & side.faulty

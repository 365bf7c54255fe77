"""The rest of the first days is drawn beside what was there, and moves none of it."""

import sys

import pandas as pd
import pytest

from pipelines.definitions.read_units import find_unit
from synthetic_data import Truth, generate, plant
from synthetic_data.scenario import read_scenario
from tests.ledger.score import CONTRADICTIONS, SELDOM_TOLD

UNIT, MONTHS, BIRTHS, SEED = "quillmere", 3, 120, 4
EVENTS = ("observation", "dose", "care", "finding")


def drawn() -> Truth:
    return generate(find_unit(UNIT), n_months=MONTHS, births_per_month=BIRTHS, seed=SEED)


def nothing(babies: object, events: dict[str, pd.DataFrame], *_: object) -> None:
    """Stand in for the rest of the first days: mark the rows, add none."""
    for name, table in events.items():
        events[name] = table.assign(is_spared=False)


@pytest.mark.slow
def test_what_was_there_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    whole, faults = drawn(), plant(drawn(), seed=SEED)[1]
    # The package gives its function the name of the module.
    monkeypatch.setattr(sys.modules["synthetic_data.generate"], "add_first_days", nothing)
    before, faults_before = drawn(), plant(drawn(), seed=SEED)[1]
    for name in EVENTS:
        table = whole.tables[name]
        kept = table[~table["is_spared"]].reset_index(drop=True)
        columns = [column for column in kept if column != "feed"]
        # As text: what a category column may say differs, what it says does not.
        assert kept[columns].astype(str).equals(before.tables[name][columns].astype(str)), name
        assert table["is_spared"].any(), name
    cells = ["table_name", "record_id", "column_name", "fault", "true_value", "recorded_value"]
    # A contradiction is one of the whole record, these rows too, and comes from its own stream.
    aside = {*CONTRADICTIONS, *SELDOM_TOLD, "clock_hour_shown_twice"}
    planted = [
        led[~led["fault"].isin(aside)][cells].reset_index(drop=True)
        for led in (faults, faults_before)
    ]
    assert len(planted[0]) > 20
    assert planted[0].equals(planted[1])


def test_a_screen_that_failed_is_mostly_followed_and_a_season_is_kept() -> None:
    """The numbers of the scenario are those of the rows."""
    number = read_scenario()["first_days"]
    truth = drawn()
    finding, dose, babies = (truth.tables[name] for name in ("finding", "dose", "admission"))
    hearing = finding[finding["kind"] == "hearing_screen"].drop_duplicates("newborn")
    assert 0 < (~hearing["as_expected"].astype(bool)).mean() < 3 * number["hearing_failed"]
    antibody = dose[dose["kind"] == "rsv_antibody"]
    born = babies["birth_time"].dt.month.to_numpy()[antibody["newborn"]]
    assert set(born) <= set(number["rsv_months"])
    assert len(antibody) > 0

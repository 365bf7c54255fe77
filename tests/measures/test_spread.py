"""Medians, centiles and strata of the store against numpy and pandas over its membership.

Source of the method: numpy.percentile (linear interpolation) and pandas.groupby, general
libraries that this project does not maintain.
"""

import numpy as np
import pandas as pd

from pipelines.base.store_file import open_store
from pipelines.definitions.strata import NOT_RECORDED, STRATIFIERS
from tests.conftest import Built

MINUTES = ("minutes_to_first_temperature", "longest_observation_gap")


def frames(built: Built) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    with open_store(built.store) as store:
        members = store.execute(
            f"select membership.*, {', '.join(STRATIFIERS)} from membership "
            "inner join newborn using (newborn_id)"
        ).df()
        spread = store.execute("select * from spread").df()
        result = store.execute("select * from result where period_kind = 'quarter'").df()
    for name in STRATIFIERS:
        members[name] = members[name].fillna(NOT_RECORDED)
    quarter = members["period"].dt.to_period("Q").dt.start_time
    return members.assign(quarter=quarter), spread, result


def test_medians_and_centiles_equal_numpy(synthetic: Built) -> None:
    members, spread, _ = frames(synthetic)
    months = spread[(spread["period_kind"] == "month") & (spread["measured"] > 0)]
    assert set(months["measure_id"]) == set(MINUTES)
    assert len(months) > 20
    for row in months.itertuples():
        here = members[
            (members["measure_id"] == row.measure_id)
            & (members["unit"] == row.unit)
            & (members["period"] == row.period_start)
        ]
        minutes = here.loc[here["state"] == "met", "minutes"].to_numpy()
        assert len(minutes) == row.measured
        assert np.isclose(np.percentile(minutes, 50), row.median_minutes)
        assert np.isclose(np.percentile(minutes, 90), row.p90_minutes)
        assert (~here["state"].isin(["met", "exclusion", "exception"])).sum() == row.not_measured


def test_every_stratum_equals_pandas(synthetic: Built) -> None:
    members, spread, result = frames(synthetic)
    for name in STRATIFIERS:
        keys = ["measure_id", "unit", "quarter", name]
        here = members.dropna(subset=["quarter"])
        own = here.groupby(keys)["state"].agg(
            initial_population="size", numerator=lambda states: (states == "met").sum()
        )
        stored = result[result["stratifier"] == name].rename(
            columns={"period_start": "quarter", "stratum": name}
        )
        stored = stored.set_index(keys)[["initial_population", "numerator"]]
        filled = stored[stored["initial_population"] > 0].sort_index()
        pd.testing.assert_frame_equal(filled, own.sort_index(), check_dtype=False, obj=name)
    assert set(spread["stratifier"]) == {"all newborns", *STRATIFIERS}

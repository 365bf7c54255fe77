"""Charts from event to event, against published examples and scipy's laws."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from pipelines.base.store_file import open_store
from pipelines.reading.frames import BirthRow, MonthRow, SeriesRow
from pipelines.reading.queries import query
from pipelines.statistics import chance, false_alarms, gap, periods, rare
from pipelines.statistics.over_time import over_time
from pipelines.words import of_signals
from synthetic_data.demo import DEMO_UNITS
from tests.benchmark import gaps as benchmark
from tests.conftest import Built
from tests.statistics import classical
from tests.statistics.cases import assert_agrees, case


def test_g_chart_of_infections() -> None:
    """Dates adapted from Benneyan 1998, limits by scipy's geometric law (not from memory)."""
    one = case("g_chart_infections_benneyan")
    dates = [dt.datetime.strptime(f"1995/{day}", "%Y/%m/%d") for day in one["inputs"]["dates_1995"]]
    between = periods.by_days(pd.DataFrame({"born_on": dates, "is_met": True}), True)["rate"]
    assert list(between) == one["inputs"]["days_between"]
    learned = gap.Gap.of(between.to_numpy())
    # Three sigma as in Benneyan 2001: the variance of gaps counted from 0 is mean (mean + 1).
    limits = classical.around(learned.centre, np.sqrt(learned.centre * (learned.centre + 1)), 0.0)
    # The law of gaps with a baseline so long that it leaves one rate: the geometric.
    sure = gap.Gap(10**6 * learned.gaps, 10**6 * learned.births_between)
    lower, upper = sure.limits(np.ones(1), 0.00135)
    actual = {
        "center": limits.centre,
        "p": learned.gaps / (learned.gaps + learned.births_between),
        "lcl": limits.lower,
        "ucl": limits.upper,
        "prob_lcl": lower[0],
        "prob_ucl": upper[0],
    }
    assert_agrees(actual, one)


def test_transformed_times_of_valve_failures() -> None:
    """Montgomery, valve failures: table of transformed values; from memory."""
    one = case("t_chart_valve_transform")
    assert one["inputs"]["power"] == rare.NELSON_POWER
    assert_agrees({"y": rare.to_nelson(one["inputs"]["hours_between"])}, one)


def test_limits_of_valve_failures() -> None:
    """Montgomery, valve failures (data from memory); limits by the package shewhart 0.1.1."""
    one = case("t_chart_valve_limits")
    hours = np.array(one["inputs"]["hours_between"], float)
    learned = chance.Level.of(hours, is_time=True)
    limits = classical.around(learned.mean, learned.sigma)
    actual = {"mean_y": limits.centre, "ucl_y": limits.upper, "lcl_y": limits.lower}
    assert_agrees(actual, one)
    assert learned.limits(np.ones(1), 0.00135)[0][0] == 0  # below 0 on the transformed scale
    assert learned.centre < hours.mean()  # the mean turned back is not the mean of the times


@given(st.lists(st.booleans(), max_size=60))
def test_gaps_equal_a_count_along_the_births(is_event: list[bool]) -> None:
    """Independent: counted birth by birth. Every birth after the first event is in one gap."""
    gaps, waiting, seen = [], 0, False
    for event in is_event:
        if event and seen:
            gaps.append(waiting)
        waiting = 0 if event else waiting + 1
        seen = seen or event
    got, closes, since = rare.gaps_between(is_event)
    assert (list(got), since) == (gaps, waiting)
    assert all(is_event[at] for at in closes)


@settings(max_examples=50, deadline=None)
@given(
    gaps=st.integers(6, 40),
    mean=st.floats(0.5, 400),
    periods=st.integers(1, 6),
    total=st.integers(0, 3000),
)
def test_births_between_follow_the_negative_binomial_averaged_over_beta(
    gaps: int, mean: float, periods: int, total: int
) -> None:
    """scipy.stats.nbinom averaged over scipy's beta quantiles: the same law by another road."""
    model = gap.Gap(gaps, round(gaps * mean))
    grid = (np.arange(4000) + 0.5) / 4000
    event = stats.beta.ppf(grid, gaps + 0.5, model.births_between + 0.5)
    at_most, at_least = model.tails(np.array([float(total)]), np.array([1.0]), periods)
    assert at_most[0] == pytest.approx(stats.nbinom.cdf(total, periods, event).mean(), abs=1e-3)
    assert at_least[0] == pytest.approx(stats.nbinom.sf(total - 1, periods, event).mean(), abs=1e-3)


@settings(max_examples=50, deadline=None)
@given(gaps=st.integers(6, 40), mean=st.floats(0.2, 400))
def test_limits_of_births_between_leave_the_tail_outside(gaps: int, mean: float) -> None:
    """Through its own tails: the limit is allowed, the next value beyond it is not."""
    model = gap.Gap(gaps, round(gaps * mean))
    size = np.array([1.0])
    lower, upper = model.limits(size, 0.00135)
    low, _ = model.tails(lower, size, 1)
    under, _ = model.tails(lower - 1, size, 1)
    _, high = model.tails(upper, size, 1)
    _, beyond = model.tails(upper + 1, size, 1)
    assert low[0] >= 0.00135 > under[0]
    assert high[0] >= 0.00135 - 1e-9 and beyond[0] < 0.00135 + 1e-9


def births(chances: list[float], a_month: int, seed: int) -> pd.DataFrame:
    """Draw births in order, month by month."""
    rng = np.random.default_rng(seed)
    month = pd.date_range("2022-01-01", periods=len(chances), freq="MS").repeat(a_month)
    is_met = rng.random(len(month)) < np.repeat(chances, a_month)
    return pd.DataFrame({"month": month, "is_met": is_met})


def monthly(rows: pd.DataFrame) -> pd.DataFrame:
    grouped = rows.groupby("month")["is_met"].agg(numerator="sum", counted="size")
    return grouped.reset_index()


def test_a_rare_harm_is_charted_from_event_to_event() -> None:
    rows = births([0.006] * 48, 100, 3)
    chart = over_time(monthly(rows), kind="bands", direction="lower", births=rows)
    events = int(rows["is_met"].sum())
    assert (chart.chart_kind, chart.period_kind) == ("g", "gap")
    assert "rare_events" in {why.name for why in chart.reasons}
    assert len(chart.points) == events - 1
    before_first = int(np.argmax(rows["is_met"]))
    births_told = chart.points["n"].sum() + chart.since_last + before_first + 1
    assert births_told == len(rows)


def test_more_frequent_harm_is_worse_and_shorter_gaps() -> None:
    rows = births([0.006] * 36 + [0.05] * 12, 100, 4)
    chart = over_time(monthly(rows), kind="bands", direction="lower", births=rows)
    assert len(chart.signals) and set(chart.signals["sense"]) == {"worse"}
    assert set(chart.signals["direction"]) == {"down"}
    assert chart.signals["start_on"].min() >= pd.Timestamp("2025-01-01")


def test_of_a_measure_to_be_met_the_event_is_the_miss() -> None:
    """Unbanded departures: births between two of them; a longer gap is better."""
    rows = births([0.993] * 36 + [0.9993] * 90, 100, 5)
    chart = over_time(monthly(rows), kind="proportion", direction="higher", births=rows)
    assert chart.chart_kind == "g"
    assert len(chart.points) == int((~rows["is_met"]).sum()) - 1
    assert set(chart.signals["sense"]) == {"better"}
    assert set(chart.signals["direction"]) == {"up"}


def test_days_between_need_dates_and_give_a_t_chart() -> None:
    rows = births([0.01] * 40, 60, 6)
    day = rows.groupby("month").cumcount() % 28
    rows["born_on"] = rows["month"] + pd.to_timedelta(np.sort(day) * 0 + day, unit="D")
    rows = rows.sort_values("born_on", ignore_index=True)
    chart = over_time(monthly(rows), kind="rare", direction="lower", births=rows, between="days")
    assert chart.chart_kind == "t"
    assert (chart.points["lower_limit"] >= 0).all()
    dates = rows.loc[rows["is_met"], "born_on"].to_numpy().astype("datetime64[D]")
    assert list(chart.points["rate"]) == list(np.diff(dates).astype(int))


def test_too_few_events_leave_the_share_by_month_and_say_so() -> None:
    rows = births([0.0] * 24, 100, 7)
    rows.loc[[50, 900], "is_met"] = True
    chart = over_time(monthly(rows), kind="bands", direction="lower", births=rows)
    assert (chart.chart_kind, chart.period_kind) == ("p", "month")
    why = {reason.name: reason for reason in chart.reasons}
    assert (why["too_few_events"].found, why["too_few_events"].needed) == (2, 13)


@pytest.mark.parametrize("events", [[], [10], [10, 40]])
def test_hardly_any_events_give_an_empty_chart_or_few_points_and_a_reason(
    events: list[int],
) -> None:
    rows = births([0.0] * 12, 20, 8)
    rows.loc[events, "is_met"] = True
    chart = over_time(monthly(rows), kind="rare", direction="lower", births=rows)
    assert len(chart.points) == max(len(events) - 1, 0)
    names = {why.name for why in chart.reasons}
    assert names & {"no_data", "too_few_points"}
    assert chart.since_last == 240 - (events[-1] + 1 if events else 0)


def test_births_of_a_store_are_those_of_its_rates_in_order_of_birth(synthetic: Built) -> None:
    """Every month's births give the numerator and the denominator of that month's rate."""
    measures = ["arrival_cold_moderate", "two_bands", "cold_recheck", "vitamin_k"]
    keys = ["measure_id", "month"]
    with open_store(synthetic.store) as store:
        for unit in DEMO_UNITS:
            months = query(store, "reading/months", MonthRow, unit=unit)
            month = months["month"].max()
            rows = query(
                store, "reading/births", BirthRow, unit=unit, measures=measures, month=month
            )
            rates = query(store, "reading/series", SeriesRow, unit=unit, month=month)
            wanted = rates[rates["measure_id"].isin(measures) & (rates["counted"] > 0)]
            wanted = wanted.set_index(keys)[["numerator", "counted"]].sort_index()
            told = rows.groupby(keys)["is_met"].agg(numerator="sum", counted="size").sort_index()
            pd.testing.assert_frame_equal(told, wanted, check_dtype=False)
            assert len(rows) > 100
            for _, of_one in rows.groupby("measure_id"):
                assert of_one["month"].is_monotonic_increasing
                assert of_one["born_on"].dropna().is_monotonic_increasing


def test_days_between_have_no_season_laid_over_them() -> None:
    """Once the raw days were taken for the scale of their limits: 77 of 100 charts cried wolf."""
    rng = np.random.default_rng(12)
    spoken = 0
    for _ in range(20):
        days = np.cumsum(rng.exponential(40, 30)).round()
        rows = pd.DataFrame({"born_on": pd.Timestamp("2022-01-01") + pd.to_timedelta(days, "D")})
        rows["is_met"] = True
        rows["month"] = rows["born_on"].dt.to_period("M").dt.to_timestamp()
        between = over_time(
            monthly(rows), kind="rare", direction="lower", births=rows, between="days"
        )
        spoken += len(between.signals) > 0
    assert spoken <= 5


def test_near_0_and_near_100_percent_few_charts_cry_wolf() -> None:
    """What the page says of them, as it was measured: 10 % in two years, 20 % in five."""
    table = false_alarms.gaps()
    assert list(table["share"]) == [kind[0] for kind in benchmark.KINDS]
    assert (table["share"] < 0.01).any() and (table["share"] > 0.99).any()
    error = 2 * np.sqrt(0.2 * 0.8 / table["g_charts"])
    assert (table["in_24_months"] < 0.10).all()
    assert (table["in_60_months"] < 0.20 + error).all()
    words = of_signals.setting_words({})
    assert "near 0 and near 100 %" in words and "nan" not in words


@pytest.mark.long
@pytest.mark.parametrize("place", [0, 3])
def test_measured_again_charts_near_0_and_near_100_percent_agree(place: int) -> None:
    written = false_alarms.gaps().iloc[place]
    again = benchmark.measure(benchmark.KINDS[place], (7, place), 100)
    for months in (24, 60):
        name = f"in_{months}_months"
        wanted = float(written[name])
        low, high = stats.binom.ppf([0.001, 0.999], 100, [max(wanted - 0.03, 0), wanted + 0.03])
        assert low <= 100 * float(str(again[name])) <= high, name

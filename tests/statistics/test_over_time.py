"""The chart over time as a page gets it: kinds, frozen limits, breaks, signals, odd input."""

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from pipelines.statistics import expected, rules
from pipelines.statistics.over_time import OverTime, over_time
from tests.benchmark.false_alarms import draw, months

LIMITS = ["centre", "lower_limit", "upper_limit"]


def series(met: list[float], births: list[float] | float) -> pd.DataFrame:
    counted = np.broadcast_to(np.asarray(births, float), (len(met),))
    return pd.DataFrame({"month": months(len(met)), "numerator": met, "counted": counted})


def chart(frame: pd.DataFrame, **how: Any) -> OverTime:
    return over_time(frame, **{"kind": "proportion", "direction": "higher", **how})


def breaks(*rows: tuple[str, str]) -> pd.DataFrame:
    return pd.DataFrame(
        {"start_on": pd.to_datetime([day for day, _ in rows]), "kind": [kind for _, kind in rows]}
    )


def names(result: OverTime) -> dict[str, Any]:
    return {why.name: why for why in result.reasons}


def random(seed: int, births: float, share: Any, number: int = 24, **how: Any) -> pd.DataFrame:
    return draw(np.random.default_rng(seed), births, share, number, **how)


# --- limits that stand still


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 9999), later=st.lists(st.integers(0, 60), min_size=1, max_size=12))
def test_limits_do_not_move_with_later_months(seed: int, later: list[int]) -> None:
    frame = random(seed, 60, 0.8, 24)
    longer = pd.concat([frame, series([float(met) for met in later], 60)], ignore_index=True)
    longer["month"] = months(len(longer))
    before, after = chart(frame), chart(longer)
    pd.testing.assert_frame_equal(before.points[LIMITS], after.points[LIMITS].head(24))
    assert after.points["is_baseline"].sum() == 12
    assert before.chart_kind == after.chart_kind


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 9999), order=st.permutations(range(12)))
def test_the_order_of_later_months_moves_no_limit(seed: int, order: list[int]) -> None:
    frame = series(list(np.random.default_rng(seed).binomial(60, 0.8, 24)), 60)
    shuffled = frame.copy()
    shuffled.loc[12:, "numerator"] = frame["numerator"].to_numpy()[12:][order]
    pd.testing.assert_frame_equal(chart(frame).points[LIMITS], chart(shuffled).points[LIMITS])


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 9999), order=st.permutations(range(24)))
def test_the_order_of_rows_does_not_matter(seed: int, order: list[int]) -> None:
    frame = random(seed, 40, 0.7)
    one, other = chart(frame), chart(frame.iloc[list(order)])
    pd.testing.assert_frame_equal(one.points, other.points)
    pd.testing.assert_frame_equal(one.signals, other.signals)


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 9999), fall=st.floats(0, 0.3))
def test_misses_mirror_what_was_met(seed: int, fall: float) -> None:
    """Counting who missed instead turns the chart over and changes nothing else."""
    frame = random(seed, 50, np.where(np.arange(24) < 14, 0.8, 0.8 - fall))
    missed = frame.assign(numerator=frame["counted"] - frame["numerator"])
    one, other = chart(frame), chart(missed, direction="lower")
    for mine, theirs in (("lower_limit", "upper_limit"), ("centre", "centre")):
        np.testing.assert_allclose(one.points[mine], 1 - other.points[theirs], atol=1e-9)
    columns = ["rule", "first_period", "last_period", "sense"]
    pd.testing.assert_frame_equal(one.signals[columns], other.signals[columns])


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 9999), factor=st.floats(0.01, 100))
def test_minutes_or_hours_give_the_same_signals(seed: int, factor: float) -> None:
    medians = np.random.default_rng(seed).normal(40, 4, 24) + np.repeat([0, 15], 12)
    one = chart(series(list(medians), 80), kind="minutes", direction="lower")
    other = chart(series(list(medians * factor), 80), kind="minutes", direction="lower")
    assert one.chart_kind == "xmr"
    pd.testing.assert_frame_equal(one.signals, other.signals)
    np.testing.assert_allclose(one.points["upper_limit"] * factor, other.points["upper_limit"])


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 9999), births=st.integers(20, 200), share=st.floats(0.02, 0.98))
def test_a_period_outside_its_drawn_limits_is_the_period_that_signals(
    seed: int, births: int, share: float
) -> None:
    """What is drawn and what is said agree; a value on the limit is inside."""
    later = np.clip(share + np.linspace(-0.3, 0.3, 24), 0, 1)
    points = chart(random(seed, births, np.where(np.arange(24) < 12, share, later))).points
    out = (points["rate"] < points["lower_limit"] - 1e-9) | (
        points["rate"] > points["upper_limit"] + 1e-9
    )
    said = points["rules"].map(lambda names: rules.OUTSIDE in names)
    assert (out == said).all()
    assert ((points["lower_limit"] >= 0) & (points["upper_limit"] <= 1)).all()


def test_limits_of_a_month_come_from_the_baseline_and_its_own_births() -> None:
    """scipy.stats.betabinom: 960 of 1200 in the baseline, then a month of 50 births."""
    frame = series([80.0] * 11 + [80.0, 40.0], [100.0] * 12 + [50.0])
    frame.loc[:11, "numerator"] = [78, 82, 79, 81, 80, 80, 77, 83, 80, 80, 79, 81]
    point = chart(frame).points.iloc[12]
    law, tail = stats.betabinom(50, 960.5, 240.5), rules.OUTSIDE_TAIL * expected.EARLY
    low, high = point["lower_limit"] * 50, point["upper_limit"] * 50
    # Doubt about season and likeness widens what chance alone would allow, by a birth or two.
    assert law.ppf(tail) - 2 <= low <= law.ppf(tail)
    assert law.isf(tail) <= high <= law.isf(tail) + 2
    assert point["centre"] == pytest.approx(0.8, abs=0.01)


# --- kinds of chart


def test_overdispersed_months_give_a_p_prime_chart_that_says_so() -> None:
    wild = chart(random(1, 200, 0.8, 24, sigma_z=3.0))
    calm = chart(series([80, 81, 79, 80, 82, 78, 80, 81, 79, 80, 79, 81] * 2, 100))
    assert wild.chart_kind == "p_prime" and names(wild)["overdispersed"].found == wild.sigma_z > 1
    assert calm.chart_kind == "p" and calm.sigma_z == 1


@pytest.mark.parametrize(
    ("kind", "chart_kind"), [("rate", "u"), ("count", "c"), ("minutes", "xmr"), ("dose", "p")]
)
def test_the_kind_of_measure_chooses_the_chart(kind: str, chart_kind: str) -> None:
    met = [20, 22, 19, 21, 20, 18, 23, 20, 21, 19, 22, 20] * 2
    assert chart(series([float(m) for m in met], 100), kind=kind).chart_kind == chart_kind


def test_counts_may_exceed_births_in_a_rate_but_not_in_a_share() -> None:
    met = [float(120 + place % 5) for place in range(24)]
    assert chart(series(met, 100), kind="rate").chart_kind == "u"
    with pytest.raises(ValueError, match="month 2024-01 has more in the numerator"):
        chart(series(met, 100))


def test_few_births_a_month_go_into_quarters() -> None:
    frame = random(2, 5, 0.8, 48)
    result = chart(frame)
    assert (result.period_kind, len(result.points)) == ("quarter", 16)
    assert result.points["n"].sum() == frame["counted"].sum()
    assert names(result)["quarters_for_small_numbers"].needed == 10


def births_of(frame: pd.DataFrame, seed: int = 0) -> pd.DataFrame:
    """Write a series out birth by birth, those met in random places of their month."""
    rows = frame.loc[frame.index.repeat(frame["counted"].astype(int)), ["month", "numerator"]]
    rank = rows.groupby("month").cumcount()
    rows["is_met"] = rank < rows["numerator"]
    shuffled = rows.sample(frac=1, random_state=seed).sort_values("month", kind="stable")
    return shuffled[["month", "is_met"]].reset_index(drop=True)


def test_few_births_a_month_go_into_blocks_where_each_birth_is_known() -> None:
    frame = random(3, 7, 0.8, 30)
    rows = births_of(frame)
    result = chart(frame, births=rows)
    waiting = len(rows) % 10
    assert (result.period_kind, result.block_of) == ("block", 10)
    assert (result.points["n"] == 10).all()
    assert len(result.points) == len(rows) // 10
    assert result.points["numerator"].sum() == rows["is_met"].iloc[: len(rows) - waiting].sum()
    assert waiting == 0 or names(result)["open_block"].found == waiting


def test_no_block_lies_on_both_sides_of_a_break() -> None:
    frame = series([6.0] * 30, 7)
    rows = births_of(frame)
    result = chart(frame, births=rows, breaks=breaks(("2025-03-01", "policy")))
    policy = result.phases.iloc[1]
    first = result.points.iloc[int(policy["first_period"]) - 1]
    assert first["start_on"] == pd.Timestamp("2025-03-01")
    # 14 months of 7: nine blocks of ten, the eight births left over join the last of them.
    assert result.points["n"].iloc[: int(policy["first_period"]) - 1].tolist() == [10.0] * 8 + [18]


def test_births_without_months_go_into_blocks_of_a_round_size() -> None:
    rng = np.random.default_rng(5)
    rows = pd.DataFrame({"month": pd.NaT, "is_met": rng.random(1300) < 0.8})
    rows["month"] = pd.to_datetime(rows["month"])
    result = chart(series([], 0.0), births=rows, breaks=breaks(("2025-03-01", "change")))
    assert (result.chart_kind, result.period_kind, result.block_of) == ("p", "block", 50)
    assert len(result.points) == 26
    assert {"blocks_without_months", "changes_cannot_be_placed"} <= set(names(result))
    grown = pd.concat([rows, rows.head(300)], ignore_index=True)
    longer = chart(series([], 0.0), births=grown)
    assert longer.points[LIMITS].head(26).equals(result.points[LIMITS])


# --- breaks


def fallen(before: int, after: int, share: float = 0.9, later: float = 0.7) -> pd.DataFrame:
    rng = np.random.default_rng(before * 100 + after)
    met = [*rng.binomial(100, share, before), *rng.binomial(100, later, after)]
    return series([float(each) for each in met], 100)


@pytest.mark.parametrize("after", [6, 12, 40])
def test_limits_run_on_through_a_recorded_change_however_long_ago_it_was(after: int) -> None:
    """Begun anew after twelve months, the limits once declared a harm usual and fell silent."""
    frame = fallen(14, after)
    result, alone = chart(frame, breaks=breaks(("2025-03-10", "change"))), chart(frame)
    assert len(result.phases) == 1
    # Nor do they follow what happened: a year and three years later the harm still lies below.
    since = result.points.iloc[14:]
    assert (since["lower_limit"] > 0.72).all() and (since["centre"] > 0.87).all()
    assert (since["rate"] < since["lower_limit"]).mean() > 0.5
    assert set(result.signals["sense"]) == {"worse"} and len(result.current)
    pd.testing.assert_frame_equal(result.points, alone.points)


def test_an_accepted_level_begins_new_limits_and_the_old_are_drawn_on() -> None:
    frame = fallen(14, 20)
    result = chart(frame, breaks=breaks(("2025-03-10", "accepted")))
    assert result.phases["reason"].tolist() == ["start", "accepted"]
    assert result.phases["start_on"].tolist()[1] == pd.Timestamp("2025-03-10")
    assert result.phases["baseline_rate"].tolist() == pytest.approx([0.9, 0.7], abs=0.05)
    year = result.points.iloc[14:26]
    assert year["earlier_lower_limit"].notna().all() and year["lower_limit"].notna().all()
    assert result.points["earlier_lower_limit"].iloc[26:].isna().all()
    assert result.current.empty


def test_few_months_before_an_accepted_level_keep_limits_that_are_drawn_on() -> None:
    result = chart(fallen(10, 14), breaks=breaks(("2024-11-01", "accepted")))
    assert result.phases["baseline_periods"].tolist() == [10, 12]
    assert result.points["lower_limit"].notna().all()
    assert (
        result.points["earlier_lower_limit"].notna().tolist()
        == [False] * 10 + [True] * 12 + [False] * 2
    )


def test_worse_than_an_accepted_level_signals_again() -> None:
    frame = pd.concat([fallen(14, 12), series([45.0] * 3, 100)], ignore_index=True)
    frame["month"] = months(len(frame))
    result = chart(frame, breaks=breaks(("2025-03-10", "accepted")))
    assert set(result.current["sense"]) == {"worse"}
    again = result.signals[result.signals["phase"] == 2]
    assert again["start_on"].min() == pd.Timestamp("2026-03-01")


def test_few_months_of_an_accepted_level_are_preliminary_and_fewer_than_six_are_none() -> None:
    cut = breaks(("2025-03-10", "accepted"))
    eight = chart(fallen(14, 8), breaks=cut)
    assert eight.phases["baseline_periods"].tolist() == [12, 8]
    assert eight.phases["has_limits"].all()
    assert names(eight)["short_baseline"].found == 8
    five = chart(fallen(14, 5), breaks=cut)
    assert five.phases["reason"].tolist() == ["start"]
    assert (names(five)["level_too_short"].found, names(five)["level_too_short"].needed) == (5, 6)
    assert set(five.current["sense"]) == {"worse"}


def test_a_date_of_policy_ends_the_old_limits_at_once() -> None:
    result = chart(fallen(14, 6), breaks=breaks(("2025-03-10", "policy")))
    assert result.phases["reason"].tolist() == ["start", "policy"]
    assert result.phases["has_limits"].tolist() == [True, False]
    assert result.signals.empty
    assert names(result)["too_few_points"].found == 6
    assert result.points["earlier_lower_limit"].isna().all()


def test_a_recorded_change_inside_a_baseline_is_told_and_does_not_shorten_it() -> None:
    result = chart(fallen(8, 16), breaks=breaks(("2024-09-10", "change")))
    assert result.phases["baseline_periods"].tolist() == [12]
    inside = names(result)["change_in_baseline"]
    assert (inside.found, inside.needed) == (8, 12)
    assert "change_in_baseline" not in names(
        chart(fallen(12, 12), breaks=breaks(("2025-01-10", "change")))
    )


@pytest.mark.slow
@settings(max_examples=15, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    before=st.integers(6, 20),
    after=st.integers(1, 20),
    size=st.sampled_from([4, 30, 100]),
    places=st.lists(st.integers(-3, 45), min_size=1, max_size=12),
)
def test_no_log_of_changes_silences_anything(
    seed: int, before: int, after: int, size: int, places: list[int]
) -> None:
    """An attacker who may write any changes into the log, and wants a harm to fall silent."""
    rng = np.random.default_rng(seed)
    met = [*rng.binomial(size, 0.05, before), *rng.binomial(size, 0.4, after)]
    frame = series([float(each) for each in met], size)
    births = pd.DataFrame({"month": frame["month"].repeat(size).to_numpy()})
    births["is_met"] = np.concatenate([np.arange(size) < each for each in met])
    log = breaks(*(
        (f"{frame['month'].iloc[0] + pd.DateOffset(months=place, days=seed % 28):%Y-%m-%d}",
         "change")
        for place in places
    ))  # fmt: skip
    for how in ({}, {"births": births}):
        alone = chart(frame, direction="lower", **how)
        silenced = chart(frame, direction="lower", breaks=log, **how)
        pd.testing.assert_frame_equal(silenced.points, alone.points)
        pd.testing.assert_frame_equal(silenced.signals, alone.signals)


def test_breaks_outside_the_months_divide_nothing_and_a_policy_outweighs_a_change() -> None:
    frame = random(6, 100, 0.8)
    outside = breaks(("2020-01-01", "policy"), ("2030-01-01", "change"), ("2024-01-20", "policy"))
    pd.testing.assert_frame_equal(chart(frame, breaks=outside).points, chart(frame).points)
    both = chart(frame, breaks=breaks(("2025-01-05", "change"), ("2025-01-20", "policy")))
    assert both.phases["reason"].tolist() == ["start", "policy"]


# --- signals


def test_a_signal_names_its_rule_date_direction_and_points() -> None:
    frame = series([80, 82, 79, 81, 80, 78, 80, 82, 79, 81, 80, 79, 80, 81, 55, 80], 100)
    result = chart(frame)
    (signal,) = result.signals.to_dict("records")
    assert signal["rule"] == "outside limits" and signal["direction"] == "down"
    assert signal["start_on"] == signal["first_on"] == signal["last_on"]
    assert signal["start_on"] == pd.Timestamp("2025-03-01") and signal["sense"] == "worse"
    assert result.points["rules"].iloc[14] == ("outside limits",)
    assert chart(frame, direction="lower").signals["sense"].tolist() == ["better"]
    assert chart(frame, direction="neither").signals["sense"].tolist() == ["moved"]
    assert result.current.empty


# --- season, likeness, and what a chart says of itself


def test_the_middle_follows_a_season_of_earlier_years_and_leaves_the_level_alone() -> None:
    """A true season of 5 points, 400 births a month: known within 2.5, level included."""
    true = 0.8 + 0.05 * np.cos(2 * np.pi * np.arange(48) / 12)
    result = chart(random(8, 400, true, 48))
    year = result.points.iloc[36:]
    np.testing.assert_allclose(year["centre"], true[36:], atol=0.025)
    assert np.corrcoef(year["centre"], true[36:])[0, 1] > 0.98
    level = float(result.phases["baseline_rate"].iloc[0])
    assert result.points["centre"].iloc[:12].mean() == pytest.approx(level, abs=0.01)
    assert result.season == pytest.approx(0.05, abs=0.015) and result.season_could is None
    first = chart(random(8, 400, true[:20], 20))
    assert first.season_could is not None and first.season_could > first.season


def test_a_season_is_never_learned_from_the_months_it_judges() -> None:
    frame = random(9, 200, 0.8, 30)
    later = frame.copy()
    later.loc[24:, "numerator"] = [20, 150, 20, 150, 20, 150]
    pd.testing.assert_frame_equal(
        chart(frame).points[LIMITS].head(24), chart(later).points[LIMITS].head(24)
    )
    one, other = (chart(each).points[LIMITS].iloc[24:] for each in (frame, later))
    pd.testing.assert_series_equal(one["centre"], other["centre"])


@pytest.mark.slow
@pytest.mark.parametrize("births", [25, 120])
def test_what_a_chart_says_it_sees_is_what_it_sees(births: int) -> None:
    """Falls of ten points drawn after two years: seen within six months as often as was said."""
    said, seen = [], []
    for seed in range(60):
        frame = random(seed, births, np.where(np.arange(30) < 24, 0.8, 0.7), 30)
        found = chart(frame).signals
        down = (found["direction"] == "down") & (found["period"] > 24)
        seen.append(bool(down.any()))
        said.append(chart(frame.head(24)).sees)
    assert np.mean(said) == pytest.approx(np.mean(seen), abs=0.15)


def test_fewer_newborns_see_less_and_a_rare_share_has_no_room_to_fall() -> None:
    few, many = (chart(random(4, births, 0.8)).sees for births in (20, 300))
    assert few is not None and many is not None and few < 0.5 and many > 0.95
    assert chart(random(4, 200, 0.05)).sees is None
    assert chart(random(4, 200, 0.05), direction="lower").sees is not None

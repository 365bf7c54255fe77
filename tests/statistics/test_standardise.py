"""Standardising against textbooks and R."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2

from pipelines.statistics import standardise

from .cases import assert_agrees, case


@pytest.mark.parametrize(
    "one",
    [case("direct_std_fleiss_s"), case("direct_std_fleiss_full_s")],
    ids=lambda one: one["id"],
)
def test_direct_rates_by_birth_order(one: dict) -> None:  # type: ignore[type-arg]
    """Fleiss 1981, p 249, printed by a library's documentation; R epitools for full precision."""
    inputs = one["inputs"]
    rows = [
        standardise.direct(events, of, inputs["std_pop"])
        for events, of in zip(inputs["events"], inputs["pop"], strict=True)
    ]
    found = [[row.crude, row.rate, row.lower, row.upper] for row in rows]
    assert_agrees({"crude_adj_lcl_ucl": found}, one)


def test_direct_rates_of_two_periods() -> None:
    """Gordis, Epidemiology: one standard of both periods (from memory)."""
    one = case("direct_std_gordis")
    inputs = one["inputs"]
    found = {}
    for period in ("early", "later"):
        given_period = inputs[period]
        rates = standardise.direct(given_period["events"], given_period["pop"], inputs["std_pop"])
        found[f"crude_{period}"] = (rates.crude or 0) * inputs["per"]
        found[f"adjusted_{period}"] = (rates.rate or 0) * inputs["per"]
    assert_agrees(found, one)


def test_indirect_ratio_of_the_miners() -> None:
    """Gordis, Epidemiology: deaths of miners by age (from memory)."""
    one = case("indirect_smr_miners")
    inputs = one["inputs"]
    rates = np.array(inputs["std_rate_per_100000"]) / 1e5
    found = standardise.indirect(sum(inputs["observed"]), inputs["pop"], rates)
    assert found.ratio is not None and found.lower is not None
    assert_agrees(
        {
            "observed": found.observed,
            "expected": found.expected,
            "smr_percent": 100 * found.ratio,
        },
        one,
    )
    # Exact Poisson limits of 436 events over those expected (scipy chi2).
    assert found.lower == pytest.approx(chi2.ppf(0.025, 2 * 436) / 2 / (found.expected or 1))


STRATA = st.lists(
    st.tuples(st.integers(1, 200), st.floats(0, 1), st.integers(0, 900)), min_size=1, max_size=6
)


@settings(max_examples=60, deadline=None)
@given(STRATA)
def test_the_groups_own_mix_changes_nothing(rows: list[tuple[int, float, int]]) -> None:
    of = np.array([row[0] for row in rows], float)
    events = np.round(of * np.array([row[1] for row in rows]))
    own = standardise.direct(events, of, 7 * of)
    assert own.rate == pytest.approx(own.crude)
    same = standardise.indirect(float(events.sum()), of, events / of)
    assert same.ratio == pytest.approx(1.0) if events.sum() else same.ratio is None
    other = standardise.direct(events, of, [row[2] for row in rows])
    if other.rate is not None:
        rates = events / of
        assert rates.min() - 1e-9 <= other.rate <= rates.max() + 1e-9
        assert other.lower is not None and other.upper is not None
        assert 0 <= other.lower <= other.rate <= other.upper


def test_one_stratum_has_the_exact_poisson_interval() -> None:
    """Fay and Feuer 1997: with one stratum their limits are Garwood's."""
    found = standardise.direct([10], [250], [1000])
    lower, upper = chi2.ppf(0.025, 20) / 2 / 250, chi2.isf(0.025, 22) / 2 / 250
    assert [found.lower, found.upper] == pytest.approx([lower, upper])


def test_a_difference_of_mix_alone_goes_away() -> None:
    """Two groups with the same rates in each stratum but another mix: crude differ, direct not."""
    rates, standard = np.array([0.9, 0.5]), [500, 500]
    first = standardise.direct(rates * [900, 100], [900, 100], standard)
    second = standardise.direct(rates * [200, 800], [200, 800], standard)
    assert first.crude == pytest.approx(0.86) and second.crude == pytest.approx(0.58)
    assert first.rate == pytest.approx(0.7) == second.rate
    each = standardise.indirect(float((rates * [200, 800]).sum()), [200, 800], rates)
    assert each.ratio == pytest.approx(1.0)


@pytest.mark.filterwarnings("error")
def test_empty_strata_nobody_and_nothing_expected_have_a_reason() -> None:
    empty = standardise.direct([4, 0], [10, 0], [50, 50])
    assert (empty.crude, empty.rate, empty.reason) == (0.4, None, standardise.EMPTY_STRATUM)
    assert standardise.direct([4, 0], [10, 0], [50, 0]).rate == pytest.approx(0.4)
    assert standardise.direct([0], [0], [50]).reason == standardise.NOBODY
    none = standardise.direct([0, 0], [10, 20], [50, 50])
    assert (none.rate, none.lower) == (0, 0) and 0 < (none.upper or 0) < 1
    assert standardise.indirect(0, [0, 0], [0.1, 0.1]).reason == standardise.NOBODY
    assert standardise.indirect(2, [5, 5], [0.1, np.nan]).reason == standardise.NO_RATE
    assert standardise.indirect(2, [5, 0], [0.1, np.nan]).ratio == pytest.approx(4.0)
    assert standardise.indirect(0, [5, 5], [0, 0]).reason == standardise.NONE_EXPECTED
    nothing = standardise.indirect(0, [50], [0.1])
    assert (nothing.ratio, nothing.lower) == (0, 0) and (nothing.upper or 0) > 0


@pytest.mark.parametrize("of", [[1, 2, 3], [1, -2], [1, np.nan]])
def test_strata_that_do_not_fit_are_refused(of: list[float]) -> None:
    with pytest.raises(ValueError, match="stratum"):
        standardise.direct([0, 0], of, [5, 5])

"""What a rule masks, and what stands in its place.

The threshold of 11 and "a masked numerator masks everything made of it" come from the cell size
suppression policy of the US Centers for Medicare & Medicaid Services (2024-01-26).
"""

import numpy as np
import pandas as pd
import pytest

from pipelines.definitions.states import COUNTS
from pipelines.release.masked_table import NO_NEWBORNS, cell_words, conceal
from pipelines.release.masking import Rule, hidden_words, primary, protect
from pipelines.stages.measure.counting import with_rates
from tests.disclosure.tables import ALL, base_row, completed

RATES = ["rate", "lower", "upper", "if_none_met", "if_all_met"]


def table(*parts: list[int]) -> pd.DataFrame:
    """One row of all newborns per list of states, each its own measure."""
    rows = [base_row(f"m{place}", 0, ALL, part) for place, part in enumerate(parts)]
    return completed(pd.DataFrame(rows).assign(stratifier=ALL, parent_id=lambda f: f["measure_id"]))


def released(rows: pd.DataFrame, rule: Rule) -> tuple[pd.DataFrame, pd.DataFrame]:
    masked = protect(rows, rule)
    rated = with_rates(rows.assign(counted=rows["numerator"] + rows["not_in_numerator"]))
    shown = conceal(rated, masked.hidden, rule)
    return shown, cell_words(shown, rule)


def test_57_of_60_is_masked_everywhere() -> None:
    shown, text = released(table([0, 0, 57, 3, 0, 0, 0, 0]), Rule(11))
    row, words = shown.iloc[0], text.iloc[0]
    assert row["is_hidden"]
    assert shown.loc[0, ["numerator", "not_in_numerator", "late", *RATES]].isna().all()
    for name in ["numerator", "not_in_numerator", "rate", "lower", "upper", "words"]:
        assert words[name] == hidden_words(11)
    assert "57" not in " ".join(str(cell) for cell in words)


def test_49_of_60_is_shown_with_its_rate() -> None:
    shown, text = released(table([0, 0, 49, 11, 0, 0, 0, 0]), Rule(11))
    assert shown.loc[0, "numerator"] == 49
    assert shown.loc[0, "rate"] == pytest.approx(49 / 60)
    assert not shown.loc[0, "is_hidden"]
    assert text.loc[0, "words"] == ""


@pytest.mark.parametrize(
    "parts",
    [
        [0, 0, 0, 0, 0, 0, 0, 0],  # nobody at all
        [40, 0, 0, 0, 0, 0, 0, 0],  # all excluded
        [0, 40, 0, 0, 0, 0, 0, 0],  # all exceptions
    ],
)
def test_nobody_to_count_is_said_in_words(parts: list[int]) -> None:
    shown, text = released(table(parts), Rule(11))
    assert shown.loc[0, RATES].isna().all()
    assert not shown.loc[0, "is_hidden"]
    assert text.loc[0, "words"] == NO_NEWBORNS == "no eligible newborns"
    assert (text.loc[0, RATES] == NO_NEWBORNS).all()
    assert "nan" not in " ".join(str(cell) for cell in text.iloc[0]).lower().split()


def test_a_zero_of_many_is_shown_and_a_zero_of_few_is_not() -> None:
    rows = table([0, 0, 60, 0, 0, 0, 0, 0], [0, 0, 8, 0, 0, 0, 0, 0])
    masked = pd.DataFrame(primary(rows, Rule(11)), columns=COUNTS)
    assert not masked.loc[0].any()
    assert masked.loc[1, ["not_in_numerator", "late", "denominator", "numerator"]].all()
    strict = pd.DataFrame(primary(rows, Rule(11, shows_zero=False)), columns=COUNTS)
    assert strict.loc[0, "late"]


def test_all_or_none_of_a_sensitive_measure_is_masked() -> None:
    rows = table([0, 0, 60, 0, 0, 0, 0, 0], [0, 0, 0, 60, 0, 0, 0, 0])
    shown, _ = released(rows, Rule(11, sensitive=("m0", "m1")))
    assert shown["is_hidden"].all()
    shown, _ = released(rows, Rule(11))
    assert not shown["is_hidden"].any()


def test_a_shown_rate_is_made_of_shown_counts_only() -> None:
    chance = np.random.default_rng(5)
    rows = table(*chance.integers(0, 40, (60, 8)).tolist())
    shown, _ = released(rows, Rule(11))
    some = shown[shown["rate"].notna()]
    assert len(some)
    made = some["numerator"] / (some["numerator"] + some["not_in_numerator"])
    assert np.allclose(made.astype(float), some["rate"])
    assert some[["numerator", "not_in_numerator"]].notna().all(axis=None)


@pytest.mark.slow
@pytest.mark.parametrize("threshold", [5, 11, 20])
def test_no_count_below_the_threshold_is_shown(threshold: int) -> None:
    chance = np.random.default_rng(threshold)
    rows = table(*chance.integers(0, 30, (80, 8)).tolist())
    shown, _ = released(rows, Rule(threshold))
    counts = shown[list(COUNTS)]
    assert not counts.isin(range(1, threshold)).any(axis=None)


def test_a_threshold_that_masks_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="must be 2 or more"):
        Rule(1)

"""Why a measure was not met, in its panel: each state once, with its reasons and their counts."""

from pathlib import Path

import pandas as pd

from pipelines.pages.review.read import read_review
from pipelines.words import of_misses
from tests.conftest import Built

from .make_store import UNIT

COLUMNS = ["state", "reason", "newborns", "median_late_minutes"]


def frame(*rows: tuple[str, str | None, int, float | None]) -> pd.DataFrame:
    return pd.DataFrame(list(rows), columns=COLUMNS)


def told(direction: str, *rows: tuple[str, str | None, int, float | None]) -> str:
    return " ".join(of_misses.missed_words({"direction": direction}, frame(*rows)))


def test_states_stand_in_reading_order_with_their_reasons() -> None:
    text = told(
        "higher",
        ("not_documented", None, 5, None),
        ("not_done", "no_stock", 3, None),
        ("not_done", "declined", 1, None),
        ("late", None, 22, 12.4),
    )
    assert text == (
        "Not met: 22 late, half of them by 12 min or more; "
        "4 recorded as not done (no stock 3; declined 1); 5 not documented."
    )


def test_one_late_newborn_is_no_half() -> None:
    assert told("higher", ("late", None, 1, 0.5)) == "Not met: 1 late, by less than 1 min."


def test_where_lower_is_better_only_the_unknown_is_told() -> None:
    rows = (("not_met", None, 200, None), ("unusable", None, 2, None))
    assert told("lower", *rows) == "Not known: 2 recorded, but not usable."
    assert told("neither", *rows) == ""


def test_who_stood_apart_is_named_and_many_reasons_are_counted() -> None:
    rows = [("exclusion", f"reason_{number}", 1, None) for number in range(6)]
    text = told("higher", *rows, ("exception", "declined", 9, None))
    assert text == (
        "Left out for an accepted reason: 9 (declined 9). "
        "Not counted: 6 (reason 0 1; reason 1 1; reason 2 1; reason 3 1; and 2 more)."
    )


def test_the_counts_are_those_of_the_month(clean: Built) -> None:
    data = read_review(clean.store, "quillmere")
    by_state = data.reasons.groupby(["measure_id", "state"])["newborns"].sum().unstack()
    month = data.series[data.series["month"] == data.month].set_index("measure_id")
    for state in ("late", "not_done", "not_documented", "exception", "exclusion"):
        got = by_state[state].reindex(month.index).fillna(0)
        assert got.sum() > 0, state
        assert (got == month[state]).all(), state


def test_the_words_reach_the_panel(fake_page: Path, fake_store: Path) -> None:
    reasons = read_review(fake_store, UNIT).reasons
    own = reasons[reasons["measure_id"] == "vitamin_k"]
    words = of_misses.missed_words({"direction": "higher"}, own)
    assert words
    page = fake_page.read_text(encoding="utf-8")
    panel = page[page.index('id="m-vitamin_k"') :].split("</section>", 1)[0]
    assert words[0] in panel

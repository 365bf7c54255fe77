"""The life of a signal: a harm speaks until someone answers it, and every page says the same."""

import html
import itertools
import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipelines.pages.change.read import read_change
from pipelines.pages.change.sections import head as change_head
from pipelines.pages.review import discuss, head, signal_life
from pipelines.pages.review.page import render_review
from pipelines.pages.review.read import ReviewData, read_review
from pipelines.pages.review.sections import panel_foot
from pipelines.reading import life, signals
from pipelines.reading.frames import BirthRow
from pipelines.reading.life import LineRow
from pipelines.words import of_verdicts
from tests.conftest import Built

from .make_change import MEASURE, START_ON, UNIT, WORSE, edit

MONTHS = pd.date_range("2024-01-01", periods=60, freq="MS")
NOBODY = "not explained yet"
NO_LINES = pd.DataFrame(columns=list(LineRow.__annotations__)).astype(
    {"said_on": "datetime64[ns]", "level_from": "datetime64[ns]"}
)
NO_BIRTHS = pd.DataFrame(columns=list(BirthRow.__annotations__))


def lines(*rows: tuple[str, str, str | None]) -> pd.DataFrame:
    """Return lines of one measure; each: (date, step, level_from)."""
    frame = pd.DataFrame(
        [("m", on, step, level, "unit educator", "because") for on, step, level in rows],
        columns=list(LineRow.__annotations__),
    )
    return frame.assign(
        said_on=pd.to_datetime(frame["said_on"]), level_from=pd.to_datetime(frame["level_from"])
    )


def alive(
    met: Sequence[float],
    told: pd.DataFrame = NO_LINES,
    log: Sequence[str] = (),
    policy: Sequence[str] = (),
    alarm: life.Alarm | None = None,
) -> pd.DataFrame:
    """Return the lives of a harm of ``met`` in 200 newborns a month, as of its last month."""
    series = pd.DataFrame(
        {"measure_id": "m", "month": MONTHS[: len(met)], "numerator": met, "counted": 200}
    )
    info = pd.DataFrame({"measure_id": ["m"], "kind": ["proportion"], "direction": ["lower"]})
    levels = [
        (one, "accepted") for one in told.loc[told["step"] == "accepted", "level_from"].dropna()
    ]
    cuts = [*((one, "change") for one in log), *((one, "policy") for one in policy), *levels]
    breaks = pd.DataFrame(cuts, columns=["start_on", "kind"]).assign(measure_id="m")
    breaks["start_on"] = pd.to_datetime(breaks["start_on"])
    over = signals.judge(series, info, breaks, NO_BIRTHS)
    alarms = {"m": alarm} if alarm else {}
    return life.lives(over, told, MONTHS[len(met) - 1], alarms)


def harm(before: int = 14, after: int = 14, level: float = 14.0) -> list[float]:
    """Return a harm of 1.5 % that rises to 7 %, by hand, with a ripple."""
    ripple = itertools.cycle([0.0, 1.0, -1.0, 1.0])
    return [3 + next(ripple) for _ in range(before)] + [level + next(ripple) for _ in range(after)]


def worse(told: pd.DataFrame) -> pd.Series:
    rows = told[told["sense"] == "worse"]
    assert len(rows) == 1
    return rows.iloc[0]


# ---- a sum of what is rare beside the chart


def alarm(began: int, last: int, speaks: bool) -> life.Alarm:
    return life.Alarm(MONTHS[began], MONTHS[began], MONTHS[last], speaks)


def with_alarm(met: Sequence[float], one: life.Alarm, told: pd.DataFrame = NO_LINES) -> pd.Series:
    """Return the one life that is worse, of a chart and a sum."""
    return worse(alive(met, told, alarm=one))


def test_a_sum_speaks_where_the_chart_is_silent_until_it_is_answered() -> None:
    still = harm(30, 0)
    one = with_alarm(still, alarm(24, 29, speaks=True))
    assert one["is_urgent"] and one["by_sum"] and one["began_on"] == MONTHS[24]
    told = with_alarm(still, alarm(24, 29, True), lines(("2026-03-05", "explained", None)))
    assert (told["state"], told["is_urgent"], told["speaks"]) == ("explained", False, True)
    # The sum has no limits to begin anew at once: an accepted level answers it as words do.
    level = lines(("2026-03-05", "accepted", "2026-01-01"))
    both = alive(still, level, alarm=alarm(24, 29, True)).set_index("by_sum")
    assert (both.loc[True, "state"], both.loc[True, "is_urgent"]) == ("accepted", False)
    early = with_alarm(still, alarm(24, 29, True), lines(("2025-03-05", "explained", None)))
    assert early["state"] == "new" and early["is_urgent"]
    ended = with_alarm(still, alarm(24, 26, speaks=False))
    assert ended["is_left"] and not ended["is_urgent"] and ended["last_on"] == MONTHS[26]


def test_a_chart_and_a_sum_of_one_harm_are_one_signal() -> None:
    both = harm(14, 14)
    one = with_alarm(both, alarm(17, 27, speaks=True))
    assert (one["began_on"], one["is_urgent"], one["by_sum"]) == (MONTHS[14], True, False)
    # The sum goes on where the chart has ended, and an answer to the one answers both.
    over = [*harm(14, 4), *harm(8, 0)]
    answer = lines(("2025-05-10", "explained", None))
    one = with_alarm(over, alarm(18, 25, speaks=True), answer)
    assert (one["began_on"], one["speaks"], one["by_sum"]) == (MONTHS[14], True, True)
    assert one["state"] == "explained" and not one["is_urgent"]


def test_a_sum_that_speaks_long_after_an_answered_signal_asks_anew() -> None:
    over = [*harm(14, 4), *harm(24, 0)]
    answer = lines(("2025-05-10", "explained", None))
    one = with_alarm(over, alarm(38, 41, speaks=True), answer)
    assert (one["state"], one["is_urgent"], one["began_on"]) == ("new", True, MONTHS[38])


# ---- a harm after a change


@pytest.mark.parametrize("after", [3, 8, 14, 30])
def test_a_harm_after_a_change_speaks_until_it_is_accepted(after: int) -> None:
    """Also beyond the twelve months in which limits used to begin anew by themselves."""
    one = worse(alive(harm(14, after), log=["2025-03-01"]))
    assert (one["state"], one["speaks"], one["is_urgent"]) == ("new", True, True)
    assert one["began_on"] == one["spoke_on"] == pd.Timestamp("2025-03-01")


def test_an_accepted_level_ends_it_and_worse_than_that_speaks_anew() -> None:
    told = lines(("2026-01-10", "accepted", "2025-03-01"))
    one = worse(alive(harm(14, 14), told))
    assert (one["state"], one["is_urgent"], one["role"]) == ("accepted", False, "unit educator")
    again = alive([*harm(14, 14), 34.0, 36.0], told)
    urgent = again[again["is_urgent"]]
    assert len(urgent) == 1 and urgent["began_on"].iloc[0] == MONTHS[28]


def test_too_few_months_of_an_accepted_level_leave_the_old_limits_speaking() -> None:
    told = lines(("2025-05-10", "accepted", "2025-03-01"))
    one = worse(alive(harm(14, 4), told))
    assert (one["state"], one["speaks"], one["is_urgent"]) == ("accepted", True, False)


@pytest.mark.parametrize(
    ("rows", "state", "is_urgent"),
    [
        ([], "new", True),
        ([("2025-02-27", "explained", None)], "new", True),  # before it began
        ([("2025-04-02", "opened", None)], "opened", True),
        ([("2025-04-02", "explained", None)], "explained", False),
        ([("2025-04-02", "explained", None), ("2025-05-02", "opened", None)], "explained", False),
        ([("2025-05-02", "settled", None)], "new", True),  # it still speaks
        ([("2025-05-02", "accepted", "2001-01-01")], "new", True),  # a level nobody can see
    ],
)
def test_a_line_answers_what_began_before_it(
    rows: list[tuple[str, str, str | None]], state: str, is_urgent: bool
) -> None:
    one = worse(alive(harm(14, 8), lines(*rows)))
    assert (one["state"], one["is_urgent"]) == (state, is_urgent)


def test_an_explanation_holds_for_a_year() -> None:
    told = lines(("2025-04-02", "explained", None))
    assert not worse(alive(harm(14, 13), told))["is_urgent"]
    assert worse(alive(harm(14, 15), told))["is_urgent"]


def test_what_comes_back_after_it_was_explained_is_asked_about_anew() -> None:
    """Explained in March, quiet for four months, back in August; one matter, not yet answered."""
    told = lines(("2025-04-05", "explained", None))
    one = worse(alive([*harm(14, 1), *harm(4, 0), *harm(0, 1)], told))
    assert (one["state"], one["is_urgent"]) == ("new", True)
    assert one["began_on"] == pd.Timestamp("2025-03-01") < one["spoke_on"]
    back = worse(alive([*harm(14, 1), *harm(2, 0), *harm(0, 1)], told))
    assert (back["state"], back["is_urgent"]) == ("explained", False)


def test_what_ended_unanswered_is_remembered_for_a_year_and_can_be_settled() -> None:
    ended = [*harm(14, 3), *harm(5, 0)]
    one = worse(alive(ended))
    assert (one["speaks"], one["is_urgent"], one["is_left"]) == (False, False, True)
    settled = worse(alive(ended, lines(("2025-07-02", "settled", None))))
    assert (settled["state"], settled["is_left"]) == ("settled", False)
    assert alive([*harm(14, 3), *harm(14, 0)]).empty


@pytest.mark.slow
def test_no_log_of_changes_takes_a_harm_from_what_needs_attention() -> None:
    """An attacker tries every single change, every pair, and a change in every month."""
    met = harm(14, 14, 11.0)
    alone = alive(met)
    assert worse(alone)["is_urgent"]
    dates = [f"{month:%Y-%m-%d}" for month in MONTHS[:28]]
    logs = [*((one,) for one in dates), *itertools.combinations(dates[::3], 2), tuple(dates)]
    for log in logs:
        pd.testing.assert_frame_equal(alive(met, log=log), alone)


@pytest.mark.slow
@pytest.mark.parametrize("before", [14, 20, 26])
@pytest.mark.parametrize("level", [9.0, 11.0, 14.0, 20.0])
def test_what_moved_and_stays_never_falls_silent_as_months_are_added(
    before: int, level: float
) -> None:
    """Another year is another season to learn, and no reason to fall silent.

    A harm of 1.5 % by hand: at 5.5 % its run, which had spoken, was once taken for likeness of
    months as soon as two years were known.
    """
    spoke = [worse(alive(harm(before, after, level)))["speaks"] for after in range(6, 34, 2)]
    assert all(spoke), spoke


def test_drawn_harms_are_found_and_stay_found() -> None:
    """Of drawn harms that signal, none falls silent for a recorded change, twenty months on."""
    rng = np.random.default_rng(13)
    for _ in range(20):
        met = [*rng.binomial(200, 0.02, 14), *rng.binomial(200, 0.08, 20)]
        told = alive([float(one) for one in met], log=["2025-03-01"])
        assert worse(told)["state"] == "new"


# ---- every page says the same


@pytest.fixture(scope="module")
def store(fake_change_store: Path) -> Path:
    return fake_change_store


def answer(made: Path, path: Path, step: str, level_from: str | None = None) -> Path:
    sql = "insert into signal_line values (?, ?, '2026-04-20', ?, ?, 'unit educator', 'a heater')"
    return edit(made, path, sql, UNIT, WORSE, step, level_from)


def told_first(data: ReviewData) -> str:
    """The first screen's lines as text."""
    return " ".join(line.text for line in head.lines(data))


def plain(text: str) -> str:
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", "", text))).replace("\xa0", " ")


def test_review_and_change_study_give_one_verdict(store: Path, fake_change: Path) -> None:
    data, study = read_review(store, UNIT), read_change(store, UNIT)
    (mine,) = [one for one in data.verdicts if one.change_id == study.change_id]
    worked, harmed = of_verdicts.worked(mine), of_verdicts.harmed(mine)
    assert (worked, harmed) == (
        of_verdicts.worked(study.verdict),
        of_verdicts.harmed(study.verdict),
    )
    assert plain(worked).startswith("Arrival temperature in range rose from 70 to 85 %. ")
    assert plain(harmed) == f"Too warm in the first 4 hours rose from 5 to 16 %: {NOBODY}."
    points = {one.subject: one.fact for one in discuss.points(data)}
    assert points[f"Did it work: {mine.title}"] == f"{worked} {harmed}"
    answers = [words for _, words in change_head(study).answers]
    assert answers[0].startswith(worked) and answers[1].startswith(harmed)
    assert harmed.removesuffix(".") in told_first(data)
    written = plain(fake_change.read_text(encoding="utf-8"))
    assert plain(worked) in written and plain(harmed) in written


@pytest.mark.build
def test_the_written_review_holds_the_sentences_of_the_change_study(
    store: Path, tmp_path: Path
) -> None:
    page = plain(render_review(store, UNIT, None, tmp_path / "review.html").read_text("utf-8"))
    study = read_change(store, UNIT)
    for words in (of_verdicts.worked(study.verdict), of_verdicts.harmed(study.verdict)):
        assert page.count(plain(words)) >= 2  # among the signals and for the meeting


@pytest.mark.slow
def test_a_harm_is_urgent_until_it_is_answered_and_visible_after(
    store: Path, tmp_path: Path
) -> None:
    def rank(data: ReviewData) -> int:
        return int(data.measures.set_index("measure_id").loc[WORSE, "rank"])

    before = read_review(store, UNIT)
    assert rank(before) == 0 and NOBODY in told_first(before)
    explained = read_review(answer(store, tmp_path / "explained.duckdb", "explained"), UNIT)
    text = told_first(explained)
    assert rank(explained) > 0
    points = {one.subject: one.fact for one in discuss.points(explained)}
    assert "Too warm in the first 4 hours (explained)" in points["Worse, and answered"]
    assert "or got worse" not in text or "Nothing else" in text
    told = plain(of_verdicts.harmed(explained.verdicts[-1]))
    assert told.endswith(": explained on 20 April 2026 by the unit educator: a heater.")
    accepted = answer(store, tmp_path / "accepted.duckdb", "accepted", START_ON)
    accepted_data = read_review(accepted, UNIT)
    assert rank(accepted_data) > 0
    assert accepted_data.over_time[WORSE].phases["reason"].tolist() == ["start", "accepted"]
    assert "accepted as the new level" in of_verdicts.harmed(accepted_data.verdicts[-1])


@pytest.mark.slow
def test_lines_stand_on_the_chart_and_under_it(store: Path, tmp_path: Path) -> None:
    data = read_review(answer(store, tmp_path / "a.duckdb", "accepted", START_ON), UNIT)
    marks = signal_life.with_lines(data, WORSE, data.changes.head(0))
    assert marks[["words", "kind"]].to_numpy().tolist() == [["new level accepted", "signal"]]
    assert marks["start_on"].tolist() == [pd.Timestamp(START_ON)]
    assert signal_life.with_lines(data, MEASURE, data.changes.head(0)).empty
    (row,) = [one for one in signal_life.rows_of(data.measures, signal_life.MeasureRow)
              if one["measure_id"] == WORSE]  # fmt: skip
    foot = plain(panel_foot(data, row, data.series[data.series["measure_id"] == WORSE]).html)
    assert "20 April 2026: accepted as the new level from May 25 on by the unit educator" in foot


@pytest.mark.slow
def test_since_the_last_review_says_new_open_answered_and_settled(
    store: Path, tmp_path: Path
) -> None:
    def news(path: Path, month: str | None = None) -> dict[str, str]:
        rows = signal_life.since_last_review(read_review(path, UNIT, month))
        return dict(zip(rows["measure_id"], rows["news"], strict=True))

    assert news(store, "2025-05")[WORSE] == "new"
    assert news(store)[WORSE] == "still open"
    assert news(answer(store, tmp_path / "e.duckdb", "explained"))[WORSE] == "answered"
    accepted = answer(store, tmp_path / "a.duckdb", "accepted", START_ON)
    assert news(accepted)[WORSE] == "answered"
    over = edit(
        store, tmp_path / "o.duckdb",
        "update result set numerator = 18, rate = 0.045 where measure_id = ? "
        "and period_kind = 'month' and period_start >= date '2026-04-01'", WORSE,
    )  # fmt: skip
    assert news(over)[WORSE] == "still open"  # ended, and nobody has answered it
    line = "insert into signal_line values (?, ?, '2026-05-02', 'settled', null, 'lead', 'x')"
    settled = edit(over, tmp_path / "s.duckdb", line, UNIT, WORSE)
    assert news(settled)[WORSE] == "settled"


@pytest.mark.build
def test_the_demo_unit_says_what_its_people_said(clean: Built) -> None:
    data = read_review(clean.store, "quillmere")
    told = data.lines.set_index("measure_id")
    assert told.loc["arrival_temperature", "step"] == "accepted"
    assert "warm_excess" not in told.index  # nobody has answered it

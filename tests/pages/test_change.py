"""The page of one change: a planted effect and a planted harm are found, bad input gets words."""

import doctest
import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import nbformat
import numpy as np
import pandas as pd
import pytest

from pipelines.base.errors import StoreError
from pipelines.pages.change import doubt as change_doubt
from pipelines.pages.change import page as change_page
from pipelines.pages.change import sections as change_tables
from pipelines.pages.change import words as change_words
from pipelines.pages.change.read import ChangeData, read_change, read_log
from pipelines.reading import before_after as change_study
from pipelines.reading import verdict
from pipelines.reading.before_after import Study
from pipelines.reading.measured import ValueStudy
from pipelines.reading.verdict import MeasureVerdict
from pipelines.statistics import effects, over_time
from pipelines.statistics.effects import Span
from pipelines.words import of_verdicts
from pipelines.words.caution import CLOSING

from .make_change import (
    CHANGE,
    MEASURE,
    OTHER_UNIT,
    SHARES,
    START_ON,
    UNIT,
    WORSE,
    edit,
)
from .make_store import HOSTILE
from .test_browser import assert_whole
from .test_page import LINKS, Tags
from .visit import WIDTHS, Visit

MODULES = (change_words, change_study)
SHARES_NONE = np.zeros(0)  # likely effects that no test here asks for
Visited = Callable[[str, int], Visit]


@pytest.fixture
def store(fake_change_store: Path) -> Path:
    return fake_change_store


@pytest.fixture(scope="module")
def data(fake_change_store: Path) -> ChangeData:
    return read_change(fake_change_store, UNIT)


@pytest.fixture(scope="module")
def text(fake_change: Path) -> str:
    return fake_change.read_text(encoding="utf-8")


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """Everything the parts of the page display: markup, and specifications as JSON."""
    said: list[str] = []

    def keep(one: Any, **_: Any) -> None:
        is_chart = hasattr(one, "to_dict")
        said.append(json.dumps(one.to_dict(), allow_nan=False) if is_chart else one.html)

    monkeypatch.setattr(change_tables, "show", keep)
    yield said


def whole(data: ChangeData, shown: list[str]) -> str:
    """Return all parts of the page as one text."""
    for show in ("show_what", "show_effect", "show_doubt", "show_worse"):
        getattr(change_tables, show)(data)
    shown.append(change_page.CHANGE.first_screen(data).html)
    for one in change_page.CHANGE.sections:
        parts = (show(data) for show in one.shows if not show.__name__.startswith("show_"))
        shown += [part.html for part in parts if part is not None]
    return "\n".join(shown)


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_examples_in_docstrings(module: Any) -> None:
    result = doctest.testmod(module)
    assert result.attempted > 0
    assert result.failed == 0


# ---- what was planted is found


def test_a_planted_effect_is_found_and_said_first(data: ChangeData) -> None:
    before, after = SHARES[MEASURE]
    effect = data.main.effect
    assert data.main.verdict == over_time.BETTER
    assert effect is not None
    assert effect.points.lower < after - before < effect.points.upper
    first = change_page.CHANGE.first_screen(data).html
    assert "The data fit an improvement of" in first


def test_a_planted_harm_is_found_beside_it(data: ChangeData) -> None:
    """The balancing measure of the log stands on the same page, and is called worse."""
    names = {str(one.row["measure_id"]): one for one in data.balancing}
    assert names[WORSE].verdict == over_time.WORSE
    assert "a worsening of" in change_doubt.worse_answer(data)


def test_nothing_is_found_where_nothing_was_planted(data: ChangeData) -> None:
    (first,) = [one for one in data.meant if one.row["measure_id"] == "first_temperature"]
    assert first.verdict == change_study.UNCLEAR
    assert "cannot say" in change_words.verdict_words(first, data.start_on)


def test_a_unit_without_the_change_is_subtracted(data: ChangeData) -> None:
    assert data.comparison is not None
    assert data.comparison.unit == OTHER_UNIT
    assert data.comparison.difference is not None
    assert data.comparison.difference.leaves_out_zero
    assert "Still Pond" in change_doubt.comparison_words(data)


def test_no_comparison_when_it_is_refused(store: Path) -> None:
    alone = read_change(store, UNIT, compare_unit="none")
    assert alone.comparison is None
    assert OTHER_UNIT in change_doubt.comparison_words(alone)


def test_a_lower_measure_that_rises_is_worse() -> None:
    assert change_study.verdict(Span(0.05, 0.02, 0.08), "lower") == over_time.WORSE
    assert change_study.verdict(Span(0.05, 0.02, 0.08), "higher") == over_time.BETTER
    assert change_study.verdict(Span(0.05, 0.02, 0.08), "neither") == over_time.MOVED
    assert change_study.verdict(Span(0.05, -0.02, 0.08), "lower") == change_study.UNCLEAR


def test_counts_are_those_of_the_results(store: Path, data: ChangeData) -> None:
    """The frame that is analysed, against the store's results by month."""
    from pipelines.base.store_file import open_store

    with open_store(store) as connection:
        rows = connection.execute(
            "select sum(numerator), sum(denominator - exception - not_documented - unusable) "
            "from result where unit = ? and measure_id = ? and period_start >= ?::date "
            "and period_kind = 'month' and stratifier = 'all newborns'",
            [UNIT, MEASURE, START_ON],
        ).fetchone()
    assert change_words.pooled(data.main, change_study.AFTER) == rows


def test_other_changes_are_named_and_told_apart(data: ChangeData) -> None:
    assert list(data.changes["change_id"]) == ["second"]
    assert not data.changes["touches"].any()


def test_the_missing_are_counted_otherwise_as_well(data: ChangeData) -> None:
    names = [line.name for line in data.lines]
    assert "Not documented or unusable counted as not met" in names
    assert "Not documented or unusable counted as met" in names
    assert "Only the last 9 months before" in names
    assert any(name.startswith("The first month after") for name in names)


def test_months_that_lack_values_are_said(store: Path, tmp_path: Path) -> None:
    """4 of the 12 months after the change lack more than 10 % of their values."""
    spoiled = edit(
        store, tmp_path / "gaps.duckdb",
        "update result set not_documented = 60, denominator = 460 where measure_id = ? "
        "and period_start in (date '2025-06-01', date '2025-08-01', date '2025-11-01', "
        "date '2026-02-01')", MEASURE,
    )  # fmt: skip
    main_study = read_change(spoiled, UNIT).main
    words = change_words.verdict_words(main_study, pd.Timestamp(START_ON))
    assert "4 of 12 months after it are missing more than 10" in words


def test_a_partial_month_belongs_to_neither_side(store: Path, tmp_path: Path) -> None:
    moved = edit(
        store, tmp_path / "mid.duckdb",
        "update change_log set start_on = date '2025-05-12' where change_id = ?", CHANGE,
    )  # fmt: skip
    study = read_change(moved, UNIT).main
    apart = study.phase(change_study.LEFT_OUT)["month"]
    assert [f"{one:%Y-%m}" for one in apart] == ["2025-05"]
    assert len(study.phase(change_study.AFTER)) == 11


def test_months_under_other_numbers_are_left_out(store: Path, tmp_path: Path) -> None:
    other = edit(
        store, tmp_path / "policy.duckdb",
        "insert into policy_break select unit, ?, date '2024-08-01', 'Other window' "
        "from policy_break", MEASURE,
    )  # fmt: skip
    data = read_change(other, UNIT)
    assert f"{data.main.months['month'].min():%Y-%m}" == "2024-08"
    assert data.main.effect is not None


def rows(
    known: tuple[float, float], care: tuple[float, float], months: int = 36, born: int = 250
) -> pd.DataFrame:
    """Months of a measure that counts the unknown as not met, changing in the middle."""
    made = pd.DataFrame({"month": pd.date_range("2023-01-01", periods=months, freq="MS")})
    is_after = made.index >= months // 2
    ripple = pd.Series([0.02, -0.02, 0.01, -0.01] * (months // 4))
    documented = (born * pd.Series([known[one] for one in is_after.astype(int)])).round()
    share = pd.Series([care[one] for one in is_after.astype(int)]) + ripple
    return made.assign(
        numerator=(documented * share).round(), counted=born, denominator=born, exception=0,
        not_documented=born - documented, unusable=0,
    )  # fmt: skip


def told_of(months: pd.DataFrame, data: ChangeData, **row: str) -> MeasureVerdict:
    """Return the verdict on drawn months under the title of the page's measure; no chart speaks."""
    own = {**data.main.row, "missing": "not_met", "direction": "higher", "title": "Warm", **row}
    study = change_study.study(
        own, months, pd.Timestamp("2024-07-01"), pd.Series([], dtype="datetime64[ns]")
    )  # type: ignore[arg-type]
    state, because = verdict._state(study, None)
    (before, first), (after, last) = (verdict._pooled(study, each) for each in ("before", "after"))
    pairs = verdict._side_by_side(study)
    return MeasureVerdict(
        study.row, state, because, before, after, first, last, study, None, None, *pairs
    )


def test_charting_that_rises_is_no_improvement_and_is_said_first(data: ChangeData) -> None:
    one = told_of(rows((0.85, 0.95), (0.8, 0.8)), data)
    assert one.study.reading == over_time.BETTER
    assert (one.study.verdict, one.state) == (change_study.CHARTING, change_study.CHARTING)
    words = of_verdicts.sentence(one).replace("\N{NO-BREAK SPACE}", " ")
    assert words.startswith("Warm rose from 68 to 76 %. But more is documented (85 to 95 %)")
    assert "moves it by about +8" in words and "among those documented it stayed at 80 %" in words
    assert "not called an improvement" in words


def test_care_that_falls_behind_charting_is_called_worse(data: ChangeData) -> None:
    one = told_of(rows((0.85, 0.95), (0.8, 0.71)), data)
    assert one.study.reading != over_time.WORSE
    assert one.state == over_time.WORSE
    words = of_verdicts.sentence(one).replace("\N{NO-BREAK SPACE}", " ")
    assert "among those documented it fell from 80 to 71 %" in words
    assert "more is documented (85 to 95 %)" in words


def test_care_that_rises_with_charting_as_it_was_is_better(data: ChangeData) -> None:
    one = told_of(rows((0.9, 0.9), (0.7, 0.82)), data)
    assert one.state == over_time.BETTER
    words = of_verdicts.sentence(one)
    assert re.search(
        r"\((over )?9\d in 100 that it is better, (over )?\d+ that by 3 points or more\)", words
    )


def test_charting_that_falls_is_no_worsening(data: ChangeData) -> None:
    one = told_of(rows((0.95, 0.8), (0.8, 0.8)), data)
    assert one.study.reading == over_time.WORSE
    assert one.state == change_study.CHARTING
    assert "not called a change for the worse" in of_verdicts.sentence(one)


def test_bad_readings_left_blank_are_no_improvement(data: ChangeData) -> None:
    """A measure of harm that leaves the unknown out: half of what is bad is no longer written."""
    months = rows((0.95, 0.95), (0.2, 0.2))
    is_after = months.index >= 18
    hidden = (months["numerator"] * 0.5).round().where(is_after, 0)
    months = months.assign(
        numerator=months["numerator"] - hidden,
        not_documented=months["not_documented"] + hidden,
    )
    months["counted"] = months["denominator"] - months["not_documented"]
    one = told_of(months, data, missing="left_out", direction="lower")
    assert one.study.reading == over_time.BETTER
    assert one.state == change_study.CHARTING


def test_a_process_that_did_not_move_is_said(data: ChangeData) -> None:
    flat = ValueStudy("Room temperature", "°C", 21.0, 21.0, None, None)
    moved = effects.Effect(Span(1.8, 1.6, 2.0), Span(0, 0, 0), 12, 0, Span(0, 0, 0), SHARES_NONE)
    still = replace(moved, points=Span(0.1, -0.2, 0.4))
    said = [
        of_verdicts.carried_out(replace(data.verdict, process=(replace(flat, effect=each),)))
        for each in (moved, still, None)
    ]
    assert (
        said[0].replace("\N{NO-BREAK SPACE}", " ")
        == "Room temperature rose by 1.8 °C (1.6 to 2.0): the change was carried out."
    )
    assert said[1].endswith("the change may not have been carried out.")
    assert said[2] == ""


def test_a_value_is_told_in_its_own_unit_and_never_in_points(data: ChangeData) -> None:
    effect = effects.Effect(
        Span(0.12, 0.08, 0.16), Span(0, 0, 0), 12, 0, Span(0, 0, 0), SHARES_NONE
    )
    warm = ValueStudy("Arrival temperature", "°C", 36.61, 36.73, effect, None)
    words = of_verdicts.value_words(warm).replace("\N{NO-BREAK SPACE}", " ")
    assert words == (
        "The mean reading went from 36.61 to 36.73 °C: 0.12 °C higher (0.08 to 0.16) than its "
        "course before gives."
    )
    log = replace(effect, points=Span(-0.33, -0.4, -0.26))
    soon = ValueStudy("First temperature", "min", 30.0, 22.0, log, None)
    words = of_verdicts.value_words(soon).replace("\N{NO-BREAK SPACE}", " ")
    assert "28 % shorter (23 to 33)" in words


def test_a_unit_that_changed_the_same_measure_is_no_comparison(store: Path, tmp_path: Path) -> None:
    own = edit(
        store, tmp_path / "own.duckdb",
        "insert into change_log select ?, 'too', date '2025-08-01', 'Own towels', "
        "['arrival_temperature'], []::varchar[], []::varchar[] from unit_info limit 1",
        OTHER_UNIT,
    )  # fmt: skip
    data = read_change(own, UNIT)
    assert data.comparison is not None and data.comparison.difference is None
    assert "Own towels" in change_doubt.comparison_words(data)
    assert "nothing is taken off" in change_doubt.comparison_words(data)


def test_older_exports_are_asked_for_only_where_they_help(store: Path, tmp_path: Path) -> None:
    cut = edit(
        store, tmp_path / "cut.duckdb",
        "insert into policy_break select unit, ?, date '2025-01-01', 'Other window' "
        "from policy_break", MEASURE,
    )  # fmt: skip
    main = read_change(cut, UNIT).main
    words = change_words.reason_words(main, pd.Timestamp(START_ON))
    assert "neither older exports nor waiting" in words


@pytest.mark.parametrize(("from_on", "helps"), [("2024-12-01", False), ("2024-05-01", True)])
def test_a_measure_that_begins_after_the_exports_asks_for_no_older_ones(
    from_on: str, helps: bool, store: Path, tmp_path: Path
) -> None:
    """Months with nobody who counts come first; a change in October leaves five before it."""
    early = edit(
        store, tmp_path / "late.duckdb",
        "update change_log set start_on = ? where change_id = 'warm_room'",
        START_ON if not helps else "2024-10-01",
    )  # fmt: skip
    late = edit(
        early, tmp_path / "later.duckdb",
        "update result set numerator = 0, denominator = 0, not_documented = 0, counted = 0, "
        "rate = null, lower = null, upper = null where measure_id = ? "
        "and period_start < ?::date", MEASURE, from_on,
    )  # fmt: skip
    main = read_change(late, UNIT).main
    words = change_words.reason_words(main, pd.Timestamp(START_ON))
    assert "before it there are 5" in words
    assert ("Older exports of this unit would help" in words) is helps
    assert ("older ones would not help" in words) is not helps


# ---- bad input: words, never nan, never a traceback

_AT = "update change_log set start_on = date '{}' where change_id = 'warm_room'"
_ALL = "update result set {} where measure_id = 'arrival_temperature'"
BAD = {
    "constant": (_ALL.format("numerator = 300, rate = 0.75"), "cannot say"),
    "never": (_ALL.format("numerator = 0, rate = 0, lower = 0"), "it is 0 % in every month"),
    "always": (_ALL.format("numerator = 400, rate = 1, upper = 1"), "it is 100 % in every month"),
    "no newborns": (
        _ALL.format("numerator = 0, denominator = 0, not_documented = 0, counted = 0, rate = null, "
                    "lower = null, upper = null"),
        "no newborns count for it",
    ),
    "one month of 0": (
        _ALL.format("numerator = 0, denominator = 0, not_documented = 0, counted = 0, rate = null")
        + " and period_start = date '2024-09-01'",
        "23 used",
    ),
    "one month only": (
        "delete from result where measure_id = 'arrival_temperature' "
        "and period_start <> date '2025-06-01'",
        "there is no month with newborns before",
    ),
    "missing months": (
        "delete from result where measure_id = 'arrival_temperature' and "
        "period_start in (date '2024-07-01', date '2025-09-01', date '2025-10-01')",
        "21 used",
    ),
    "first month": (_AT.format("2024-05-01"), "there is no month with newborns before"),
    "last month": (_AT.format("2026-04-01"), "after it there is 1. It can be analysed once"),
    "five before": (_AT.format("2024-10-01"), "before it there are 5"),
    "long before the data": (_AT.format("1999-01-01"), "Is the date in the unit file right?"),
    "long after the data": (_AT.format("2044-01-01"), "Is the date in the unit file right?"),
    "policy in the same month": (
        "insert into policy_break select unit, 'arrival_temperature', date '2025-05-01', 'Other' "
        "from policy_break",
        "do not count the same thing",
    ),
    "a wall": (
        _ALL.format("numerator = if(period_start < date '2025-05-01', 400, 0), rate = 1"),
        "too few to follow month by month",
    ),
    "a wall in time": (
        _ALL.format("numerator = if(month(period_start) in (8, 9, 10, 11, 12, 1), 400, 0)"),
        "",
    ),
    "no balancing": (
        "update change_log set balancing = []; "
        "update measure_info set balancing = [] where measure_id = 'arrival_temperature'",
        "names a balancing measure with newborns",
    ),
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("name", BAD)
def test_bad_input_gets_words(name: str, store: Path, tmp_path: Path, shown: list[str]) -> None:
    sql, words = BAD[name]
    data = read_change(edit(store, tmp_path / "bad.duckdb", sql), UNIT, CHANGE)
    said = whole(data, shown).replace("\N{NO-BREAK SPACE}", " ")
    assert words in said
    odd = re.search(r".{0,40}\b(nan|NaN|None|NaT|inf)\b.{0,20}", said)
    assert not odd, f"{name}: {odd}"
    assert "Traceback" not in said


@pytest.mark.parametrize(
    ("named", "words"),
    [
        ({"change": "warm_rom"}, "Did you mean 'warm_room'"),
        ({"measure": "arrival_temprature"}, "Did you mean 'arrival_temperature'"),
        ({"measure": "arrival_cold"}, "has several bands"),
        ({"compare_unit": UNIT}, "cannot be compared with"),
    ],
)
def test_what_is_not_there_is_named(store: Path, named: dict[str, str], words: str) -> None:
    with pytest.raises(StoreError, match=re.escape(words)):
        read_change(store, UNIT, **named)  # type: ignore[arg-type]


def test_an_unknown_unit_is_named(store: Path) -> None:
    with pytest.raises(StoreError, match=f"'{UNIT}'"):
        read_change(store, "fern_holow")


def test_an_empty_log_says_where_to_write(store: Path, tmp_path: Path) -> None:
    empty = edit(store, tmp_path / "empty.duckdb", "delete from change_log")
    assert read_log(empty, UNIT).empty
    with pytest.raises(StoreError, match=r"\[\[changes\]\]"):
        read_change(empty, UNIT)


# ---- the written page


def test_text_of_the_log_is_never_markup(text: str) -> None:
    assert HOSTILE not in text
    assert "<script>document.title" not in text
    assert text.count("&lt;img src=x") > 3
    assert not any(tag == "img" for tag, _ in Tags(text).tags)


def test_no_link_leaves_the_page_and_ids_are_unique(text: str) -> None:
    tags = Tags(text).tags
    links = [value for _, attrs in tags for name, value in attrs.items() if name in LINKS]
    assert links
    assert all((value or "").startswith("#") for value in links)
    ids = [attrs["id"] for _, attrs in tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    assert {attrs["href"] for tag, attrs in tags if tag == "a"} <= {f"#{one}" for one in ids}


def test_the_page_follows_the_readers_questions(text: str) -> None:
    places = [
        text.index(f'id="{name}"') for name in (one.id for one in change_page.CHANGE.sections)
    ]
    assert places == sorted(places)
    assert text.index(CLOSING) > places[-1]


def test_the_page_says_what_it_cannot_say(text: str) -> None:
    plain = re.sub(r"\s+", " ", text)
    assert "cannot prove a cause" in plain
    assert "nobody wrote into the log" in plain
    assert change_doubt.truth_words() in plain


def test_the_page_has_no_nan(text: str) -> None:
    body = text[text.index("<main>") : text.index('<script type="module">')]
    assert not re.search(r"\b(nan|NaN|None|NaT)\b", body)


def test_notebook_is_thin() -> None:
    notebook = nbformat.read(change_page.NOTEBOOK, as_version=4)
    nbformat.validate(notebook)
    banned = re.compile(r"\b(def|class|for|while|lambda|select)\b", re.IGNORECASE)
    for cell in notebook.cells:
        if cell.cell_type == "code":
            code = re.sub(r"#.*", "", cell.source)
            assert not banned.search(code)
            assert not cell.outputs


@pytest.mark.browser
@pytest.mark.parametrize("page_name", ["fake_change"])
def test_every_chart_is_drawn_offline(visited: Visited, page_name: str) -> None:
    visit = visited(page_name, 1280)
    marks = [one["symbols"] + one["rects"] for one in visit.charts]
    assert len(visit.charts) >= 4
    assert {one["drawn"] for one in visit.charts} == {"yes"}
    assert min(marks) > 0
    assert max(marks) > 24
    assert visit.console == []
    assert visit.title != "broken"


@pytest.mark.browser
@pytest.mark.parametrize("page_name", ["fake_change"])
@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_is_cut_at(visited: Visited, page_name: str, width: int) -> None:
    assert_whole(visited(page_name, width))


def test_a_study_without_months_has_no_picture(data: ChangeData) -> None:
    empty = Study(
        data.main.row, data.main.months.head(0), data.main.split, change_study.NO_ROWS, None,
        None, change_study.NOT_ANALYSED,
    )  # fmt: skip
    assert change_words.chart_text(empty, data.start_on).endswith("no months to draw.")

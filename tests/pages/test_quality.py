"""What the data quality page says of the fabricated store, whose faults are known."""

import re
from html import unescape
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pytest

from pipelines.base.errors import StoreError
from pipelines.pages.quality import completeness_table, last_digits
from pipelines.pages.quality import read as quality
from pipelines.pages.quality import sections as quality_tables
from pipelines.pages.quality import words as quality_words
from pipelines.pages.quality.page import QUALITY, render_quality
from pipelines.pages.quality.read import QualityData, read_quality

from .make_quality import HOSTILE_WORD, MOVED
from .make_store import UNIT, make_store


@pytest.fixture(scope="module")
def data(fake_store: Path) -> QualityData:
    return read_quality(fake_store, UNIT)


def plain(html: str) -> str:
    text = re.sub(r"<[^>]+>", " ", html)
    spaces = r"[\s\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}]+"
    return re.sub(spaces, " ", unescape(text))


def test_verdict_in_words_first(data: QualityData) -> None:
    text = plain(QUALITY.first_screen(data).html)
    assert text.index("Can these figures be trusted") < text.index("These figures can be ")
    usable, total = quality.needed(data)
    assert f"{usable:,} of {total:,}".replace(",", " ") in text
    assert "1 column, shift or month looks wrong as a whole" in text
    assert "flags move 1 measure by more than a point" in text
    assert "1 check could not be judged" in text


@pytest.mark.parametrize(
    ("usable", "against", "words"),
    [
        (0.96, 0, "can be trusted:"),
        (0.96, 1, "can be trusted for most uses:"),
        (0.93, 0, "can be trusted for most uses:"),
        (0.80, 0, "can be used with care, measure by measure:"),
        (0.60, 0, "should not be used for decisions yet:"),
    ],
)
def test_words_for_trust_follow_their_bounds(
    data: QualityData, usable: float, against: int, words: str
) -> None:
    """The bounds are the page's own and stand in its glossary."""
    rate = {"denominator": 1000, "not_documented": 1000 - round(1000 * usable), "unusable": 0}
    rates = data.rates.head(1).assign(span=quality.LAST_MONTHS, rate=0.5, recorded_rate=0.5, **rate)
    verdict = data.verdict[data.verdict["why"].isna()]
    flags = quality.of_values(data)
    if against:
        flags = pd.concat([flags, quality_words.recent_columns(data).head(against)])
    fields = {**data.__dict__, "rates": rates, "verdict": verdict, "flags": flags}
    assert f"These figures {words}" in quality_words.verdict(QualityData(**fields))


def test_measure_moved_by_flags_shows_both_rates(data: QualityData) -> None:
    moved = quality.moved(data)
    assert set(moved["measure_id"]) == {MOVED}
    text = plain(quality_tables.changes(data).html)
    for row in moved.to_dict("records"):
        assert row["points"] < -1
        counts = (row["recorded_numerator"], row["recorded_counted"])
        assert "({:,} of {:,})".format(*counts).replace(",", " ") in text
        assert f"{round(100 * row['rate'])} %" in text
        assert f"{round(100 * row['recorded_rate'])} %" in text


def test_no_measure_moved_is_one_sentence(data: QualityData) -> None:
    rates = data.rates.assign(recorded_rate=data.rates["rate"])
    html = quality_tables.changes(QualityData(**{**data.__dict__, "rates": rates})).html
    assert "<table" not in html
    assert "moves by more than a point" in html


def test_causes_count_what_the_flags_hold(data: QualityData) -> None:
    text = plain(quality_tables.causes(data).html)
    flags = quality.of_values(data)
    errors = (flags["severity"] == "error").sum()
    assert f"cannot be right: {errors} " in text
    assert "word not known: 7 " in text
    slips = flags[flags["rule_id"] == "weight_unit_slip"]
    in_span = slips["month"].isin(data.span).sum()
    assert (
        f"weight (g) The weight would fit if a digit had slipped. {len(slips)} {in_span} " in text
    )
    assert "24 months" in text


def test_worklist_is_grouped_by_where_to_look(data: QualityData) -> None:
    html = quality_tables.worklist(data).html
    assert "Weight: look at the scale&#39;s record" in html
    assert "Temperature: look at the flowsheet" in html
    text = plain(html)
    assert "Suggestion: 37.0 °C if it was Fahrenheit." in text
    assert "newborns_2026.csv line " in text
    listed = quality_words.worklist(data)
    assert listed["answer"].isna().all()
    assert not (listed["rule_id"] == "not_on_list").any()
    assert f"{len(listed)} values of {listed['record_id'].nunique()} records" in text


def test_answers_stand_apart_with_who_and_why(data: QualityData) -> None:
    html = quality_tables.answers(data).html
    text = plain(html)
    assert "2 flags are answered: 1 confirmed as true and used, 1 found wrong" in text
    for words in ("charge nurse", "weighed", "analyst"):
        assert words in text
    stale = text[text.index("fit no flag any more") :]
    assert "FH00001" in stale
    assert "twice entered" in stale
    assert HOSTILE_WORD not in html


def test_unknown_words_are_counted_once_each(data: QualityData) -> None:
    unknown = quality.unmapped(data)
    assert unknown[["column_name", "entries"]].to_numpy().tolist() == [["mode_of_birth", 7]]
    html = quality_tables.whole_columns(data).html
    assert HOSTILE_WORD not in html
    assert "length, December 2025 to January 2026" in plain(html).replace("Length", "length")


def test_completeness_hatches_the_silent_months_alone(data: QualityData) -> None:
    html = completeness_table.completeness(data).html
    assert html.count('class="silent"') == 2
    assert "1 line has a month below a fifth" in plain(html)
    assert 'class="low"' not in html  # an entry that is rare by nature is no gap
    figures = plain(html)
    line = re.search(r"length \(cm\) (\S+ ?\d*) (\S+ ?\d*) (\S+ ?\d*) \S+ % 0 % in Dec 25", figures)
    assert line is not None


def test_checks_off_set_and_not_judged_are_named(data: QualityData) -> None:
    text = plain(quality_tables.checks(data).html)
    assert "no record stands twice conflicting_duplicate" in text
    assert "column_went_silent: at_least = 30" in text
    assert "twin sizes BinderException: no column" in text


def test_files_say_hash_and_reason(data: QualityData) -> None:
    text = plain(quality_tables.files(data).html)
    assert "b41f0a77c2d9e155aa" in text
    assert "second row for the same newborn" in text


# -- last digits ---------------------------------------------------------------------------


def test_heaps_of_the_fabricated_readings(data: QualityData) -> None:
    by_title = {heap.title: heap for heap in last_digits.heaps(data)}
    temperature = by_title["Temperature"]
    assert temperature.heaped["digit"].tolist() == ["5"]
    assert temperature.extra_stands_out
    assert by_title["Respiratory rate"].extra_stands_out
    assert by_title["Heart rate"].heaped.empty
    assert not by_title["Heart rate"].extra_stands_out


@pytest.mark.parametrize(("mean", "spread"), [(36.83, 0.2), (37.0, 0.25), (36.6, 0.22)])
def test_a_bell_alone_is_no_heap(data: QualityData, mean: float, spread: float) -> None:
    """Drawn from a normal distribution (numpy) and rounded: no digit is favoured, though the
    ten digits are far from alike."""
    rng = np.random.default_rng(4)
    values = pd.Series(rng.normal(mean, spread, 20_000).round(1)).value_counts()
    frame = pd.DataFrame({"kind": "temperature", "value": values.index, "readings": values})
    heap = last_digits.heaps(QualityData(**{**data.__dict__, "values": frame}))[0]
    assert heap.digits["observed"].max() > 0.15
    assert heap.heaped.empty
    assert (heap.digits["observed"] - heap.digits["expected"]).abs().max() < 0.02
    assert not heap.extra_stands_out


def test_fahrenheit_is_judged_in_its_own_tenths(data: QualityData) -> None:
    """Readings heaped on 98.6 °F, then turned into Celsius as the typed stage does."""
    rng = np.random.default_rng(5)
    fahrenheit = rng.normal(98.3, 0.6, 20_000).round(1)
    fahrenheit[rng.random(20_000) < 0.2] = 98.6
    values = pd.Series(((fahrenheit - 32) / 1.8).round(2)).value_counts()
    frame = pd.DataFrame({"kind": "temperature", "value": values.index, "readings": values})
    heap = last_digits.heaps(QualityData(**{**data.__dict__, "values": frame}))[0]
    assert "°F" in heap.what
    assert heap.heaped["digit"].tolist() == ["6"]


def test_times_are_judged_where_the_unit_exports_minutes(data: QualityData) -> None:
    minutes = pd.DataFrame({"value": range(60, 1440), "entries": 2})
    minutes.loc[minutes["value"] % 15 == 0, "entries"] = 12
    heap = last_digits.heaps(QualityData(**{**data.__dict__, "minutes": minutes}))[-1]
    assert heap.title == "Time of an entry"
    assert heap.extra_stands_out
    assert set(heap.heaped["digit"]) == {"0", "5"}
    assert all(heap.title != "Time of an entry" for heap in last_digits.heaps(data))  # clock times


# -- other stores --------------------------------------------------------------------------


def test_a_store_of_an_earlier_version_is_refused(tmp_path: Path) -> None:
    """No page fills in what an older store does not have: it is to be built again."""
    store = make_store(tmp_path / "older.duckdb")
    with duckdb.connect(str(store)) as connection:
        connection.execute("update build_info set value = '3' where key = 'store_version'")
    with pytest.raises(StoreError, match="build it again"):
        render_quality(store, UNIT, tmp_path / "q.html")
    assert not (tmp_path / "q.html").exists()


def test_unit_that_is_not_there_is_named(fake_store: Path, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="fern_hollow"):
        render_quality(fake_store, "fern_holow", tmp_path / "q.html")


@pytest.mark.build
def test_store_with_nothing_to_say(tmp_path: Path) -> None:
    """No flag, no answer, no rejected row: each part says so instead of an empty table."""
    path = make_store(tmp_path / "quiet.duckdb")
    with duckdb.connect(str(path)) as store:
        for name in ("flag", "answer", "rejected", "event", "completeness"):
            store.execute(f"delete from {name}")
        store.execute("update unit_info set checks_off = [], checks_set = []")
    text = render_quality(path, UNIT, tmp_path / "q.html").read_text(encoding="utf-8")
    for words in (
        "No value has a flag.",
        "No value waits to be checked.",
        "No row was rejected.",
        "No flag is answered yet.",
        "holds no count of completeness",
        "No check is switched off.",
        "Every code of the export is on a recode list.",
        "There are too few readings",
    ):
        assert words in text

"""A measure of which the whole export has no usable record: told apart, never 0 %, never hidden."""

import doctest
import shutil
from html import unescape
from pathlib import Path

import duckdb
import pytest

from pipelines.base.errors import StoreError
from pipelines.base.frames import rows_of
from pipelines.base.sql import fixed_sql
from pipelines.base.store_file import open_store
from pipelines.build.every_stage import build_store
from pipelines.build.told import build_words
from pipelines.definitions.read_units import read_unit
from pipelines.pages.change.read import read_change
from pipelines.pages.fair.compare.read import read_compare
from pipelines.pages.fair.read import read_fair
from pipelines.pages.quality.read import ALL_MONTHS, needed, read_quality
from pipelines.pages.review import discuss
from pipelines.pages.review import first_screen as sentences
from pipelines.pages.review import sections as tables
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.review.leading import leading_table
from pipelines.pages.review.read import read_review
from pipelines.pages.review.records import records_to_read, unit_matters
from pipelines.pages.review.timing.read import read_timing
from pipelines.reading import standing
from pipelines.reading.needed import needed_values
from pipelines.release.page import release_page
from pipelines.release.prepare import prepare_release
from pipelines.words import of_measures as wording
from pipelines.words import of_silence
from pipelines.words.of_silence import NOT_IN_EXPORT
from tests.conftest import Built
from tests.loading.test_own_unit import UNIT_FILE, exports

__all__ = ["exports"]  # the fixture, shared
BANDS, BANDS_TITLE = "two_bands", "Two matched bands before leaving the birth room"
CHANGES = """
[[changes]]
id = "second_nurse"
from = 2026-02-01
title = "A second nurse at birth"
measures = ["two_bands", "first_temperature"]
"""


@pytest.fixture(scope="module")
def built(exports: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """Build the unit, whose export has no bands and no routes, with a change in its log."""
    folder = tmp_path_factory.mktemp("silent")
    path = folder / "larkspur.toml"
    path.write_text(UNIT_FILE.read_text(encoding="utf-8") + CHANGES, encoding="utf-8")
    store = folder / "store.duckdb"
    return store, build_words(build_store([(read_unit(path), exports)], store))


@pytest.fixture(scope="module")
def store(built: tuple[Path, str]) -> Path:
    return built[0]


def silent_in(store: Path) -> set[str]:
    with open_store(store) as connection:
        found = connection.execute("select measure_id from silent_measure").fetchall()
    return {str(row[0]) for row in found}


def test_examples_of_the_words() -> None:
    assert doctest.testmod(of_silence).failed == 0


@pytest.mark.build
def test_what_the_export_says_nothing_of(store: Path) -> None:
    silent = silent_in(store)
    assert {BANDS, "first_feed", "vitamin_k", "route_and_site", "glucose_check"} <= silent
    # Recorded in some months for some newborns, well or badly: a figure.
    assert not silent & {"first_temperature", "arrival_cold_severe", "size_triad", "apgar_pair"}


@pytest.mark.build
def test_a_missing_column_that_decides_whom_it_is_about_is_named(store: Path) -> None:
    """Without it everybody's status would be unknown, and nobody's risk raised."""
    with open_store(store) as connection:
        found = dict(
            connection.execute(
                "select measure_id, missing_column from silent_measure "
                "where missing_column is not null"
            ).fetchall()
        )
        states = connection.execute(
            "select count(*) from membership where measure_id = 'hepatitis_b_birth_dose' "
            "and state <> 'exclusion'"
        ).fetchone()
    assert states and states[0] > 100, "the newborns would all be judged as of unknown status"
    assert found["hepatitis_b_birth_dose"] == "admission.maternal_hepatitis_b"
    assert found["hepatitis_b_mother_positive"] == "admission.maternal_hepatitis_b"
    assert found["glucose_low_risk"] == "admission.maternal_diabetes"
    assert found["skin_contact_start"] == "admission.resuscitation"
    assert "vitamin_k" not in found  # silent for want of a route, not of a column
    data = read_review(store, "larkspur")
    told = {str(row["measure_id"]): row for row in rows_of(data.measures, MeasureRow)}
    for measure_id, column in found.items():
        assert told[measure_id]["target_state"] == standing.NOT_IN_EXPORT, measure_id
        assert f"the column {column}, and nobody" in wording.finding(told[measure_id], data.month)


@pytest.mark.build
def test_without_a_place_of_birth_nobody_can_say_whose_event_it_is(
    exports: Path, tmp_path: Path
) -> None:
    """One newborn without it counts as born here; a whole unit without it claims no birth."""
    text = UNIT_FILE.read_text(encoding="utf-8")
    line = 'birth_place = { from = "Geburtsraum", recode = "raum" }'
    assert line in text
    path = tmp_path / "larkspur.toml"
    stores = []
    for name, place in (("without", ""), ("one_for_all", 'birth_place = { value = "birth_room" }')):
        path.write_text(text.replace(line, place), encoding="utf-8")
        stores.append(build_store([(read_unit(path), exports)], tmp_path / f"{name}.duckdb").store)
    owned = {"first_temperature", "apgar_pair", "size_triad"}  # born here
    owned |= {"maternal_hepatitis_b_known"}  # or brought in early: its own column comes first
    free = {"arrival_cold_any", "arrival_temperature"}  # whoever was here
    without, one_for_all = (silent_in(store) for store in stores)
    assert owned <= without and not free & without
    assert without > one_for_all and not (owned - {"maternal_hepatitis_b_known"}) & one_for_all
    with open_store(stores[0]) as connection:
        found = dict(
            connection.execute("select measure_id, missing_column from silent_measure").fetchall()
        )
    assert found["first_temperature"] == found["apgar_pair"] == "admission.birth_place"


@pytest.mark.build
def test_the_build_names_the_missing_column(built: tuple[Path, str]) -> None:
    assert "glucose_low_risk (needs admission.maternal_diabetes)" in built[1]


def test_an_export_that_has_everything_is_silent_on_nothing(clean: Built) -> None:
    # A fall is so rare that these months have none: silent until the unit says no row is none.
    assert silent_in(clean.store) <= {"fall_or_collapse"}


@pytest.mark.build
def test_the_build_says_which_and_what_to_do(built: tuple[Path, str]) -> None:
    words = built[1]
    assert "larkspur.toml: " in words
    assert "find no usable record in the whole export" in words
    assert BANDS in words
    assert "only where local policy does not ask for it: [[policy]]" in words
    assert "applies = false" in words


@pytest.mark.parametrize(
    ("counts", "is_silent"),
    [
        ({"not_documented": 10}, True),
        ({"not_documented": 9}, False),
        ({"unusable": 10}, True),
        ({"not_documented": 500, "numerator": 1}, False),
        ({"not_documented": 500, "late": 1}, False),
        ({"not_documented": 500, "not_met": 1}, False),
        ({"not_documented": 500, "not_done": 499}, True),
        ({"not_documented": 500, "not_done": 500}, False),
    ],
)
def test_where_the_line_is(counts: dict[str, int], is_silent: bool) -> None:
    names = ("numerator", "late", "not_met", "not_done", "not_documented", "unusable")
    values = {name: counts.get(name, 0) for name in names}
    text = fixed_sql("stages/measure/public")
    (view,) = [one for one in text.split(";") if "create view silent_measure" in one]
    with duckdb.connect() as connection:
        connection.execute(
            "create schema measure; create table measure.missing_column "
            "(unit varchar, measure_id varchar, column_name varchar)"
        )
        columns = ", ".join(f"{value} as {name}" for name, value in values.items())
        connection.execute(
            "create table measure.result as select 'u' as unit, 'm' as measure_id, "
            "'all' as period_kind, 'all newborns' as stratifier, "
            f"{sum(values.values())} as denominator, {columns}"
        )
        connection.execute(view)
        found = connection.sql("select * from silent_measure").fetchall()
    assert bool(found) == is_silent


@pytest.mark.build
def test_the_review_gives_no_figure_and_no_record_for_it(store: Path) -> None:
    data = read_review(store, "larkspur")
    row = data.measures.set_index("measure_id").loc[BANDS]
    assert row["target_state"] == standing.NOT_IN_EXPORT
    assert row["rate"] != row["rate"], "no percent"
    assert row["denominator"] > 0, "the newborns it applies to are still counted"
    assert row["change"] == "not_compared"
    assert data.over_time[BANDS].points.empty, "its months of none are no chart"
    table = tables.measure_table(data).html
    assert table.count(NOT_IN_EXPORT) == int(data.measures["is_silent"].sum()) > 10
    said = str(records_to_read(data)[["what", "also"]].to_numpy().tolist())
    assert BANDS_TITLE not in said
    assert BANDS not in set(unit_matters(data)["measure_id"])
    assert BANDS not in set(data.groups["measure_id"])


@pytest.mark.build
def test_the_review_says_so_where_it_is_read(store: Path) -> None:
    data = read_review(store, "larkspur")
    silent = int(data.measures["is_silent"].sum())
    assert f"{silent} of {len(data.measures)} measures {NOT_IN_EXPORT}." in sentences.trust(data)
    usable, needed = needed_values(data.measures)
    assert usable / needed > 0.8, "what the export cannot hold is not missing from it"
    points = {point.subject: point for point in discuss.points(data)}
    assert f"{silent} measures" in points["Not in the export"].fact
    told = {str(row["measure_id"]): row for row in rows_of(data.measures, MeasureRow)}
    assert "or it is not written down. It reads two bands" in wording.finding(
        told[BANDS], data.month
    )
    assert wording.finding(told[BANDS], data.month).endswith(of_silence.CAUTION)
    assert of_silence.CAUTION in points["Not in the export"].question
    assert "only where local policy does not ask" in points["Not in the export"].question
    assert "never with all that is needed" in wording.finding(told["route_and_site"], data.month)


@pytest.mark.build
def test_the_quality_page_counts_needed_values_as_the_review_does(store: Path) -> None:
    """It once counted what the export cannot hold, and said 42 % where the review said 92 %."""
    quality = read_quality(store, "larkspur")
    months = [f"{month:%Y-%m}" for month in quality.months["month"]]
    by_month = [needed_values(read_review(store, "larkspur", one).measures) for one in months]
    usable, total = (sum(one) for one in zip(*by_month, strict=True))
    assert needed(quality, ALL_MONTHS) == (usable, total)
    assert usable / total > 0.8


@pytest.mark.build
def test_how_long_it_took_draws_no_curve_of_it(store: Path) -> None:
    timed = read_timing(store, read_review(store, "larkspur"))
    assert {one.measure_id for one in timed.timed} == {"first_temperature"}
    assert set(timed.spread["measure_id"]) == {"minutes_to_first_temperature"}


@pytest.mark.build
def test_a_unit_without_targets_is_told_so(store: Path) -> None:
    said = leading_table(read_review(store, "larkspur")).html
    assert "No measure has a target yet; the unit&#39;s file sets them." in said
    assert "0 of 0" not in said


@pytest.mark.build
def test_fair_care_and_comparisons_leave_it_out_by_name(store: Path) -> None:
    fair = read_fair(store, "larkspur")
    assert BANDS_TITLE in fair.silent
    assert BANDS not in set(fair.measures["measure_id"])
    assert BANDS not in set(fair.strata["measure_id"])
    assert BANDS not in {one.measure_id for one in read_compare(store, fair).funnels}


def units_compared(store: Path, unit: str, measure: str) -> set[str]:
    data = read_compare(store, read_fair(store, unit))
    (found,) = [one for one in data.funnels if one.measure_id == measure]
    return set(found.points.loc[found.points["kind"] == "unit", "name"])


@pytest.mark.build
def test_a_unit_whose_export_is_silent_is_no_point_of_a_comparison(
    clean: Built, tmp_path: Path
) -> None:
    """Nor are its reasons split by family. A real store, in which two measures are made silent."""
    here, there = "quillmere", "tansy_ridge"
    silent = tmp_path / "store.duckdb"
    shutil.copy(clean.store, silent)
    with duckdb.connect(str(silent)) as connection:
        connection.execute(
            "create or replace view silent_measure as select unit, measure_id, denominator, "
            "not_documented, unusable, null::varchar as missing_column from result where "
            "period_kind = 'all' "
            "and stratifier = 'all newborns' and (unit, measure_id) in "
            f"(('{there}', 'first_temperature'), ('{here}', 'vitamin_k'))"
        )
    assert units_compared(clean.store, here, "first_temperature") == {here, there}
    assert units_compared(silent, here, "first_temperature") == {here}
    assert "vitamin_k" in set(read_fair(clean.store, here).reasons["measure_id"])
    assert "vitamin_k" not in set(read_fair(silent, here).reasons["measure_id"])


@pytest.mark.build
def test_a_release_leaves_it_out_by_name(store: Path) -> None:
    release = prepare_release(store, "larkspur")
    assert BANDS not in set(release.frames["results"]["measure_id"])
    assert BANDS_TITLE in release.left_out
    assert release.left_out in unescape(release_page(release, "2026-01-01 00:00 UTC"))


@pytest.mark.build
def test_a_change_is_read_on_what_can_be_judged(store: Path) -> None:
    data = read_change(store, "larkspur")
    assert data.main.row["measure_id"] == "first_temperature", "the log names the bands first"
    assert BANDS_TITLE in data.silent
    with pytest.raises(StoreError, match="'two_bands' cannot be judged from this unit's export"):
        read_change(store, "larkspur", measure=BANDS)

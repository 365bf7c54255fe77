"""The worklist: whom it names and why, the file of it, safe to open, never overwritten."""

import csv
import re
from dataclasses import replace
from hashlib import md5
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from pipelines.base.errors import StoreError
from pipelines.definitions.unit_csv import WORKLIST_TO_FILL as TO_FILL
from pipelines.pages.review import discuss
from pipelines.pages.review.page import render_review
from pipelines.pages.review.read import ReviewData, read_review
from pipelines.pages.review.record_list import now_words, record_list
from pipelines.pages.review.records import (
    counted,
    gravest,
    records_to_read,
    sampled,
    serious_newborns,
    unit_matters,
)
from pipelines.pages.review.worklist import COLUMNS, write_worklist
from tests.conftest import Built

from .make_store import LEVELS, MONTHS, UNIT

# Of the fabricated store, by hand: nobody of its month has a positive mother and no band is severe.
POSITIVE, ROUTE = "FH_POSITIVE", "FH_ROUTE"


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture(scope="module")
def planted(fake_store: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The fabricated store, its month emptied of misses but for five newborns, planted by hand.

    Two that should never happen, one cold of 35.2 degrees, one a little cold, one late.
    """
    store = tmp_path_factory.mktemp("planted") / "planted.duckdb"
    store.write_bytes(fake_store.read_bytes())
    with duckdb.connect(str(store)) as connection:
        connection.execute(PLANT)
    return store


PLANT = f"""
delete from membership where period = date '{MONTHS[-1]}' and state <> 'met';
delete from membership where period = date '{MONTHS[-1]}' and measure_id like 'arrival_cold%';
delete from membership where period = date '{MONTHS[-1]}' and measure_id = 'warm_excess';
delete from flag;
insert into gravity by name
    select * replace ('two_bands_route' as measure_id) from gravity where measure_id = 'two_bands';
insert into measure_info by name
    select * replace ('two_bands_route' as measure_id, 'Each medicine by its own route' as title)
    from measure_info where measure_id = 'two_bands';
insert into gravity by name
    select * replace ('arrival_cold_moderate' as measure_id, 'serious' as level, 2 as place)
    from gravity where measure_id = 'arrival_cold_severe';
insert into measure_info by name
    select * replace ('arrival_cold_moderate' as measure_id, 'Moderately cold' as title)
    from measure_info where measure_id = 'arrival_cold_severe';
create temp table plant as select * from (values
    ('{POSITIVE}', 'hepatitis_b_positive', 'not_done', null, null, null, null),
    ('{ROUTE}', 'two_bands_route', 'not_met', null, null, null, 'vitamin K, intravenous'),
    ('FH_COLD', 'arrival_cold_moderate', 'met', 35.2, 62, 36.5, null),
    ('FH_MILD', 'arrival_cold_mild', 'met', 36.3, 20, 36.5, null),
    ('FH_LATE', 'first_temperature', 'late', null, null, null, null))
    as t(record_id, measure_id, state, value, value_minutes, edge, detail);
insert into newborn by name
    select '{UNIT}' as unit, record_id, 90000 + row_number() over () as newborn_id,
        date '{MONTHS[-1]}' as birth_month, 90000 as birth_order, true as live_birth,
        'night' as shift
    from plant;
insert into membership by name
    select '{UNIT}' as unit, plant.*, newborn.newborn_id, 1 as item, date '{MONTHS[-1]}' as period,
        true as is_counted, if(state = 'late', 84, null) as minutes,
        if(state = 'late', 60, null) as due_minutes
    from plant inner join newborn using (record_id);
"""


@pytest.fixture(scope="module")
def month(planted: Path) -> ReviewData:
    return read_review(planted, UNIT)


def test_what_should_never_happen_stands_first_and_a_little_cold_nowhere(month: ReviewData) -> None:
    listed = records_to_read(month)
    now = listed.loc[listed["tier"] == "read_now", "record_id"]
    assert set(now) == {POSITIVE, ROUTE}
    assert list(listed["record_id"])[2:] == ["FH_COLD"]
    assert list(listed["tier"])[2:] == ["sample"]
    by_measure = counted(month).set_index("measure_id")["newborns"]
    assert dict(by_measure) == {
        "arrival_cold_moderate": 1, "arrival_cold_mild": 1, "first_temperature": 1,
    }  # fmt: skip


def test_a_line_says_the_reading_when_and_how_far_out(month: ReviewData) -> None:
    words = records_to_read(month).set_index("record_id")["what"]
    plain = {name: [text.replace("\xa0", " ") for text in one] for name, one in words.items()}
    assert plain["FH_COLD"] == ["Moderately cold: 35.2 °C at 62 min, 1.3 °C below 36.5 °C"]
    assert plain[ROUTE] == [
        "Each medicine by its own route (vitamin K, intravenous): not as the measure asks"
    ]
    assert plain[POSITIVE] == [
        "Vaccine and immune globulin within 12 hours, mother positive: recorded as not done"
    ]


@pytest.mark.build
def test_the_page_reads_so(planted: Path, tmp_path: Path) -> None:
    """What a reader sees: two records to read now, no word of harm, nobody a little cold."""
    html = render_review(planted, UNIT, None, tmp_path / "page.html").read_text(encoding="utf-8")
    section = html[html.index('id="records"') : html.index('id="discuss"')]
    text = re.sub(r"<[^>]+>", " ", section).replace("\xa0", " ")
    now, rest = text.split("Read a sample")
    assert POSITIVE in now and ROUTE in now and "FH_COLD" not in now
    assert "2 of 67 records of" in now and "should never happen" in now
    assert "Ask for the list of study keys." in now
    assert "April 2026, at night, number" in now
    assert "FH_COLD" in rest and "FH_MILD" not in text and "FH_LATE" not in text
    assert "defaults; no one in the unit has approved them yet" in rest
    assert ">2 records to read now<" in html
    for never in ("harm recorded", "instead of taken", "undefined", "nan", "None"):
        assert not re.search(rf"\b{never}\b", text), never


def test_the_point_for_the_meeting_is_true_of_the_records_read_now(month: ReviewData) -> None:
    """Its number and its measures are those of the list, and none hides behind "and more"."""
    told = next(one for one in discuss.points(month) if one.place == "records")
    listed = records_to_read(month)
    now = listed[listed["tier"] == "read_now"]
    assert f"In {len(now)} records" in told.fact
    titles = month.record_measures.set_index("measure_id")["title"]
    for name in set(gravest(month)["measure_id"]):
        assert re.search(rf"{re.escape(titles[name])} \(1 [a-z ]+\)", told.fact)
    assert "more" not in told.fact
    assert set(gravest(month)["record_id"]) == set(now["record_id"])


def test_more_than_ten_are_all_shown_and_said(month: ReviewData) -> None:
    rows = month.record_measures
    one = rows[rows["record_id"] == ROUTE]
    many = pd.concat([rows, *(one.assign(record_id=f"N{number:02d}") for number in range(12))])
    data = replace(month, record_measures=many)
    now = records_to_read(data)
    assert (now["tier"] == "read_now").sum() == 14
    assert "more than 10, and all of them are shown" in now_words(data, 14)
    assert "more than 10" not in now_words(month, 2)
    html = record_list(data).html
    assert all(f"N{number:02d}" in html for number in range(12))


def test_the_sample_is_the_same_for_everyone(month: ReviewData) -> None:
    """Against its declared order, written again here; no order of rows changes it."""
    keys = [f"K{number}" for number in range(60)]
    once = sampled("fern_hollow", pd.Timestamp("2026-04-01"), keys)
    assert once == sampled("fern_hollow", pd.Timestamp("2026-04-01"), reversed(keys))
    order = sorted(keys, key=lambda key: md5(f"fern_hollow|2026-04|{key}".encode()).hexdigest())
    assert once == order[:10]
    assert once != sampled("fern_hollow", pd.Timestamp("2026-05-01"), keys)
    assert once != sampled("still_pond", pd.Timestamp("2026-04-01"), keys)
    rows = month.record_measures
    cold = rows[rows["record_id"] == "FH_COLD"]
    many = pd.concat([rows, *(cold.assign(record_id=key) for key in keys)])
    data = replace(month, record_measures=many)
    shuffled = replace(month, record_measures=many.sample(frac=1, random_state=7))
    assert list(records_to_read(data)["record_id"]) == list(records_to_read(shuffled)["record_id"])
    assert len(serious_newborns(data)) == 61
    assert (records_to_read(data)["tier"] == "sample").sum() == 10


def test_a_flag_names_nobody_but_stands_beside_what_does(fake_store: Path) -> None:
    data = read_review(fake_store, UNIT)
    alone = replace(data, record_measures=data.record_measures.head(0))
    assert records_to_read(alone).empty and counted(alone).empty
    assert "cannot be right or" in record_list(alone).html
    flagged = data.record_flags["record_id"].iloc[0]
    rows = data.record_measures[data.record_measures["measure_id"] == "vitamin_k"]
    one = rows.head(1).assign(record_id=flagged, level="sentinel", state="not_met")
    both = records_to_read(replace(data, record_measures=one))
    assert any("value that" in text for text in both["also"].iloc[0])


def test_a_newborn_stands_once_under_its_gravest_reason(fake_store: Path) -> None:
    data = read_review(fake_store, UNIT)
    listed = records_to_read(data)
    assert listed["record_id"].is_unique and len(listed) > 10
    assert {"read_now", "sample"} == set(listed["tier"])
    rows = data.record_measures[~data.record_measures["measure_id"].isin(["half_hourly"])]
    less_sure = rows["state"].isin(["late", "not_documented", "unusable"])
    is_grave = [
        LEVELS.get(name, ("process", "process"))[less] == "sentinel"
        for name, less in zip(rows["measure_id"], less_sure, strict=True)
    ]
    never = set(rows.loc[is_grave, "record_id"])
    assert never
    assert set(listed.loc[listed["tier"] == "read_now", "record_id"]) == never


def test_it_lists_whom_the_page_lists_in_the_same_order(clean: Built, tmp_path: Path) -> None:
    out = tmp_path / "list.csv"
    number = write_worklist(clean.store, "quillmere", None, out)
    rows = read(out)
    listed = records_to_read(read_review(clean.store, "quillmere"))
    assert number == len(rows) == len(listed) > 10
    assert [row["record_id"] for row in rows] == list(listed["record_id"])
    assert tuple(rows[0]) == (*COLUMNS, *TO_FILL)


def test_minutes_late_are_the_largest_and_what_to_check_is_said(
    clean: Built, tmp_path: Path
) -> None:
    data = read_review(clean.store, "quillmere")
    write_worklist(clean.store, "quillmere", None, tmp_path / "list.csv")
    rows = {row["record_id"]: row for row in read(tmp_path / "list.csv")}
    late = data.record_measures[data.record_measures["state"] == "late"]
    late = late[~late["measure_id"].isin(data.left_to_unit["measure_id"])]
    late = late[~late["measure_id"].isin(unit_matters(data)["measure_id"])]
    late = late[late["record_id"].isin(list(rows))]
    most = (late["minutes"] - late["due_minutes"]).groupby(late["record_id"]).max().dropna()
    assert len(most) > 3
    for record_id, minutes in most.items():
        assert float(rows[str(record_id)]["minutes_late"]) == pytest.approx(minutes, rel=1e-4)
    assert all(":" in row["check_in_record"] for row in rows.values())
    assert all(row["why_it_matters"] and row["born"] and row["month"] for row in rows.values())
    assert all(row[name] == "" for row in rows.values() for name in TO_FILL)


def test_a_cell_that_would_run_as_a_formula_is_text(fake_store: Path, tmp_path: Path) -> None:
    store = tmp_path / "formula.duckdb"
    store.write_bytes(fake_store.read_bytes())
    with duckdb.connect(str(store)) as connection:
        for table in ("newborn", "membership", "flag"):
            connection.execute(f"update {table} set record_id = '=cmd|' || record_id")
    write_worklist(store, UNIT, None, tmp_path / "list.csv")
    rows = read(tmp_path / "list.csv")
    assert rows
    assert all(row["record_id"].startswith("'=cmd|") for row in rows)


def test_an_existing_file_is_kept_unless_forced(fake_store: Path, tmp_path: Path) -> None:
    out = tmp_path / "list.csv"
    out.write_text("notes", encoding="utf-8")
    with pytest.raises(StoreError, match="name another"):
        write_worklist(fake_store, UNIT, None, out)
    assert out.read_text(encoding="utf-8") == "notes"
    assert write_worklist(fake_store, UNIT, None, out, force=True) > 0
    assert out.read_text(encoding="utf-8").startswith("record_id,")


def test_a_matter_for_the_unit_lists_no_record_but_is_told(fake_store: Path) -> None:
    data = read_review(fake_store, UNIT)
    matters = unit_matters(data).set_index("measure_id")
    assert matters.loc["half_hourly", "because"] == "listed"
    rows = data.record_measures
    of_it = rows[(rows["measure_id"] == "half_hourly") & (rows["state"] != "met")]
    assert matters.loc["half_hourly", "missed"] == len(of_it) > 0
    title = data.measures.set_index("measure_id").loc["half_hourly", "title"]
    listed = records_to_read(data)
    said = [text for name in ("what", "also") for words in listed[name] for text in words]
    assert said and not any(title in text for text in said)
    assert "half_hourly" not in set(counted(data)["measure_id"])


def test_what_more_than_half_miss_is_a_matter_for_the_unit(fake_store: Path) -> None:
    """At 20 newborns or more, and never for what should never happen and is known to have."""
    data = read_review(fake_store, UNIT)
    row = data.measures.set_index("measure_id").loc["first_temperature"]
    assert "first_temperature" not in set(unit_matters(data)["measure_id"])
    more = data.record_measures[data.record_measures["measure_id"] == "vitamin_k"].head(1)
    more = more.assign(measure_id="first_temperature", level="serious", state="not_met")
    many = [
        more.assign(record_id=f"N{number}") for number in range(int(row["denominator"] / 2) + 1)
    ]
    often = replace(data, record_measures=pd.concat([data.record_measures, *many]))
    assert "first_temperature" in set(unit_matters(often)["measure_id"])
    assert "N1" not in serious_newborns(often)
    grave = pd.concat(many).assign(level="sentinel")
    known = replace(data, record_measures=pd.concat([data.record_measures, grave]))
    assert {"N1", "N2"} <= set(gravest(known)["record_id"])
    unknown = grave.assign(state="not_documented")
    unsure = replace(data, record_measures=pd.concat([data.record_measures, unknown]))
    assert "first_temperature" in set(unit_matters(unsure)["measure_id"])
    assert "N1" not in set(gravest(unsure)["record_id"])


def test_the_demo_month_names_few(clean: Built) -> None:
    """A list that names everybody names nobody: at most ten now, ten of a sample."""
    data = read_review(clean.store, "quillmere")
    listed = records_to_read(data)
    assert 10 < len(listed) <= 20
    assert "arrival_cold_mild" not in set(gravest(data)["measure_id"])


def test_what_is_listed_is_worked_out_once_for_a_month(fake_store: Path) -> None:
    """By every section that asks; a changed copy of the month is worked out anew."""
    data = read_review(fake_store, UNIT)
    assert records_to_read(data) is records_to_read(data)
    assert unit_matters(data) is unit_matters(data)
    quiet = replace(
        data, record_measures=data.record_measures.head(0), record_flags=data.record_flags.head(0)
    )
    assert len(records_to_read(data)) > len(records_to_read(quiet)) == 0

"""What a spoiled export does: a clear message or a flag, and every row accounted for."""

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from pipelines.base.errors import ExportError
from pipelines.base.store_file import open_store
from pipelines.build.every_stage import BuildSummary, build_store
from pipelines.definitions.read_units import find_unit
from tests.loading.conftest import write_files

Build = Callable[[], BuildSummary]


# A line added to the flowsheet, and why it is set aside.
ASIDE = [
    ("A1,Temp axillary", "2 fields where the header has 6"),
    (",Temp axillary,03/02/2025 08:45,,36.7,", "no record id"),
    ("Z9,Temp axillary,03/02/2025 08:45,,36.7,", "no newborn with this record id"),
    ("A1,Temp axillary,03/02/2025 07:45,,36.7,", "repeats flowsheet.csv line 2 exactly"),
]


@pytest.fixture(scope="module")
def clean_build(tmp_path_factory: pytest.TempPathFactory) -> BuildSummary:
    """The export as it stands, for tests that spoil nothing."""
    folder = tmp_path_factory.mktemp("clean_export")
    return build_of(write_files(folder / "exports"), folder)


@pytest.fixture(scope="module")
def with_lines_aside(tmp_path_factory: pytest.TempPathFactory) -> BuildSummary:
    """Every line of ``ASIDE`` after the flowsheet's own six."""
    folder = tmp_path_factory.mktemp("aside")
    path = write_files(folder / "exports") / "flowsheet.csv"
    path.write_text(path.read_text() + "".join(f"{line}\n" for line, _ in ASIDE))
    return build_of(path.parent, folder)


def build_of(exports: Path, folder: Path) -> BuildSummary:
    return build_store([(find_unit("quillmere"), exports)], folder / "store.duckdb")


def spoil(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def rows(summary: BuildSummary, sql: str) -> list[tuple[object, ...]]:
    with open_store(summary.store) as store:
        return store.execute(sql).fetchall()


def reconciled(summary: BuildSummary) -> bool:
    files = summary.files
    return bool((files["rows_in"] == files["rows_kept"] + files["rows_rejected"]).all())


@pytest.mark.build
def test_clean_export_has_no_error_flag(clean_build: BuildSummary) -> None:
    summary = clean_build
    assert reconciled(summary)
    assert rows(summary, "select * from flag where severity = 'error'") == []
    assert rows(summary, "select count(*) from newborn") == [(3,)]
    assert not summary.not_judged


@pytest.mark.build
def test_times_are_elapsed_minutes_across_the_clock_change(clean_build: BuildSummary) -> None:
    # US clocks went from 02:00 daylight to 01:00 standard time on 2 November 2025 (IANA tz
    # database, America/Chicago): 00:50 to 03:00 on that night is 190 minutes, not 130.
    found = rows(clean_build, "select leave_birth_room_minutes from newborn where record_id = 'A2'")
    assert found == [(190.0,)]


def test_missing_file(build: Build, exports: Path) -> None:
    (exports / "medication.csv").unlink()
    with pytest.raises(ExportError, match=r"medication\*\.csv.*holds: care\.csv"):
        build()


def test_missing_folder(build: Build, exports: Path) -> None:
    exports.rename(exports.with_name("elsewhere"))
    with pytest.raises(ExportError, match="no such folder"):
        build()


def test_empty_file(build: Build, exports: Path) -> None:
    (exports / "flowsheet.csv").write_text("")
    with pytest.raises(ExportError, match=r"flowsheet\.csv: the file is empty"):
        build()


@pytest.mark.build
def test_header_only_is_said(build: Build, exports: Path) -> None:
    path = exports / "flowsheet.csv"
    path.write_text(path.read_text().splitlines()[0] + "\n")
    summary = build()
    note = summary.files.set_index("source_file").loc["flowsheet.csv", "note"]
    assert "a header and no rows" in str(note)
    states = rows(
        summary, "select distinct state from membership where measure_id = 'first_temperature'"
    )
    assert states == [("not_documented",)]


@pytest.mark.build
def test_unknown_column_is_said_and_kept_out(build: Build, exports: Path) -> None:
    spoil(exports / "care.csv", "Study key,", "Study key,Comment,")
    note = build().files.set_index("source_file").loc["care.csv", "note"]
    assert "columns not used: Comment" in str(note)


def test_missing_needed_column_names_the_nearest(build: Build, exports: Path) -> None:
    spoil(exports / "newborns.csv", "Study key", "Study kee")
    with pytest.raises(
        ExportError, match=r"newborns\.csv line 1: column 'Study key' .*Did you mean 'Study kee'"
    ):
        build()


@pytest.mark.build
def test_missing_optional_column_is_flagged(build: Build, exports: Path) -> None:
    spoil(exports / "newborns.csv", "Head cm", "Head round cm")
    summary = build()
    assert rows(
        summary,
        "select record_id, severity from flag where column_name = 'head_circumference_cm'",
    ) == [(None, "query")] or rows(
        summary,
        "select distinct record_id from flag where column_name = 'head_circumference_cm'",
    ) == [(None,)]
    assert reconciled(summary)


@pytest.mark.build
def test_duplicate_record_exact_and_conflicting(build: Build, exports: Path) -> None:
    path = exports / "newborns.csv"
    lines = path.read_text().splitlines()
    changed = lines[2].replace("3150", "3050")
    path.write_text("\n".join([*lines, lines[1], changed]) + "\n")
    summary = build()
    assert rows(summary, "select source_line, reason from rejected order by 1") == [
        (5, "repeats the record of newborns.csv line 2 exactly"),
        (6, "repeats the record of newborns.csv line 3 with other values; the first is kept"),
    ]
    assert rows(
        summary, "select record_id from flag where column_name = 'record_id' and severity = 'query'"
    ) == [("A2",)]
    assert reconciled(summary)


@pytest.mark.build
def test_unreadable_date_keeps_the_newborn_and_shows_no_date(build: Build, exports: Path) -> None:
    spoil(exports / "flowsheet.csv", "03/02/2025 07:45", "2025-03-02T07h45")
    summary = build()
    flags = rows(
        summary,
        "select record_id, column_name, recorded_value, severity from flag where severity='error'",
    )
    assert flags == [("A1", "minutes", "9999-99-99x99x99", "error")]
    assert rows(
        summary,
        "select state from membership where measure_id='first_temperature' and record_id='A1'",
    ) == [("unusable",)]


@pytest.mark.build
def test_unreadable_birth_time_keeps_the_newborn_out_of_every_month(
    build: Build, exports: Path
) -> None:
    spoil(exports / "newborns.csv", "03/02/2025 07:05", "13/45/2025 07:05")
    summary = build()
    assert rows(summary, "select birth_month from newborn where record_id = 'A1'") == [(None,)]
    assert ("A1", "birth_time", "error") in rows(
        summary, "select record_id, column_name, severity from flag"
    )
    whole = rows(
        summary,
        "select initial_population from result where measure_id='first_temperature' "
        "and period_kind='all' and stratifier='all newborns'",
    )
    assert whole == [(3,)]


def test_wrong_delimiter(build: Build, exports: Path) -> None:
    path = exports / "newborns.csv"
    path.write_text(path.read_text().replace(",", ";"))
    with pytest.raises(ExportError, match=r"separated by ';'.*set delimiter = ';'"):
        build()


def test_latin_1_names_the_line_and_the_setting(build: Build, exports: Path) -> None:
    path = exports / "medication.csv"
    path.write_bytes(path.read_text().replace("L thigh", "cuisse g\xe2uche").encode("latin-1"))
    with pytest.raises(ExportError, match=r"medication\.csv line 2: byte 0xe2 .*cp1252"):
        build()


@pytest.mark.build
def test_declared_encoding_is_read(exports: Path, tmp_path: Path) -> None:
    path = exports / "newborns.csv"
    text = (
        path.read_text()
        .replace("home,neg", "home,neg", 1)
        .replace("birth room", "naissance \xe9", 1)
    )
    path.write_bytes(text.encode("cp1252"))
    unit = find_unit("quillmere")
    files = tuple(replace(spec, encoding="cp1252") for spec in unit.files)
    recodes = {
        **unit.recodes,
        "room": {**unit.recodes["room"], "naissance \xe9": {"": "birth_room"}},
    }
    store = build_store(
        [(replace(unit, files=files, recodes=recodes), exports)], tmp_path / "s.duckdb"
    ).store
    with open_store(store) as connection:
        assert connection.execute(
            "select distinct birth_place from newborn order by 1"
        ).fetchall() == [("birth_room",), ("operating_room",)]


@pytest.mark.build
def test_formula_in_a_cell_is_flagged_as_text(build: Build, exports: Path) -> None:
    spoil(exports / "flowsheet.csv", ",36.7,", ",=36.7+1,")
    flags = rows(build(), "select column_name, recorded_value from flag where severity = 'error'")
    assert flags == [("value", "=36.7+1")]


@pytest.mark.build
@pytest.mark.parametrize("place", range(len(ASIDE)))
def test_rejected_rows_carry_line_and_reason(with_lines_aside: BuildSummary, place: int) -> None:
    found = rows(
        with_lines_aside,
        "select source_file, source_line, reason from rejected order by source_line",
    )
    assert [(file, number) for file, number, _ in found] == [
        ("flowsheet.csv", 7 + at) for at in range(len(ASIDE))
    ]
    assert ASIDE[place][1] in str(found[place][2])
    assert reconciled(with_lines_aside)


@pytest.mark.build
def test_overlapping_files_give_one_reading(build: Build, exports: Path) -> None:
    lines = (exports / "flowsheet.csv").read_text().splitlines()
    more = "A3,Temp axillary,11/06/2025 00:30,,36.9,"
    (exports / "flowsheet_more.csv").write_text("\n".join([lines[0], lines[5], more]) + "\n")
    summary = build()
    assert rows(summary, "select source_file, source_line, reason from rejected") == [
        ("flowsheet_more.csv", 2, "repeats flowsheet.csv line 6 exactly")
    ]
    assert reconciled(summary)


@pytest.mark.build
def test_careful_reader_gives_the_same_rows_and_true_line_numbers(
    build: Build, exports: Path, clean_build: BuildSummary
) -> None:
    """A blank line and a line break inside quotes must not shift a line number."""
    path = exports / "flowsheet.csv"
    lines = path.read_text().splitlines()
    plain = rows(clean_build, "select source_line, value from judged.observation order by 1")
    spoiled = [
        lines[0],
        lines[1],
        "",
        lines[2],
        '"A2","Temp axillary","11/02/2025 01:30",,36.9,"60\ns"',
        *lines[4:],
    ]
    path.write_text("\n".join(spoiled) + "\n")
    summary = build()
    shifted = rows(summary, "select source_line, value from judged.observation order by 1")
    assert [value for _, value in shifted] == [value for _, value in plain]
    assert [line for line, _ in shifted] == [2, 4, 5, 7, 8]
    assert reconciled(summary)


@pytest.mark.build
def test_windows_line_ends_and_byte_order_mark(build: Build, exports: Path) -> None:
    path = exports / "newborns.csv"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_text().replace("\n", "\r\n").encode())
    assert rows(build(), "select count(*), count(sex), count(birth_month) from newborn") == [
        (3, 3, 3)
    ]


@pytest.mark.build
def test_failed_build_leaves_the_old_store_and_no_scratch(
    build: Build, exports: Path, tmp_path: Path
) -> None:
    store = build().store
    before = store.read_bytes()
    (exports / "flowsheet.csv").write_text("")
    with pytest.raises(ExportError):
        build()
    assert store.read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["exports", "store.duckdb"]


@pytest.mark.build
def test_scratch_of_a_killed_build_is_cleared(build: Build, tmp_path: Path) -> None:
    """A build cut off by kill -9 leaves clock times behind; the next build removes them."""
    import multiprocessing

    gone = multiprocessing.get_context("spawn").Process(target=print)
    gone.start()
    gone.join()
    dead = tmp_path / f".building-{gone.pid}-x"
    alive = tmp_path / f".building-{os.getpid()}-x"
    for folder in (dead, alive):
        folder.mkdir()
    build()
    assert not dead.exists()
    assert alive.exists()


@pytest.mark.build
def test_store_holds_no_clock_time(clean_build: BuildSummary) -> None:
    """Nothing finer than the birth hour is kept; the clock of the builds is no newborn's."""
    summary = clean_build
    columns = rows(
        summary,
        "select table_schema, table_name, column_name from information_schema.columns "
        "where data_type like 'TIMESTAMP%' and table_catalog = current_database()",
    )
    builds = {"loaded_at", "noticed_at", "shown_at"}
    assert {name for _, _, name in columns} == builds
    texts = rows(
        summary,
        "select table_schema, table_name, column_name from information_schema.columns "
        "where data_type = 'VARCHAR' and table_schema in ('typed', 'judged', 'mart', 'measure')",
    )
    with open_store(summary.store) as store:
        for schema, table, column in texts:
            hit = store.execute(
                f"select count(*) from {schema}.{table} where {column} like '%07:45%'"
            ).fetchone()
            assert hit == (0,), (schema, table, column)
    assert b"03/02/2025 07:45" not in summary.store.read_bytes()


def test_unit_in_minutes_refuses_dates(tmp_path: Path) -> None:
    unit = find_unit("tansy_ridge")
    folder = tmp_path / "exports"
    folder.mkdir()
    header = ";".join(unit.files[0].local_columns)
    cells = {"Baby": "T1", "Birth Month": "2025-03", "First Temp Time": "2025-03-04 07:10"}
    line = ";".join(cells.get(name, "") for name in unit.files[0].local_columns)
    (folder / "admissions.csv").write_text(f"{header}\n{line}\n")
    with pytest.raises(ExportError, match=r"line 2: column 'First Temp Time' holds a full date"):
        build_store([(unit, folder)], tmp_path / "store.duckdb")
    assert not (tmp_path / "store.duckdb").exists()

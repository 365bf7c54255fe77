"""Every awkward file is loaded rightly or refused in words; none is misread.

The truth is ``truth.NEWBORNS``, which made the files; it is compared with what stands in the
stage ``typed`` and with the instants of birth, cell by cell.
"""

import datetime as dt
from pathlib import Path

import pytest

from pipelines.base.errors import LanugoError
from pipelines.base.store_file import new_store
from pipelines.build.every_stage import load_exports
from pipelines.definitions.of_units import definitions_of
from pipelines.definitions.read_units import read_unit
from pipelines.stages.raw.kept_rows import create_raw_tables
from pipelines.stages.typed.tables import create_typed_tables
from pipelines.stages.typed.written_back import write_back
from tests.loading.awkward.cases_fhir import FHIR
from tests.loading.awkward.cases_files import FILES
from tests.loading.awkward.cases_numbers import NUMBERS
from tests.loading.awkward.cases_times import TIMES
from tests.loading.awkward.truth import NEWBORNS, Case, local

CASES = (*TIMES, *NUMBERS, *FILES, *FHIR)
BY_KEY = {newborn.key: newborn for newborn in NEWBORNS}
COLUMNS = ("weight_g", "length_cm", "gestational_age_days", "apgar_5")


def load(case: Case, folder: Path) -> dict[str, list[tuple[object, ...]]]:
    """Load a case as far as ``typed``; return what stands there and how rows reconcile."""
    unit_file = folder / "awkward.toml"
    unit_file.write_text(case.unit, encoding="utf-8")
    exports = folder / "exports"
    exports.mkdir()
    for name, content in case.files.items():
        (exports / name).write_bytes(content)
    unit = read_unit(unit_file)
    definitions = definitions_of([unit])
    with new_store(folder / "store.duckdb", [exports]) as connection:
        create_raw_tables(connection)
        create_typed_tables(connection, definitions.contract)
        raws = load_exports(connection, [(unit, exports)], definitions)
        found = {name: connection.execute(sql).fetchall() for name, sql in READ.items()}
        back = write_back(connection, raws)
        return found | {"back": [(one.column, one.compared, one.different) for one in back]}


READ = {
    "born": "select record_id, epoch(born_at) from raw.birth order by all",
    "admission": f"select record_id, {', '.join(COLUMNS)} from typed.admission order by all",
    "observation": "select record_id, value, minutes from typed.observation order by all",
    "unreadable": "select distinct column_name, record_id from ("
    "select column_name, record_id from typed.unreadable inner join typed.admission "
    "using (row_id) where table_name = 'admission' union all "
    "select column_name, record_id from typed.unreadable inner join typed.observation "
    "using (row_id) where table_name = 'observation')",
    # The unit's own clock: what stays in the store of the moment of birth.
    "clock": "select record_id, birth_date, birth_month, birth_hour from typed.admission",
    "log": "select rows_in, rows_kept, rows_rejected from typed.load_log",
}


def read_cells(found: dict[str, list[tuple[object, ...]]]) -> dict[tuple[str, str], object]:
    """Return (column, record) -> what was read."""
    cells: dict[tuple[str, str], object] = {
        ("birth_time", str(key)): born for key, born in found["born"]
    }
    for key, *values in found["admission"]:
        cells |= {(name, str(key)): value for name, value in zip(COLUMNS, values, strict=True)}
    for key, value, minutes in found["observation"]:
        cells |= {("value", str(key)): value, ("minutes", str(key)): minutes}
    return cells


def true_cells() -> dict[tuple[str, str], float]:
    cells: dict[tuple[str, str], float] = {}
    for key, one in BY_KEY.items():
        cells |= {
            ("birth_time", key): one.born.timestamp(),
            ("weight_g", key): one.weight_g,
            ("length_cm", key): one.length_cm,
            ("gestational_age_days", key): one.gestation_days,
            ("apgar_5", key): one.apgar,
            ("value", key): one.temperature_c,
            ("minutes", key): one.taken_after,
        }
    return cells


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_it_is_read_rightly_or_refused(case: Case, tmp_path: Path) -> None:
    if case.refused:
        with pytest.raises(LanugoError) as refused:
            load(case, tmp_path)
        said = str(refused.value)
        assert case.refused in said, said
        for newborn in NEWBORNS:
            for value in (f"{newborn.born:%H:%M}", f"{newborn.weight_g:g}", newborn.key):
                assert value not in said, "a newborn's value stands in the message"
        return
    found = load(case, tmp_path)
    read = read_cells(found)
    # A birth time that is not read leaves no minutes to count from.
    without_birth = {key for name, key in case.unread if name == "birth_time"}
    gone = case.unread | case.absent | {("minutes", key) for key in without_birth}
    for cell, true in true_cells().items():
        if cell in gone:
            assert read.get(cell) is None, cell
        else:
            assert read[cell] == pytest.approx(true, abs=case.within.get(cell[0], 0.006)), cell
    for key, *clock in found["clock"]:
        if str(key) not in without_birth:
            born = local(BY_KEY[str(key)].born)
            assert clock == [born.date(), born.date().replace(day=1), born.hour], key
    listed = set(found["unreadable"])
    assert case.unread <= listed
    assert {cell for cell in listed if cell[1] not in without_birth} <= case.unread
    assert all(rows_in == kept + rejected for rows_in, kept, rejected in found["log"])
    assert sum(rejected for _, _, rejected in found["log"]) == case.rejected
    assert sum(int(str(compared)) for _, compared, _ in found["back"]) > 0
    assert [one for one in found["back"] if one[2]] == []


def test_the_truth_holds_what_it_is_meant_to() -> None:
    """Births on both sides of a clock change, at local midnight, and on either half of a month."""
    assert {local(one.born).utcoffset() for one in NEWBORNS[:2]} == {
        dt.timedelta(hours=1),
        dt.timedelta(hours=2),
    }
    assert local(NEWBORNS[5].born).time() == dt.time(0, 0)
    days = [local(one.born).day for one in NEWBORNS]
    assert min(days) <= 12 < max(days)


def test_there_are_enough_of_them() -> None:
    names = [case.name for case in CASES]
    assert len(names) == len(set(names))
    assert len(names) >= 80

"""A unit's own columns, measures and rules: one file each, found, run, and nobody else's."""

import csv
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from pipelines.base.errors import DeclarationError
from pipelines.base.store_file import open_store
from pipelines.build.every_stage import BuildSummary, build_store
from pipelines.cli import main
from pipelines.definitions.of_units import definitions_of
from pipelines.definitions.own_contract import RESERVED
from pipelines.definitions.own_files import own_files
from pipelines.definitions.policy import check_policies
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import Unit, find_unit, read_unit
from pipelines.pages.quality.page import render_quality
from pipelines.pages.review.page import render_review

HERE = Path(__file__).parent
OWN = HERE / "larkspur_own"
OWN_MEASURES = {"warm_cot", "bilirubin_seen"}
# What the unit writes into its file for its own column, kind and reading.
MAPPED = """apgar_1 = "Apgar 1"
cot_warmed = { from = "Bett gewärmt", recode = "ja_nein" }
"""
TAKEN = """[[files.takes]]
table = "observation"
[files.takes.columns]
record_id = "Schlüssel"
kind = { value = "skin_bilirubin" }
meter_place = { value = "brow" }
value = { from = "Bili", unit = "mg/dL" }
minutes = "Bili um"
[recodes.ja_nein]
"""
COT_EVERY, COT_WARM_EVERY, BILI_EVERY = 3, 9, 3


def made(unit: str, out: Path, births: int = 40) -> Path:
    command = [sys.executable, "-m", "synthetic_data", "--out", str(out), "--unit", unit]
    span = ["--months", "2", "--births-per-month", str(births), "--start", "2026-01"]
    subprocess.run([*command, *span], check=True, capture_output=True)
    return out / "exports" / Path(unit).stem


def widened(exports: Path) -> None:
    """Add three columns to the export, by a plain count of its lines."""
    (path,) = exports.glob("aufnahmen*.csv")
    with path.open(encoding="cp1252", newline="") as stream:
        head, *rows = csv.reader(stream, delimiter=";")
    born = head.index("Geburt")
    with path.open("w", encoding="cp1252", newline="") as stream:
        writer = csv.writer(stream, delimiter=";")
        writer.writerow([*head, "Bett gewärmt", "Bili", "Bili um"])
        for place, row in enumerate(rows):
            cot = "" if place % COT_EVERY else ("ja" if place % COT_WARM_EVERY else "nein")
            bili = ("300", row[born]) if place % BILI_EVERY == 0 else ("", "")
            writer.writerow([*row, cot, *bili])


def unit_file(folder: Path, own: Path | None = OWN) -> Path:
    text = (HERE / "larkspur.toml").read_text(encoding="utf-8")
    if own:
        text = text.replace('apgar_1 = "Apgar 1"\n', MAPPED).replace("[recodes.ja_nein]\n", TAKEN)
        shutil.copytree(own, folder / "larkspur")
    path = folder / "larkspur.toml"
    path.write_text(text, encoding="utf-8")
    return path


@dataclass(frozen=True)
class TwoUnits:
    alone: BuildSummary
    both: BuildSummary
    unit: Unit
    folder: Path


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> TwoUnits:
    """Quillmere built alone, and beside larkspur, which brings its own."""
    folder = tmp_path_factory.mktemp("two")
    larkspur = made(str(HERE / "larkspur.toml"), folder)
    widened(larkspur)
    other = (find_unit("quillmere"), made("quillmere", folder))
    unit = read_unit(unit_file(folder))
    alone = build_store([other], folder / "alone.duckdb")
    both = build_store([(unit, larkspur), other], folder / "both.duckdb")
    return TwoUnits(alone, both, unit, folder)


def rows(summary: BuildSummary, sql: str) -> list[tuple[object, ...]]:
    with open_store(summary.store) as store:
        return store.execute(sql).fetchall()


def test_own_column_reaches_the_store(two: TwoUnits) -> None:
    found = dict(
        rows(
            two.both,
            "select cot_warmed, count(*) from newborn where unit = 'larkspur' group by all",
        )
    )
    total = sum(int(str(n)) for n in found.values())
    assert total - found[None] == -(-total // COT_EVERY)
    assert found[True] > found[False] > 0
    assert rows(
        two.both,
        "select distinct kind, meter_place, value_unit from event where meter_place is not null",
    ) == [("skin_bilirubin", "brow", "mg/dL")]


def test_own_limits_and_rules_flag(two: TwoUnits) -> None:
    """300 mg/dL is beyond the limit that the unit gives; the rules find what they say."""
    flags = rows(
        two.both,
        "select unit, rule_id, severity, count(*) from flag where rule_id in ('outside_limits', "
        "'warm_cot_yet_theatre', 'cot_rarely_recorded') and column_name in ('value', "
        "'cot_warmed') and recorded_value in ('300', 'ja') group by all order by all",
    )
    assert [(flag[0], flag[1], flag[2]) for flag in flags] == [
        ("larkspur", "outside_limits", "error"),
        ("larkspur", "warm_cot_yet_theatre", "query"),
    ]
    assert two.both.not_judged == []
    sql = "select unit, column_name from flag where rule_id = 'cot_rarely_recorded'"
    assert rows(two.both, sql) == [("larkspur", "cot_warmed")]
    (theatre,) = rows(
        two.both,
        "select count(*) from newborn where cot_warmed and birth_place = 'operating_room'",
    )
    assert flags[1][3] == theatre[0]


def test_own_measure_is_computed_for_its_unit_alone(two: TwoUnits) -> None:
    for view in ("membership", "result", "policy", "as_recorded"):
        found = rows(
            two.both,
            f"select distinct measure_id, unit from {view} "
            "where measure_id in ('warm_cot', 'bilirubin_seen')",
        )
        assert {row[1] for row in found} == {"larkspur"}, view
        assert {row[0] for row in found} == OWN_MEASURES, view
    (met,) = rows(
        two.both, "select count(*) from membership where measure_id = 'warm_cot' and state = 'met'"
    )
    assert met[0]


def test_the_other_unit_is_as_if_it_were_alone(two: TwoUnits) -> None:
    """Views and pages of the unit that brings nothing are the same beside one that does."""
    for view in ("membership", "result", "as_recorded", "policy", "completeness", "spread"):
        columns = "* exclude (newborn_id)" if view == "membership" else "*"
        sql = f"select {columns} from {view} where unit = 'quillmere' order by all"
        assert rows(two.alone, sql) == rows(two.both, sql), view
    sql = "select * from flag where unit = 'quillmere' order by all"
    assert rows(two.alone, sql) == rows(two.both, sql)


@pytest.mark.slow
@pytest.mark.parametrize("render", [render_review, render_quality], ids=["review", "quality"])
def test_own_definitions_reach_the_page_of_their_unit_alone(two: TwoUnits, render: object) -> None:
    pages = {}
    for unit in ("larkspur", "quillmere"):
        out = two.folder / f"{unit}.html"
        if render is render_review:
            render_review(two.both.store, unit, None, out)
        else:
            render_quality(two.both.store, unit, out)
        pages[unit] = out.read_text(encoding="utf-8")
    words = (
        ["Cot warmed beforehand", "Bilirubin read within 48 hours"]
        if render is render_review
        else ["Cot warmed", "A warmed cot after a birth in theatre"]
    )
    assert [word for word in words if word.lower() not in pages["larkspur"].lower()] == []
    assert [word for word in words if word.lower() in pages["quillmere"].lower()] == []


def test_hashes_cover_own_files(two: TwoUnits) -> None:
    sql = "select key, value from build_info where key like '%\\_hash' escape '\\'"
    alone, both = dict(rows(two.alone, sql)), dict(rows(two.both, sql))
    assert set(alone) == {"contract_hash", "measures_hash", "rules_hash"}
    assert [key for key in alone if alone[key] == both[key]] == []


def test_examples_of_own_files_run(two: TwoUnits, capsys: pytest.CaptureFixture[str]) -> None:
    file = str(two.unit.path)
    for verb, name in [
        *(("measures", name) for name in OWN_MEASURES),
        ("rules", "warm_cot_yet_theatre"),
        ("rules", "cot_rarely_recorded"),
    ]:
        assert main([verb, name, "--unit", file]) == 0
        said = capsys.readouterr().out
        assert "\nok  " in said
        assert "FAIL" not in said
        assert main([verb, name]) == 3
    capsys.readouterr()


def test_dictionary_of_a_unit_has_its_own(two: TwoUnits, tmp_path: Path) -> None:
    out = tmp_path / "dictionary.md"
    assert main(["dictionary", "--unit", str(two.unit.path), "--out", str(out)]) == 0
    text = out.read_text(encoding="utf-8")
    for name in (*OWN_MEASURES, "cot_warmed", "meter_place", "skin_bilirubin"):
        assert f"`{name}`" in text
    assert "`warm_cot_yet_theatre`" in text
    assert "`cot_rarely_recorded`" in text


def test_names_of_the_stages_are_reserved(two: TwoUnits) -> None:
    """Every column of the mart that the contract has not: an own one of that name would clash."""
    contract = {name for table in read_contract().values() for name in table.columns}
    own = {"cot_warmed", "meter_place"}
    with open_store(two.both.store) as store:
        for name in ("mart.newborn", "mart.event", "typed.admission", "typed.care"):
            there = {row[0] for row in store.execute(f"describe {name}").fetchall()}
            assert there - contract - own <= RESERVED, name


SLIPS = {
    "column": ("contract/admission.toml", '[columns.weight_g]\ntype = "decimal"\ndescription = "x"',
               r"larkspur/contract/admission\.toml \[columns\.weight_g\].*'weight_g' already"),
    "other_table": ("contract/care.toml", '[columns.route]\ntype = "text"\ndescription = "x"',
                    r"larkspur/contract/care\.toml \[columns\.route\].*already"),
    "kind": ("contract/observation.toml", '[kinds.glucose]\ndescription = "x"\nunit = "mg/dL"',
             r"\[kinds\.glucose\].*kind 'glucose' already"),
    "reserved": ("contract/care.toml", '[columns.tier]\ntype = "integer"\ndescription = "x"',
                 r"the stages use the name 'tier'"),
    "required": ("contract/care.toml",
                 '[columns.nurse]\ntype = "text"\nrequired = true\ndescription = "x"',
                 r"\[columns\.nurse\]: required"),
    "key": ("contract/care.toml", '[columns.nurse]\ntipe = "text"', r"key 'tipe' is not known"),
    "table": ("contract/cares.toml", "", r"no table 'cares'\. Did you mean 'care'"),
    "title": ("contract/care.toml", 'title = "Other"', r"key 'title' is not known"),
    "two_types": ("contract/care.toml", '[columns.meter_place]\ntype = "integer"\n'
                  'description = "x"', r"column 'meter_place' has one type in .* another in"),
    "folder": ("measure/x.sql", "", r"larkspur/measure/x\.sql: .*Did you mean 'measures'"),
    "no_folder": ("x.sql", "", r"larkspur/x\.sql: lies in no folder of its kind"),
    "ending": ("contract/x.sql", "", r"a file of contract ends in \.toml"),
}  # fmt: skip


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_in_an_own_file_is_named(tmp_path: Path, slip: str) -> None:
    name, text, message = SLIPS[slip]
    path = unit_file(tmp_path)
    wrong = tmp_path / "larkspur" / name
    wrong.parent.mkdir(exist_ok=True)
    before = wrong.read_text(encoding="utf-8") if wrong.exists() else ""
    wrong.write_text(f"{before}\n{text}\n" if "title" not in text else text, encoding="utf-8")
    with pytest.raises(DeclarationError, match=message):
        read_unit(path)


@pytest.mark.parametrize("kind", ["measures", "rules", "column_rules"])
def test_a_shipped_measure_or_rule_is_not_redefined(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], kind: str
) -> None:
    path = unit_file(tmp_path)
    folder = tmp_path / "larkspur" / kind
    (mine,) = sorted(folder.glob("*.sql"))[:1]
    taken = {
        "measures": "vitamin_k",
        "rules": "unusual",  # a check that follows from the contract
        "column_rules": "dose_route",  # a rule about values
    }[kind]
    mine.rename(folder / f"{taken}.sql")
    verb = "measures" if kind == "measures" else "rules"
    assert main([verb, "--unit", str(path)]) == 3
    said = capsys.readouterr().err
    assert f"larkspur/{kind}/{taken}.sql" in said
    assert f"'{taken}' already" in said


def test_two_units_share_a_file_but_not_two_under_one_name(tmp_path: Path) -> None:
    units = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        path = unit_file(tmp_path / name)
        text = path.read_text(encoding="utf-8").replace('id = "larkspur"', f'id = "{name}"')
        path.write_text(text, encoding="utf-8")
        units.append(read_unit(path))
    assert definitions_of(units).measures["warm_cot"].units == ("one", "two")
    changed = tmp_path / "two" / "larkspur" / "measures" / "warm_cot.sql"
    changed.write_text(changed.read_text(encoding="utf-8") + "-- changed\n", encoding="utf-8")
    with pytest.raises(DeclarationError, match=r"warm_cot\.sql and .* differ and have one name"):
        definitions_of(units)


def test_two_units_mean_one_thing_by_a_column(tmp_path: Path) -> None:
    units = []
    for name, kind in (("one", "boolean"), ("two", "text")):
        (tmp_path / name).mkdir()
        path = unit_file(tmp_path / name)
        text = path.read_text(encoding="utf-8").replace('id = "larkspur"', f'id = "{name}"')
        path.write_text(text, encoding="utf-8")
        own = tmp_path / name / "larkspur" / "contract" / "admission.toml"
        own.write_text(own.read_text(encoding="utf-8").replace('"boolean"', f'"{kind}"'), "utf-8")
        units.append(read_unit(path))
    with pytest.raises(DeclarationError, match=r"'one' and 'two' both add admission\.cot_warmed"):
        definitions_of(units)


def test_a_policy_of_another_units_own_measure_is_refused(two: TwoUnits, tmp_path: Path) -> None:
    text = (HERE / "larkspur.toml").read_text(encoding="utf-8")
    text = text.replace('id = "larkspur"', 'id = "beside"')
    text += '[[policy]]\nmeasure = "warm_cot"\ntarget = 0.9\n'
    (tmp_path / "beside.toml").write_text(text, encoding="utf-8")
    beside = read_unit(tmp_path / "beside.toml")
    measures = definitions_of([two.unit, beside]).measures
    with pytest.raises(DeclarationError, match="there is no measure 'warm_cot'"):
        check_policies([two.unit, beside], measures)


def test_hidden_files_and_other_folders_are_left_alone(tmp_path: Path) -> None:
    """Copying between systems leaves ``._name`` beside a file; exports may lie there as well."""
    path = unit_file(tmp_path)
    (tmp_path / "larkspur" / "measures" / "._warm_cot.sql").write_bytes(b"\x00")
    (tmp_path / "larkspur" / "exports").mkdir()
    (tmp_path / "larkspur" / "exports" / "a.csv").touch()
    assert {one.stem for one in own_files(path, "measures")} == OWN_MEASURES


def test_a_unit_without_a_folder_has_what_is_shipped(tmp_path: Path) -> None:
    unit = read_unit(unit_file(tmp_path, own=None))
    assert unit.contract == read_contract()
    assert dict(definitions_of([unit]).measures) == dict(definitions_of().measures)

"""A unit of measurement is converted for the sign it belongs to, and refused for every other.

Molar mass of glucose 180.156 g/mol, of bilirubin 584.66 g/mol (from memory, as any handbook prints
them): 5.5 mmol/L of glucose are 99.1 mg/dL, 171 umol/L of bilirubin 10.0 mg/dL. That laboratories
report a glucose in mmol/L and a bilirubin in umol/L is common practice, no published source.
"""

from importlib.resources import files
from pathlib import Path

import pytest

from pipelines.base.errors import DeclarationError
from pipelines.base.store_file import open_store
from pipelines.build.every_stage import build_store
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import read_unit

VALUE = 'value = { from = "Result", unit = { temperature = "Cel" } }'
SAID = """
item            | result | unit   | value | explained
Glucose bedside | 5.5    | mmol/l | 99.09 |
Glucose bedside | 61     | mg/dL  | 61    |
Glucose bedside | 171    | umol/L |       | umol/L, in which glucose is not read
Bilirubin       | 171    | µmol/l | 10    |
Bilirubin       | 5.5    | mmol/L |       | mmol/L, in which bilirubin is not read
Bilirubin       | 9      | mg/dL  | 9     |
Temp axillary   | 36.8   | mg/dL  |       | mg/dL, in which temperature is not read
Temp axillary   | 98.6   | [degF] | 37    |
Glucose bedside | 54     | spoons |       | on no list of the unit file
Glucose bedside | 54     |        |       | No unit is stated
Glucose bedside | high   | mg/dL  |       | not a number
"""


def rows_of(text: str) -> list[dict[str, str]]:
    head, *rows = [[cell.strip() for cell in line.split("|")] for line in text.strip().split("\n")]
    return [dict(zip(head, row, strict=True)) for row in rows]


def unit_file(folder: Path, value: str, more: str = "") -> Path:
    """Write the shipped example of the long shape, its readings taken by another line."""
    text = files("pipelines.definitions").joinpath("units", "quillmere.toml").read_text("utf-8")
    assert VALUE in text
    path = folder / "my_unit.toml"
    path.write_text(text.replace(VALUE, value) + more, encoding="utf-8")
    return path


@pytest.mark.build
def test_a_stated_unit_is_converted_by_kind_or_refused_in_words(
    exports: Path, tmp_path: Path
) -> None:
    rows = rows_of(SAID)
    lines = [
        f"A1,{row['item']},03/02/2025 {8 + place}:00,,{row['result']},,{row['unit']}"
        for place, row in enumerate(rows)
    ]
    head = "Study key,Item,Taken at,Charted at,Result,How,Unit"
    (exports / "flowsheet.csv").write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
    path = unit_file(
        tmp_path,
        'value = { from = "Result", unit_from = "Unit" }',
        '\n[recodes.units]\n"µmol/l" = "umol/L"\n',
    )
    summary = build_store([(read_unit(path), exports)], tmp_path / "store.duckdb")
    with open_store(summary.store) as store:
        read = store.execute(
            "select row.source_line, value, list_contains(unusable, 'value') as is_masked, "
            "flag.severity, flag.explanation "
            "from judged.observation as row left join flag on flag.table_name = 'observation' "
            "and flag.source_line = row.source_line and flag.rule_id = 'unreadable' "
            "order by row.source_line"
        ).fetchall()
    assert len(read) == len(rows)
    for row, (_, value, is_masked, severity, explanation) in zip(rows, read, strict=True):
        if row["value"]:
            assert (value, is_masked, severity) == (float(row["value"]), False, None), row
        else:
            assert (value, is_masked, severity) == (None, True, "error"), row
            assert row["explained"] in explanation
            assert row["result"] not in explanation


def test_one_unit_for_a_column_converts_only_what_is_read_in_it() -> None:
    kinds = read_contract()["observation"].kinds
    assert [name for name, kind in kinds.items() if "mmol/L" in kind.conversions] == ["glucose"]
    assert [name for name, kind in kinds.items() if "umol/L" in kind.conversions] == ["bilirubin"]


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ('unit = { glucose = "umol/L" }', "cannot be brought to 'mg/dL' for glucose"),
        ('unit = { bilirubin = "mmol/L" }', "cannot be brought to 'mg/dL' for bilirubin"),
        ('unit = { weight = "mmol/L" }', "cannot be brought to 'g'"),
    ],
)
def test_a_units_file_cannot_declare_the_unit_of_another_sign(
    tmp_path: Path, value: str, said: str
) -> None:
    path = unit_file(tmp_path, f'value = {{ from = "Result", {value} }}')
    with pytest.raises(DeclarationError, match=said):
        read_unit(path)


def test_a_file_of_one_sign_is_refused_in_the_unit_of_another(tmp_path: Path) -> None:
    path = unit_file(tmp_path, 'value = { from = "Result", unit = "umol/L" }')
    kind = 'kind = { from = "Item", recode = "flowsheet_item" }'
    text = path.read_text(encoding="utf-8")
    assert kind in text
    path.write_text(text.replace(kind, 'kind = { value = "glucose" }'), encoding="utf-8")
    with pytest.raises(DeclarationError, match="for glucose"):
        read_unit(path)


def test_a_kind_of_a_units_own_says_whose_molar_mass_it_has(tmp_path: Path) -> None:
    """Without a substance a molar unit is refused; of one that is not known nothing is guessed."""
    value = 'unit = { skin_bilirubin = "umol/L" }'
    path = unit_file(tmp_path, f'value = {{ from = "Result", {value} }}')
    own = path.with_suffix("") / "contract" / "observation.toml"
    own.parent.mkdir(parents=True)
    kind = '[kinds.skin_bilirubin]\ndescription = "through the skin"\nunit = "mg/dL"\n'
    own.write_text(kind, encoding="utf-8")
    with pytest.raises(DeclarationError, match="'umol/L' cannot be brought to 'mg/dL'"):
        read_unit(path)
    own.write_text(kind + 'substance = "bilirubin"\n', encoding="utf-8")
    source = read_unit(path).files[1].takes[0].sources["value"]
    assert source.unit == {"skin_bilirubin": "umol/L"}
    own.write_text(kind + 'substance = "bilirubine"\n', encoding="utf-8")
    with pytest.raises(DeclarationError, match="no molar mass is known"):
        read_unit(path)

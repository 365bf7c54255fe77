"""Six awkward layouts in four languages: what a draft proposes, asks, and never copies.

The truth is the unit's file that wrote the exports. Layouts and names are invented by the writer
of the word lists, so the shares say what is reached, not what an unseen hospital would see.
"""

import csv
import doctest
import re
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from pipelines.base.errors import ExportError
from pipelines.definitions.read_units import Unit, read_unit
from pipelines.drafts import fits, name_match
from pipelines.drafts.export_columns import read_shapes
from pipelines.drafts.unit import draft
from pipelines.drafts.unit_draft import UnitDraft, read_draft
from synthetic_data import write_demo
from synthetic_data.scenario import Scenario, read_scenario
from tests.commands.layout_truth import score, wrong_words
from tests.once import Once

LAYOUTS = sorted((Path(__file__).parent / "layouts").glob("*.toml"))
NURSES = ("Zora Brixlund", "Ymke Corvanth", "Tilde Aberle-Quint")
SENTENCES = ("Vater bleibt beim Kind, Oma kommt", "mother asked about her sister again")
COMMAS = {"valombre"}


def spoiled(text: str, name: str) -> str:
    return re.sub(r"^(\d+)\.(\d+)$", r"\1,\2", text) if name in COMMAS else text


def with_people(path: Path, unit: Unit) -> None:
    """Add to a file who charted, a surname and a sentence: often the same, and once for each."""
    spec = next(file for file in unit.files if path.match(file.pattern))
    with path.open(encoding="utf-8-sig" if spec.encoding == "utf-8" else spec.encoding) as file:
        rows = list(csv.reader(file, delimiter=spec.delimiter))
    rows[0] += ["Signed by", "Surname", "Remarks"]
    for place, row in enumerate(rows[1:]):
        row[:] = [spoiled(cell, unit.id) for cell in row]
        row += [NURSES[place % 3], f"Querlind-{place}", SENTENCES[place % 2]]
    with path.open("w", encoding=spec.encoding, newline="") as file:
        csv.writer(file, delimiter=spec.delimiter).writerows(rows)


def make_exports(folder: Path) -> dict[str, Path]:
    shipped = read_scenario()
    scenario = Scenario({**shipped.numbers, "faults": dict.fromkeys(shipped["faults"], 0)})
    units = [read_unit(path) for path in LAYOUTS]
    written = write_demo(
        folder, seed=5, n_months=4, births_per_month=90, scenario=scenario, units=units
    )
    for unit in units:
        for path in written.exports[unit.id].iterdir():
            with_people(path, unit)
    return written.exports


@pytest.fixture(scope="module")
def exports(once: Once) -> dict[str, Path]:
    return once("layouts", make_exports)


Drafted = Callable[[Path], UnitDraft]


@pytest.fixture(scope="module")
def drafted(exports: dict[str, Path]) -> Drafted:
    kept: dict[str, UnitDraft] = {}

    def of(layout: Path) -> UnitDraft:
        if layout.stem not in kept:
            kept[layout.stem] = read_draft(exports[layout.stem])
        return kept[layout.stem]

    return of


def test_examples_of_the_words() -> None:
    for module in (fits, name_match):
        assert doctest.testmod(module).failed == 0


def test_there_are_six_layouts_in_four_languages() -> None:
    told = [path.read_text(encoding="utf-8").split(".")[1].split(",")[0] for path in LAYOUTS]
    assert len(LAYOUTS) == 6
    assert {one.strip() for one in told} == {"English", "German", "French", "Spanish"}


@pytest.mark.slow
@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda path: path.stem)
def test_most_is_proposed_and_nothing_wrong_is_sure(layout: Path, drafted: Drafted) -> None:
    unit = read_unit(layout)
    found = score(unit, drafted(layout))
    print(f"\n{unit.id}: {found.right} of {found.needed} ({found.share:.0%}), not {found.missing}")
    assert found.share >= 0.70
    assert found.surely_wrong == []
    assert len(found.wrong) <= 1, found.wrong


@pytest.mark.slow
@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda path: path.stem)
def test_no_word_is_given_a_wrong_meaning(layout: Path, drafted: Drafted) -> None:
    assert wrong_words(read_unit(layout), drafted(layout)) == []


@pytest.mark.slow
@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda path: path.stem)
def test_no_name_no_sentence_and_no_value_is_copied(layout: Path, exports: dict[str, Path]) -> None:
    text, _ = draft(layout.stem, exports[layout.stem])
    assert tomllib.loads(text)["id"] == layout.stem
    secrets = [word for one in (*NURSES, *SENTENCES, "Querlind") for word in one.split()]
    known = {"mother", "Kind,", "about", "her", "again", "bleibt", "beim", "asked", "kommt"}
    copied = [one for one in secrets if one not in known and one in text]
    assert copied == []
    assert text.count("Signed by") <= 2 * len(list(exports[layout.stem].iterdir()))
    # No key, no clock time and no date of anybody.
    keys = [one for one in _keys(read_unit(layout), exports[layout.stem]) if one in text]
    assert keys == []
    assert re.findall(r"\d{1,2}:\d{2}|\d{1,2}[./]\d{1,2}[./]\d{2,4}", _but_date(text)) == []


@pytest.mark.slow
def test_the_guard_refuses_what_was_added_and_nothing_else(exports: dict[str, Path]) -> None:
    """Some 300 columns that no rule was made by: those of people and sentences alone are named."""
    found: dict[str, set[str | None]] = {}
    for layout in LAYOUTS:
        unit = read_unit(layout)
        keys = {take.sources["record_id"].columns for file in unit.files for take in file.takes}
        for shape in read_shapes(exports[unit.id]):
            for local in shape.columns:
                if local.names not in keys:
                    found.setdefault(local.names[0], set()).add(local.identifies)
    refused = {name: rules for name, rules in found.items() if rules != {None}}
    assert len(found) > 150
    assert refused.pop("Comment") <= {"free_text", None}, "sentences that every export has here"
    assert refused == {"Signed by": {"name"}, "Surname": {"name"}, "Remarks": {"free_text"}}


def _but_date(text: str) -> str:
    return "\n".join(text.splitlines()[1:])  # the first line has the day of the draft


def _keys(unit: Unit, folder: Path) -> set[str]:
    spec = unit.files[0]
    path = next(folder.glob(spec.pattern))
    with path.open(encoding="utf-8-sig" if spec.encoding == "utf-8" else spec.encoding) as file:
        rows = csv.DictReader(file, delimiter=spec.delimiter)
        key = spec.takes[0].sources["record_id"].columns[0]
        return {str(row[key]) for row in rows}


def small(folder: Path, header: list[str], row: Callable[[int], list[str]], n: int = 60) -> Path:
    folder.mkdir(exist_ok=True)
    lines = [",".join(header), *(",".join(row(place)) for place in range(n))]
    (folder / "births.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


def level_of(made: UnitDraft, column: str) -> str | None:
    return next((one.level for _, _, one in made.proposals if one.column == column), None)


def test_minutes_counted_from_something_else_are_asked(tmp_path: Path) -> None:
    header = ["Key", "Birth month", "Temp 1", "Temp 1 min after arrival"]
    made = read_draft(
        small(
            tmp_path / "in",
            header,
            lambda n: [f"K{n}", "2026-01", f"36.{n % 9}", str(20 + n % 30)],
        )
    )
    asked = [one for _, _, one in made.proposals if one.locals == (header[3],)]
    assert [one.level for one in asked] in ([], ["ask"])
    assert level_of(made, "value") == "sure"


@pytest.mark.parametrize(
    ("name", "cell", "unit", "level"),
    [
        ("Weight", "3{n:03}", "g", "sure"),
        ("Weight", "3.{n:03}", "kg", "sure"),
        ("Weight", "7.{n:03}", "[lb_av]", "sure"),
        ("Weight lb", "3.{n:03}", None, "ask"),  # the name and the content do not agree
        ("Weight", "36.{n:03}", None, "ask"),
    ],
)
def test_the_unit_of_a_weight_by_its_range(
    tmp_path: Path, name: str, cell: str, unit: str | None, level: str
) -> None:
    made = read_draft(
        small(
            tmp_path / "in",
            ["Key", "Birth month", name],
            lambda n: [f"K{n}", "2026-01", cell.format(n=100 + 13 * n)],
        )
    )
    found = [one for _, _, one in made.proposals if one.column == "weight_g"]
    assert [(one.unit, one.level) for one in found] == [(unit, level)]


def test_a_day_before_the_thirteenth_does_not_choose_the_order(tmp_path: Path) -> None:
    """Every day and month could be the other: the person is asked, and no form is set."""
    folder = small(
        tmp_path / "in",
        ["Key", "Born at"],
        lambda n: [f"K{n}", f"{1 + n % 12:02}/{1 + n % 11:02}/2026 07:{n % 60:02}"],
    )
    text, _ = draft("a", folder)
    assert "formats" not in tomllib.loads(text)["time"]
    assert '# formats = ["%d/%m/%Y %H:%M", "%m/%d/%Y %H:%M"]  # ask' in text


def test_letters_of_a_sex_that_mean_two_things_are_asked(tmp_path: Path) -> None:
    """M is mujer beside H (hombre), and male beside F."""
    for other, level in (("H", "ask"), ("F", "sure")):
        made = read_draft(
            small(
                tmp_path / other,
                ["Key", "Birth month", "Sexo"],
                lambda n, other=other: [f"K{n}", "2026-01", other if n % 2 else "M"],  # type: ignore[misc]
            )
        )
        assert level_of(made, "sex") == level


def test_a_first_line_that_is_a_record_is_refused_without_a_value(tmp_path: Path) -> None:
    cells = ["QZ81234", "03.02.2026 07:05", "weiblich", "3410", "Brixlund"]
    folder = small(tmp_path / "in", cells, lambda n: [f"QZ8{n:04}", *cells[1:]])
    with pytest.raises(ExportError, match="the first line looks like a record") as caught:
        read_draft(folder)
    assert not any(cell in str(caught.value) for cell in cells)
    words = ["Brixlund", "Zora", "weiblich", "ja"]
    folder = small(tmp_path / "words", words, lambda n: [f"Name{n}", "Zora", "weiblich", "ja"])
    with pytest.raises(ExportError, match="the first line looks like a record"):
        read_draft(folder)

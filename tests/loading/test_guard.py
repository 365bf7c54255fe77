"""The identifier guard: what looks like an identifier is refused before anything is stored."""

import csv
import doctest
import hashlib
import hmac
from collections.abc import Callable
from pathlib import Path

import pytest

from pipelines.base.errors import DeclarationError, ExportError
from pipelines.base.store_file import open_store
from pipelines.build.every_stage import BuildSummary, build_store
from pipelines.definitions import identifiers as rules
from pipelines.definitions import local_words, safe_to_say
from pipelines.definitions.identifiers import RULES, looks_like_record_numbers, rule_of
from pipelines.definitions.read_units import UNITS_DIR, Unit, read_unit
from tests.loading.generated_columns import Generated, harmless, identifiers

KEY = "0f1e2d3c4b5a69788796a5b4c3d2e1f0"
SEEDS = range(1, 4)


@pytest.mark.parametrize("module", [rules, local_words, safe_to_say])
def test_examples_of_the_words(module: object) -> None:
    assert doctest.testmod(module).failed == 0  # type: ignore[arg-type]


def found_in(columns: list[Generated]) -> list[tuple[Generated, str | None]]:
    return [(one, rule_of(one.name, set(one.texts))) for one in columns]


def table(found: list[tuple[Generated, str | None]]) -> str:
    """Return columns refused by kind, and the places where one was not, for a person to read."""
    lines = [f"{'identifier':26} {'columns':>7} {'refused':>7}  not in"]
    for what in dict.fromkeys(one.what for one, _ in found):
        mine = [(one, rule) for one, rule in found if one.what == what]
        missed = ", ".join(one.locale for one, rule in mine if rule is None)
        refused = sum(rule is not None for _, rule in mine)
        lines.append(f"{what:26} {len(mine):7} {refused:7}  {missed}")
    return "\n".join(lines)


@pytest.mark.slow
def test_recall_on_generated_identifiers_whatever_the_column_is_called() -> None:
    """At least 98 %. Postcodes of four digits (Austria, Switzerland) look like weights in grams;
    only the column's name tells them, and here it says nothing."""
    found = found_in([one for seed in SEEDS for one in identifiers(seed)])
    print(f"\n{table(found)}")
    recall = sum(rule is not None for _, rule in found) / len(found)
    assert recall >= 0.98
    assert {one.what for one, rule in found if rule is None} <= {"postcode", "staff"}


@pytest.mark.slow
def test_recall_by_kind_where_the_name_says_it() -> None:
    from tests.loading.generated_columns import ONE_BY_ONE

    for one in identifiers(9):
        name = ONE_BY_ONE[one.what][1] if one.what in ONE_BY_ONE else "Nurse"
        assert rule_of(name, set(one.texts)) in RULES, (one.what, one.locale)


def test_at_most_two_percent_of_harmless_columns_are_refused() -> None:
    found = found_in([one for seed in SEEDS for one in harmless(seed)])
    refused = [(one.name, rule) for one, rule in found if rule]
    print(f"\n{len(found)} harmless columns, refused: {refused or 'none'}")
    assert len(found) > 200
    assert len(refused) <= 0.02 * len(found)


@pytest.mark.parametrize(
    ("name", "texts", "rule"),
    [
        ("Study key", ["QE00414", "QE00415"], None),
        ("Key", ["K1", "K2"], None),
        ("Key", [hashlib.sha256(b"1").hexdigest(), hashlib.sha256(b"2").hexdigest()], None),
        ("Key", ["550e8400-e29b-41d4-a716-446655440000"], None),
        ("Key", ["10304050", "10304051"], "record_number"),
        ("Fallnummer", ["10304", "10305"], "record_number"),
        ("Key", ["MRN-1030405", "MRN-1030406"], "record_number"),
        ("Key", ["Anna Beispiel", "Berta Beispiel"], "name"),
        ("Key", ["a@b.example", "c@b.example"], "mail"),
    ],
)
def test_keys(name: str, texts: list[str], rule: str | None) -> None:
    assert looks_like_record_numbers(name, texts) == rule


Build = Callable[..., BuildSummary]


@pytest.fixture
def load(exports: Path, tmp_path: Path) -> Build:
    """Build the small clean export with further lines in the unit's file."""

    def run(more: str = "", change: Callable[[str], str] = lambda text: text) -> BuildSummary:
        text = (UNITS_DIR / "quillmere.toml").read_text(encoding="utf-8")
        path = tmp_path / "quillmere.toml"
        path.write_text(change(text) + more, encoding="utf-8")
        return build_store([(unit_of(path), exports)], tmp_path / "store.duckdb")

    return run


def unit_of(path: Path) -> Unit:
    return read_unit(path)


def rekey(folder: Path, key: Callable[[str], str]) -> None:
    """Give every newborn another key, in every file."""
    for path in folder.glob("*.csv"):
        rows = list(csv.reader(path.read_text(encoding="utf-8").splitlines()))
        changed = [rows[0], *([key(row[0]), *row[1:]] for row in rows[1:])]
        with path.open("w", encoding="utf-8", newline="") as out:
            csv.writer(out).writerows(changed)


def numbers(key: str) -> str:
    return f"1030405{key.removeprefix('A')}"


def test_eight_digit_keys_are_refused_and_no_value_is_said(load: Build, exports: Path) -> None:
    rekey(exports, numbers)
    with pytest.raises(ExportError) as caught:
        load()
    said = str(caught.value)
    assert "newborns.csv: column 'Study key' looks like record numbers (rule record_number)" in said
    assert "key_file" in said
    assert "1030405" not in said
    assert not (exports.parent / "store.duckdb").exists()


@pytest.mark.build
def test_a_key_may_be_replaced_by_a_keyed_hash(load: Build, exports: Path, tmp_path: Path) -> None:
    """HMAC with SHA-256 (RFC 2104), worked out again by Python's own hmac."""
    rekey(exports, numbers)
    (tmp_path / "keys").mkdir()
    (tmp_path / "keys" / "unit.key").write_text(KEY + "\n", encoding="utf-8")
    summary = load('\n[identifiers]\nkey_file = "keys/unit.key"\n')
    with open_store(summary.store) as store:
        kept = {row[0] for row in store.execute("select record_id from newborn").fetchall()}
        readings = store.execute("select count(*) from event").fetchone()
    keys = [numbers(f"A{n}") for n in (1, 2, 3)]
    expected = {hmac.new(KEY.encode(), one.encode(), hashlib.sha256).hexdigest() for one in keys}
    assert kept == {one[:20] for one in expected}
    assert readings and readings[0] >= 7, "the other files' rows find their newborn"
    content = summary.store.read_bytes()
    assert not any(one.encode() in content for one in keys)


@pytest.mark.parametrize(
    ("content", "place", "words"),
    [
        (None, "keys/unit.key", "there is no file unit.key"),
        ("short", "keys/unit.key", "5 bytes are too short"),
        (KEY, "exports/unit.key", "lies among the exports"),
    ],
)
def test_a_key_that_cannot_be_used(
    load: Build, exports: Path, content: str | None, place: str, words: str
) -> None:
    path = exports.parent / place
    path.parent.mkdir(exist_ok=True)
    if content is not None:
        path.write_text(content, encoding="utf-8")
    with pytest.raises(DeclarationError, match=words):
        load(f'\n[identifiers]\nkey_file = "{place}"\n')


@pytest.mark.build
def test_a_column_is_kept_where_the_unit_says_why(load: Build, exports: Path) -> None:
    rekey(exports, numbers)
    allow = '\n[[identifiers.allow]]\ncolumn = "Study key"\nrule = "record_number"\nreason = "{}"\n'
    assert load(allow.format("Numbers of a study list, drawn for this export.")).newborns == 3
    with pytest.raises(DeclarationError, match=r"identifiers\.allow\[1\]: give the reason"):
        load(allow.format("ok"))
    with pytest.raises(DeclarationError, match=r"rule 'record_numbr' is not known\. Did you mean"):
        load(allow.replace("record_number", "record_numbr").format("drawn for this export"))
    with pytest.raises(ExportError, match="rule record_number"):
        load(allow.replace("Study key", "Other").format("drawn for this export"))


def surnames(folder: Path, header: str, *, named: bool) -> None:
    """Put a made-up surname beside every newborn, in a column of its own or in a mapped one."""
    path = folder / "newborns.csv"
    names = ["Aberle-Quint, Zora", "Brixlund, Tilde", "Corvanth, Ymke"]
    lines = path.read_text(encoding="utf-8").splitlines()
    rest = [f'{line},"{name}"' for line, name in zip(lines[1:], names, strict=True)]
    path.write_text("\n".join([f"{lines[0]},{header}", *rest]) + "\n", encoding="utf-8")
    assert named == (header == "Language")


def test_names_in_a_mapped_column_are_refused(load: Build, exports: Path) -> None:
    surnames(exports, "Language", named=True)
    with pytest.raises(ExportError) as caught:
        load()
    assert "column 'Language' looks like names of people (rule name)" in str(caught.value)
    assert "Aberle" not in str(caught.value)


@pytest.mark.build
def test_names_that_nobody_maps_are_left_out_and_told(load: Build, exports: Path) -> None:
    surnames(exports, "Mother", named=False)
    summary = load()
    note = str(summary.files.set_index("source_file").loc["newborns.csv", "note"])
    assert "'Mother' is not used and looks like names of people: leave it out" in note
    assert b"Aberle" not in summary.store.read_bytes()

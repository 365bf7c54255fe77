"""The command line as a person uses it: words out, its own exit codes, nothing half-written."""

from pathlib import Path

import pytest

from pipelines.cli import main
from tests.conftest import Built


def run(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    code = main([str(word) for word in words])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


@pytest.mark.parametrize(
    "verb",
    [
        *("demo", "build", "review", "quality", "fair", "worklist", "flags", "release"),
        *("restated", "measures", "new-measure", "dictionary"),
    ],
)
def test_help_teaches(capsys: pytest.CaptureFixture[str], verb: str) -> None:
    with pytest.raises(SystemExit) as stop:
        main([verb, "--help"])
    assert stop.value.code == 0
    assert len(capsys.readouterr().out.splitlines()) >= 6


def test_build_reconciles_and_names_the_next_step(
    capsys: pytest.CaptureFixture[str], clean: Built, tmp_path: Path
) -> None:
    store = tmp_path / "one.duckdb"
    code, out, err = run(
        capsys, "build", "--unit", "quillmere", "--exports", clean.exports["quillmere"],
        "--store", store,
    )  # fmt: skip
    assert code == 0
    assert "rows in =" in out
    assert "flags of severity error" in out
    assert f"lanugo review --store {store}" in out
    assert "reading quillmere" in err  # progress goes to the error stream


def test_dry_run_writes_nothing(
    capsys: pytest.CaptureFixture[str], clean: Built, tmp_path: Path
) -> None:
    store = tmp_path / "one.duckdb"
    code, out, _ = run(
        capsys, "build", "--unit", "tansy_ridge", "--exports", clean.exports["tansy_ridge"],
        "--store", store, "--dry-run",
    )  # fmt: skip
    assert code == 0
    assert "no store was written" in out
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (["build", "--unit", "quilmere", "--exports", "x"], 3, "no such unit file"),
        (["build", "--unit", "quillmere", "--exports", "nowhere"], 4, "no such folder"),
        (["review", "--store", "none.duckdb", "--unit", "quillmere"], 5, "there is no store"),
        (["measures", "vitamin_kk"], 3, "Did you mean 'vitamin_k'"),
        (["new-measure", "Bad Name"], 3, "cannot name a measure"),
        (["new-measure", "vitamin_k"], 3, "there is such a measure already"),
    ],
)
def test_mistakes_end_in_words_and_their_own_code(
    capsys: pytest.CaptureFixture[str], words: list[str], code: int, message: str
) -> None:
    found, _, err = run(capsys, *words)
    assert found == code
    assert message in err
    assert "Traceback" not in err


def test_unequal_units_and_exports(capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "build", "--unit", "quillmere", "--unit", "x", "--exports", ".")
    assert code == 2
    assert "give one folder of exports for each unit" in err


def test_measures_are_listed_and_one_is_shown(capsys: pytest.CaptureFixture[str]) -> None:
    _, listed, _ = run(capsys, "measures")
    assert "vitamin_k" in listed
    code, shown, _ = run(capsys, "measures", "vitamin_k")
    assert code == 0
    assert "FAIL" not in shown
    assert shown.count("\nok  ") >= 3


def test_a_new_measure_runs_at_once(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    from pipelines.definitions.read_measures import read_measure
    from pipelines.stages.measure.worked_examples import mismatches

    assert run(capsys, "new-measure", "first_bath", "--folder", tmp_path)[0] == 0
    measure = read_measure(tmp_path / "first_bath.sql")
    assert len(measure.examples) >= 1
    assert [mismatches(measure, example) for example in measure.examples] == [[]]

"""``lanugo change`` and ``lanugo plan`` as a person uses them."""

from pathlib import Path

import pytest

from pipelines.base.errors import LanugoError
from pipelines.cli import main
from pipelines.pages.change import plan as change_plan
from tests.pages.make_change import CHANGE, START_ON, UNIT, make_change_store


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_change_store(tmp_path_factory.mktemp("change") / "change.duckdb")


def test_the_log_is_listed(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["change", "--store", str(store), "--unit", UNIT, "--list"]) == 0
    said = capsys.readouterr().out
    assert CHANGE in said
    assert START_ON in said


def test_a_wrong_change_ends_in_words(
    store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "page.html"
    line = ["change", "--store", str(store), "--unit", UNIT, "--change", "x", "--out", str(out)]
    assert main(line) == 5
    assert "is not in the log" in capsys.readouterr().err
    assert not out.exists()


def test_a_plan_says_how_many_months(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    line = ["plan", "--store", str(store), "--unit", UNIT, "--measure", "first_temperature"]
    assert main([*line, "--points", "10"]) == 0
    said = capsys.readouterr().out
    assert "420 newborns a month" in said
    assert "months before" in said
    assert "side by side" in said


def test_a_plan_without_room_says_how_much_there_is(store: Path) -> None:
    with pytest.raises(LanugoError, match="can move by less than"):
        change_plan.read_plan(store, UNIT, "first_temperature", 20)


@pytest.mark.parametrize("points", ["0", "-3", "x", "nan", "inf"])
def test_points_must_be_a_number_above_0(points: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["plan", "--unit", UNIT, "--measure", "x", "--points", points])
    assert "above 0" in capsys.readouterr().err

"""The command writes exports and, apart from them, the ledger."""

from pathlib import Path

import pandas as pd
import pytest

from synthetic_data import LEDGER_COLUMNS, read_scenario, write_demo
from synthetic_data.__main__ import main


@pytest.mark.slow
def test_command_writes_exports_and_ledger(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code = main(["--out", str(tmp_path), "--months", "2", "--births-per-month", "30"])
    assert code == 0
    assert "tansy_ridge" in capsys.readouterr().out
    assert sorted(path.name for path in tmp_path.iterdir()) == ["exports", "ledger"]
    ledger = pd.read_csv(tmp_path / "ledger" / "quillmere.csv")
    assert set(ledger.columns) == set(LEDGER_COLUMNS) - {"row"}
    assert ledger["source_line"].notna().all()
    assert not list((tmp_path / "exports").rglob("*ledger*"))


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--start", "November"], "write it as 2024-11"),
        (["--months", "0"], "whole number above 0"),
        (["--seed", "-1"], "seed"),
    ],
)
def test_a_mistyped_option_is_explained(
    given: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["--out", str(tmp_path), *given])
    assert stopped.value.code == 2
    assert said in capsys.readouterr().err


def test_an_unknown_unit_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--out", str(tmp_path), "--unit", "nowhere.toml"]) == 3
    assert "Shipped units: quillmere, tansy_ridge" in capsys.readouterr().err


def test_progress_is_told(tmp_path: Path) -> None:
    told: list[str] = []
    write_demo(tmp_path, 1, told.append, n_months=1, births_per_month=15)
    assert told[0] == "quillmere: drawing newborns"
    assert len(told) == 6


def test_own_numbers_over_the_scenario(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        "[births]\nstillborn = 0.5\n[sex]\nmale = 1.0\n[faults]\nweight_x10 = 0.5\n",
        encoding="utf-8",
    )
    scenario = read_scenario(own)
    assert scenario["births"]["stillborn"] == 0.5
    assert scenario["births"]["twin_pregnancies"] == read_scenario()["births"]["twin_pregnancies"]
    assert dict(scenario["sex"]) == {"male": 1.0}
    assert scenario["faults"]["weight_x10"] == 0.5
    assert scenario["faults"]["length_x10"] == read_scenario()["faults"]["length_x10"]
    own.write_text("[births]\nstilborn = 0.5\n", encoding="utf-8")
    code = main(["--out", str(tmp_path / "out"), "--scenario", str(own)])
    assert code == 3
    assert "Did you mean 'stillborn'" in capsys.readouterr().err

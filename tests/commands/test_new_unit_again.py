"""A draft made again over a file that someone has begun to complete: nothing of it is lost."""

import random
import tomllib
from pathlib import Path

import pytest

from pipelines.base.errors import DeclarationError
from pipelines.cli import main
from pipelines.drafts.unit import write_draft

HEADER = "Key,Born at,Weight g,Sex,Temp 1,Temp 1 at,Ward"
TIME = "03/{day:02}/2026 0{hour}:15"


def line(n: int, sex: str = "") -> str:
    born, taken = (TIME.format(day=13 + n % 15, hour=hour) for hour in (3, 4))
    word = sex or ("girl" if n % 2 else "boy")
    return f"K{n},{born},{3000 + 11 * n},{word},36.{n % 9},{taken},W{n % 3}"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    path = tmp_path / "in"
    path.mkdir()
    (path / "births.csv").write_text("\n".join([HEADER, *map(line, range(60))]), encoding="utf-8")
    return path


def is_within(lines: list[str], more: list[str]) -> bool:
    """Whether every line stands in ``more``, in this order."""
    rest = iter(more)
    return all(one in rest for one in lines)


def again(folder: Path, out: Path) -> tuple[list[str], list[str]]:
    before = out.read_text(encoding="utf-8").splitlines()
    _, was_there = write_draft("mine", folder, out)
    assert was_there
    return before, out.read_text(encoding="utf-8").splitlines()


def test_nothing_new_changes_nothing(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "mine.toml"
    write_draft("mine", folder, out)
    before, after = again(folder, out)
    assert after == before


def test_what_was_written_stays_and_what_is_missing_comes(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "mine.toml"
    write_draft("mine", folder, out)
    text = out.read_text(encoding="utf-8").replace('zone = ""', 'zone = "Europe/Berlin"')
    text = text.replace('"boy" = "male"', '"boy" = "unknown"  # what we agreed on')
    kept = [one for one in text.splitlines() if not one.startswith("weight_g = ")]
    # Another meaning for a column that the draft knows: it is not proposed a second time.
    kept = [one.replace('birth_time = "Born at"', 'arrival_minutes = "Born at"') for one in kept]
    out.write_text("\n".join([*kept, "", "[checks]", 'off = ["x"]', ""]), encoding="utf-8")
    before, after = again(folder, out)
    assert is_within(before, after)
    told = tomllib.loads("\n".join(after))
    columns = told["files"][0]["takes"][0]["columns"]
    assert columns["weight_g"] == {"from": "Weight g", "unit": "g"}
    assert "birth_time" not in columns
    assert told["recodes"]["sex"]["boy"] == "unknown"
    assert told["time"]["zone"] == "Europe/Berlin"
    assert told["checks"] == {"off": ["x"]}


def test_a_declined_proposal_is_not_made_again(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "mine.toml"
    write_draft("mine", folder, out)
    text = out.read_text(encoding="utf-8").replace("\nweight_g = ", "\n# weight_g = ")
    out.write_text(text, encoding="utf-8")
    before, after = again(folder, out)
    assert after == before


def test_new_files_columns_and_words_are_added(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "mine.toml"
    write_draft("mine", folder, out)
    rows = [f"{line(n, 'unknown' if n % 4 == 0 else '')},{45 + n % 8}" for n in range(80)]
    (folder / "births.csv").write_text("\n".join([f"{HEADER},Length cm", *rows]), encoding="utf-8")
    given = [f"K{n},phytonadione,given,{TIME.format(day=13 + n % 15, hour=5)}" for n in range(60)]
    head = "Key,Medicine,Action,Time"
    (folder / "doses.csv").write_text("\n".join([head, *given]), encoding="utf-8")
    before, after = again(folder, out)
    assert is_within(before, after)
    told = tomllib.loads("\n".join(after))
    assert [file["pattern"] for file in told["files"]] == ["births.csv", "doses.csv"]
    assert told["files"][0]["takes"][0]["columns"]["length_cm"]["from"] == "Length cm"
    assert told["recodes"]["sex"]["unknown"] == "unknown"
    take = told["files"][1]["takes"][0]
    assert (take["table"], take["columns"]["minutes"]) == ("dose", "Time")
    assert told["recodes"]["medicine"] == {"phytonadione": "vitamin_k"}


@pytest.mark.parametrize("seed", range(12))
def test_whatever_lines_are_taken_out_the_rest_stays(
    folder: Path, tmp_path: Path, seed: int
) -> None:
    """Sources are taken out at random: those left stay as they are, those gone come back."""
    out = tmp_path / "mine.toml"
    write_draft("mine", folder, out)
    whole = tomllib.loads(out.read_text(encoding="utf-8"))
    draw = random.Random(seed)
    lines = out.read_text(encoding="utf-8").splitlines()
    needed = ("record_id", "kind", "#")
    sources = [one for one in lines if ("  # sure" in one or "  # check" in one)]
    gone = {one for one in sources if not one.startswith(needed) and draw.random() < 0.5}
    if "value" in {one.split(" ")[0] for one in gone}:
        gone -= {one for one in gone if one.startswith("minutes")}  # one column names the take
    out.write_text("\n".join(one for one in lines if one not in gone) + "\n", encoding="utf-8")
    before, after = again(folder, out)
    assert is_within(before, after)
    assert tomllib.loads("\n".join(after))["files"] == whole["files"]
    assert again(folder, out)[1] == after


def test_a_file_that_cannot_be_read_is_left_alone(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "mine.toml"
    out.write_text("id = 'mine'\n[[files]\n", encoding="utf-8")
    with pytest.raises(DeclarationError, match=r"mine\.toml: .*not valid TOML.*nothing was"):
        write_draft("mine", folder, out)
    assert main(["new-unit", "mine", "--exports", str(folder), "--out", str(out)]) == 3
    assert "Traceback" not in capsys.readouterr().err
    assert out.read_text(encoding="utf-8") == "id = 'mine'\n[[files]\n"

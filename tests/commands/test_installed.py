"""Installed with pip, not editable, and used from another folder: nothing is missing."""

import json
import os
import re
import subprocess
import sys
import zipfile
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import pytest

from pipelines.cli import main
from pipelines.drafts import measure as drafts

ROOT = Path(__file__).parents[2]
PACKAGES = ("pipelines", "expectations", "synthetic_data", "notebooks")
LARKSPUR = ROOT / "tests" / "loading" / "larkspur.toml"
# Pictures stand in README alone.
NOT_SHIPPED = {".webp"}


def _tracked() -> set[str]:
    """Every file of the packages that git knows, by its path; what a build leaves is none of it."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", *PACKAGES],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if listed.returncode:
        pytest.skip("not a clone: there is no list of the files that belong here")
    return {name for name in listed.stdout.splitlines() if (ROOT / name).is_file()}


def _can_build() -> bool:
    """Whether this Python has a setuptools that is new enough; else pip fetches one."""
    try:
        return int(version("setuptools").partition(".")[0]) >= 77
    except PackageNotFoundError:
        return False


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of a copy of the tree, so that nothing is written into it."""
    folder = tmp_path_factory.mktemp("wheel")
    copy = folder / "tree"
    for name in {*_tracked(), "pyproject.toml", "README.md", "LICENSE"}:
        (copy / name).parent.mkdir(parents=True, exist_ok=True)
        (copy / name).write_bytes((ROOT / name).read_bytes())
    words = ["--no-deps", "-q", *(["--no-build-isolation"] if _can_build() else [])]
    command = [sys.executable, "-m", "pip", "wheel", *words, "-w", str(folder), str(copy)]
    subprocess.run(command, check=True, capture_output=True)
    (made,) = folder.glob("*.whl")
    return made


@pytest.mark.slow
def test_every_file_of_the_packages_is_in_the_wheel(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as packed:
        inside = set(packed.namelist())
    wanted = {name for name in _tracked() if Path(name).suffix not in NOT_SHIPPED}
    assert len([name for name in wanted if not name.endswith(".py")]) > 200
    assert wanted - inside == set()


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel's packages in a folder of their own; what they need is this Python's."""
    target = tmp_path_factory.mktemp("installed")
    command = [sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--target", str(target)]
    subprocess.run([*command, str(wheel)], check=True, capture_output=True)
    return target


class Away:
    """Runs verbs of the installed program in a folder that is no clone."""

    def __init__(self, target: Path, folder: Path) -> None:
        self.target, self.folder = target, folder

    def __call__(self, *words: str, module: str = "pipelines.cli", code: int = 0) -> str:
        done = subprocess.run(
            [sys.executable, "-m", module, *words],
            cwd=self.folder,
            env={**os.environ, "PYTHONPATH": str(self.target)},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == code, done.stderr[-2000:]
        return done.stdout + done.stderr

    def files(self) -> set[Path]:
        """What lies in the installed packages, but for what Python itself compiles."""
        return {path for path in self.target.rglob("*") if "__pycache__" not in path.parts}


@pytest.fixture(scope="module")
def away(installed: Path, tmp_path_factory: pytest.TempPathFactory) -> Away:
    return Away(installed, tmp_path_factory.mktemp("elsewhere"))


@pytest.mark.slow
def test_it_is_the_installed_program_that_runs(away: Away) -> None:
    where = subprocess.run(
        [sys.executable, "-c", "import pipelines; print(pipelines.__file__)"],
        cwd=away.folder, env={**os.environ, "PYTHONPATH": str(away.target)},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert Path(where.stdout.strip()).is_relative_to(away.target)


@pytest.mark.slow
def test_an_analyst_adds_a_measure_and_reads_its_page(away: Away) -> None:
    """From exports to a page with a measure of one's own; nothing in the program has moved."""
    before = away.files()
    away("--out", "made", "--unit", str(LARKSPUR), "--months", "2", "--births-per-month", "25",
         module="synthetic_data")  # fmt: skip
    text = LARKSPUR.read_text(encoding="utf-8").replace('id = "larkspur"', 'id = "my_unit"')
    (away.folder / "my_unit.toml").write_text(text, encoding="utf-8")

    said = away("new-measure", "first_bath", code=3)
    assert "an installed program is not edited" in said
    assert "--unit my_unit.toml" in said
    said = away("new-measure", "first_bath", "--unit", "my_unit.toml")
    assert "lanugo measures first_bath --unit my_unit.toml" in said
    assert (away.folder / "my_unit" / "measures" / "first_bath.sql").is_file()
    assert "\nok  " in away("measures", "first_bath", "--unit", "my_unit.toml")
    assert "vitamin_k" in away("measures")
    assert "dose_route" in away("rules")

    (exports,) = (away.folder / "made" / "exports").iterdir()
    away("build", "--unit", "my_unit.toml", "--exports", str(exports), "--store", "my.duckdb")
    away("review", "--store", "my.duckdb", "--unit", "my_unit", "--out", "page.html")
    assert "First bath" in (away.folder / "page.html").read_text(encoding="utf-8")
    away("dictionary", "--unit", "my_unit.toml", "--out", "dictionary.md")
    assert "`first_bath`" in (away.folder / "dictionary.md").read_text(encoding="utf-8")
    away("flags", "--store", "my.duckdb", "--unit", "my_unit")
    away("new-unit", "other", "--exports", str(exports))

    said = away("notebooks", "--out", "mine", "--store", "my.duckdb")
    assert "Next: jupyter lab mine" in said
    away(
        "nbconvert", "--to", "notebook", "--execute", "--output", "ran.ipynb", "mine/start.ipynb",
        module="jupyter",
    )  # fmt: skip
    assert away.files() == before


def test_notebooks_are_laid_ready_to_open(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a store: parameters of the demo's, links that end, and the next steps."""
    out = tmp_path / "mine"
    assert main(["notebooks", "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert f"Next: jupyter lab {out / 'start.ipynb'}" in said
    names = {path.name for path in out.iterdir()}
    assert names == {path.name for path in (ROOT / "notebooks").glob("*.ipynb")} | {"dictionary.md"}
    for path in out.glob("*.ipynb"):
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        source = "\n".join("".join(cell["source"]) for cell in cells)
        for link in re.findall(r"\]\(([^)#]+)", source):
            assert link.startswith("https://") or (out / link).is_file(), link
        stores = re.findall(r'^store = "(.*)"', source, re.M)
        if path.name != "extend_measures.ipynb":
            assert stores == [str(Path("demo/lanugo.duckdb").resolve())]
    before = {path: path.read_bytes() for path in out.iterdir()}
    assert main(["notebooks", "--out", str(out)]) == 5
    assert "holds something already" in capsys.readouterr().err
    assert {path: path.read_bytes() for path in out.iterdir()} == before


def test_notebooks_name_a_store_that_is_not_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["notebooks", "--out", str(tmp_path / "mine"), "--store", str(tmp_path / "no.duckdb")]
    assert main(words) == 5
    assert "there is no store" in capsys.readouterr().err
    assert not (tmp_path / "mine").exists()


def test_an_installed_program_is_not_written_into(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(drafts, "ROOMS", tmp_path / "site-packages" / "pipelines")
    assert main(["new-measure", "first_bath"]) == 3
    assert "--unit my_unit.toml" in capsys.readouterr().err
    assert not (drafts.MEASURES_DIR / "first_bath.sql").exists()


def test_new_measure_lies_beside_the_units_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    unit = tmp_path / "my_unit.toml"
    unit.write_text(LARKSPUR.read_text(encoding="utf-8"), encoding="utf-8")
    words = ["new-measure", "first_bath", "--unit", str(unit)]
    assert main(words) == 0
    assert f"lanugo measures first_bath --unit {unit}" in capsys.readouterr().out
    assert main(["measures", "first_bath", "--unit", str(unit)]) == 0
    assert "FAIL" not in capsys.readouterr().out
    assert main(words) == 3
    assert main(["new-measure", "vitamin_k", "--unit", str(unit)]) == 3
    assert capsys.readouterr().err.count("there is such a measure already") == 2
    assert main(["new-measure", "x", "--unit", str(tmp_path / "none.toml")]) == 3

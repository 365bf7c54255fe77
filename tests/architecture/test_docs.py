"""Documentation that is generated or checked, notebooks that stay thin, words that stay ours."""

import ast
import json
import re
import tomllib
from pathlib import Path

import pytest

from pipelines.base.store_file import open_store
from pipelines.definitions.published import column_meaning, public_names
from pipelines.definitions.read_measures import read_measures
from pipelines.drafts.dictionary import dictionary_text
from pipelines.drafts.measure_table import HEAD, SILENT, measure_table_text
from tests.conftest import Built
from tests.verbs import verbs

ROOT = Path(__file__).parents[2]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
BANNED = (ast.FunctionDef, ast.ClassDef, ast.For, ast.While, ast.Lambda)


def test_dictionary_is_current() -> None:
    committed = (ROOT / "pipelines" / "definitions" / "dictionary.md").read_text(encoding="utf-8")
    assert committed == dictionary_text(), (
        "run: lanugo dictionary --out pipelines/definitions/dictionary.md"
    )


def test_the_table_of_measures_is_current() -> None:
    committed = (ROOT / "pipelines" / "definitions" / "measures.md").read_text(encoding="utf-8")
    assert committed == measure_table_text(), (
        "run: lanugo dictionary --out pipelines/definitions/dictionary.md"
    )


def test_the_table_of_measures_says_all_of_every_measure() -> None:
    """Owner, limits, source, gravity and what makes it silent: no cell is empty."""
    lines = [line for line in measure_table_text().splitlines() if line.startswith("| `")]
    assert len(lines) == len(read_measures())
    for line in lines:
        cells = [cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]]
        empty = [name for name, cell in zip([*HEAD, SILENT], cells, strict=True) if not cell]
        # A measure may have no number at all: then there is no window to tell.
        assert empty in ([], ["window and limits"]), (line[:60], empty)


def test_every_public_column_has_a_meaning(clean: Built) -> None:
    with open_store(clean.store) as store:
        views = store.execute(
            "select table_name, column_name from information_schema.columns "
            "where table_schema = 'main' order by all"
        ).fetchall()
    assert {view for view, _ in views} == set(public_names())
    unwritten = [
        (view, name)
        for view, name in views
        if column_meaning(view, name) is None and view != "as_recorded"
    ]
    assert unwritten == []


def test_every_written_column_exists(clean: Built) -> None:
    with open_store(clean.store) as store:
        for view, spec in public_names().items():
            names = {row[0] for row in store.execute(f"describe {view}").fetchall()}
            columns = spec["columns"]
            assert isinstance(columns, dict)
            assert set(columns) <= names, view


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_notebook_is_thin_and_without_outputs(path: Path) -> None:
    notebook = json.loads(path.read_text(encoding="utf-8"))
    for cell in notebook["cells"]:
        if cell["cell_type"] != "code":
            continue
        assert not cell["outputs"]
        assert cell["execution_count"] is None
        source = "".join(cell["source"])
        tree = ast.parse(source)
        assert not [node for node in ast.walk(tree) if isinstance(node, BANNED)], source
        assert not re.search(r"\bselect\b.*\bfrom\b", source, re.I | re.S), source


def test_every_verb_is_in_a_guide() -> None:
    guides = (ROOT / "README.md").read_text() + (ROOT / "DEVELOPERS.md").read_text()
    assert {"demo", "build", "new-measure", "dictionary"} <= verbs()
    for verb in verbs():
        assert f"lanugo {verb}" in guides, verb


def test_readme_says_what_it_does_and_what_it_must_not_before_any_command() -> None:
    """The name, one paragraph on what goes in and what comes out, the caution; then the rest."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    opening, _, rest = text.partition("\n## ")
    title, job, *others = [part for part in opening.split("\n\n") if part.strip()]
    name = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["name"]
    assert title == f"# {name}"
    assert "\n" not in job.strip(), "one paragraph"
    assert {"newborn", "exports", "page", "synthetic"} <= set(re.findall(r"[a-z]+", job.lower()))
    assert any("never advises care" in one for one in others)
    assert "```" not in opening and "```" in rest


def test_every_picture_of_the_guide_is_there_small_and_said_in_words() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.findall(r"!\[(.*?)\]\((.*?)\)", text)
    assert len(shown) >= 4
    assert all(len(words) > 30 for words, _ in shown), "a picture says what it shows"
    linked = {ROOT / path for _, path in shown}
    assert linked == set((ROOT / "notebooks" / "pictures").iterdir())
    assert all(path.stat().st_size < 80_000 for path in linked)


def test_top_level_is_as_agreed() -> None:
    agreed = {
        "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "notebooks", "pipelines",
        "expectations", "tests", "synthetic_data",
    }  # fmt: skip
    made = {"build", "demo", "lanugo.egg-info", "__pycache__"}
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert found - made == agreed


def test_dependencies_are_named_without_hosts() -> None:
    spec = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    needed = spec["project"]["dependencies"] + spec["project"]["optional-dependencies"]["test"]
    assert all("://" not in line and "@" not in line for line in needed)
    for name in ("jupyterlab", "pandas", "altair", "duckdb", "great-expectations"):
        assert any(line.startswith(name) for line in spec["project"]["dependencies"]), name


def test_no_name_of_a_real_place_or_machine_path() -> None:
    """Fictional units only; nothing of one machine is committed."""
    bad = re.compile(r"(?<![\w./-])/(work|root|home|tmp)/\w")
    for folder in ("pipelines", "expectations", "synthetic_data", "notebooks", "tests"):
        for path in (ROOT / folder).rglob("*"):
            if path.suffix in {".py", ".sql", ".toml", ".ipynb", ".md", ".css", ".j2"}:
                assert not bad.search(path.read_text(encoding="utf-8")), path


def test_every_path_that_the_guides_name_is_there() -> None:
    for guide in ("README.md", "DEVELOPERS.md"):
        text = (ROOT / guide).read_text(encoding="utf-8")
        named = set(re.findall(r"`((?:pipelines|expectations|tests|notebooks)/[\w./*]+)`", text))
        assert len(named) > 1, guide
        gone = [path for path in named if not any(ROOT.glob(path.rstrip("/")))]
        assert gone == [], guide

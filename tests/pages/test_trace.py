"""Every number of an internal page can be traced: its foot names versions, files and build."""

import re
from collections.abc import Callable
from html import unescape
from pathlib import Path

import duckdb
import pytest

from tests.conftest import Built


@pytest.fixture
def store_of(
    request: pytest.FixtureRequest, fake_store: Path, clean: Built
) -> Callable[[str], Path]:
    def found(page: str) -> Path:
        return clean.store if page == "change_study" else fake_store

    return found


@pytest.mark.parametrize("page", ["fake_page", "fake_quality", "change_study"])
def test_the_foot_names_rule_set_software_files_and_build(
    page: str, store_of: Callable[[str], Path], request: pytest.FixtureRequest
) -> None:
    text = unescape(request.getfixturevalue(page).read_text(encoding="utf-8"))
    foot = text[text.index("Versions, files and build") :]
    said = dict(re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", foot, flags=re.DOTALL))
    with duckdb.connect(str(store_of(page)), read_only=True) as store:
        build = dict(store.execute("select key, value from build_info").fetchall())
        unit = "quillmere" if page == "change_study" else "fern_hollow"
        files = store.execute(
            "select source_file, content_hash from load_log where unit = ?", [unit]
        ).fetchall()
        (own,) = store.execute(
            "select unit_file_hash from unit_info where unit = ?", [unit]
        ).fetchone() or ("",)
    for key in ("software_version", "built_at", "rules_hash"):
        assert said[key.replace("_", " ").capitalize()] == build[key]
    assert said["Unit file hash"] == own
    assert files
    for name, content_hash in files:
        assert content_hash[:12] in said[name]


def test_the_foot_names_each_measure_with_its_version(fake_page: Path, fake_fair: Path) -> None:
    for page in (fake_page, fake_fair):
        text = unescape(page.read_text(encoding="utf-8"))
        foot = text[text.index("Versions, files and build") :]
        assert re.search(r"<dt>Measures</dt><dd>[^<]* 1\.0; ", foot), page.name

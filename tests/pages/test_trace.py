"""Every number of an internal page can be traced: its foot names versions, files and build."""

import re
from html import unescape
from pathlib import Path

import duckdb
import pytest

from tests.conftest import Built

from .make_store import UNIT


@pytest.mark.parametrize(
    ("page", "unit"),
    [("fake_page", UNIT), ("fake_quality", UNIT), ("change_study", "quillmere")],
)
def test_the_foot_names_rule_set_software_files_and_build(
    page: str, unit: str, fake_store: Path, clean: Built, request: pytest.FixtureRequest
) -> None:
    path = fake_store if unit == UNIT else clean.store
    text = unescape(request.getfixturevalue(page).read_text(encoding="utf-8"))
    foot = text[text.index("Versions, files and build") :]
    said = dict(re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", foot, flags=re.DOTALL))
    with duckdb.connect(str(path), read_only=True) as store:
        build = dict(store.execute("select key, value from build_info").fetchall())
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

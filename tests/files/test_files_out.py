"""The verb ``files``: whole or not at all, its manifest, its paper, its words when it cannot."""

import hashlib
import json
import os
import re
import shutil
import time
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import duckdb
import pypdf
import pytest

from pipelines.base.errors import LanugoError, StoreError
from pipelines.cli import main
from pipelines.files import formats, package, pdf
from pipelines.files.formats import Format, parse_kinds
from pipelines.files.plan import Plan, Wanted, Writing
from pipelines.files.write import plan, plan_lines, write_files
from pipelines.pages.review import read as review_read
from pipelines.pages.review.why import read as why_read
from pipelines.reading import judged, queries
from tests.pages.make_store import UNIT

from .conftest import MONTH, NOW, Out

POINTS = {"A4": (595.3, 841.9), "letter": (612.0, 792.0)}  # ISO 216 and ANSI Y14.1, 72 to an inch
only_posix = pytest.mark.skipif(os.name != "posix", reason="a small shell script is run")


def script(path: Path, text: str) -> str:
    path.write_text(f"#!/bin/sh\n{text}\n", encoding="utf-8")
    path.chmod(0o755)
    return str(path)


# The folder


def test_the_manifest_has_the_sum_of_every_file(out: Out) -> None:
    told = json.loads((out.folder / "manifest.json").read_text(encoding="utf-8"))
    sums = {one["path"]: one["sha256"] for one in told["files"]}
    there = {
        path.relative_to(out.folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in out.folder.rglob("*")
        if path.is_file() and path.name != "manifest.json"
    }
    assert sums == there
    assert told["unit"] == UNIT and told["month"] == MONTH
    assert told["software"].startswith("lanugo ")
    assert told["build"]["built_at"] == "2026-05-04 06:11:02"
    lists = {one["path"] for one in told["files"] if one["names_records"]}
    sheets = {out.page.name, out.meeting.name}
    assert sheets <= lists <= sheets | {out.pdf.name, out.meeting_pdf.name}


def test_the_read_me_says_where_it_may_go(out: Out) -> None:
    text = (out.folder / "README.txt").read_text(encoding="utf-8")
    assert "April 2026" in text and "lanugo " in text
    assert "stays inside the unit" in text and "'lanugo release'" in text
    assert f"  {out.page.name}\n" in text and "datapackage.json" in text
    assert "do not guide the care of one newborn" in text


def test_no_file_names_a_folder_of_this_machine(out: Out) -> None:
    for path in out.folder.rglob("*"):
        if path.is_file():
            content = path.read_bytes()
            assert str(out.folder.parent).encode() not in content, path.name
            assert str(out.store.parent).encode() not in content, path.name


def test_a_folder_that_holds_something_is_left_alone(hostile_store: Path, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(StoreError, match="holds something already"):
        plan(Wanted(hostile_store, UNIT, None, tmp_path, only=("tables",)))
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_a_folder_that_fills_meanwhile_is_left_alone(hostile_store: Path, tmp_path: Path) -> None:
    made = plan(Wanted(hostile_store, UNIT, None, tmp_path / "out", only=("tables",)))
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine.txt").write_text("mine")
    with pytest.raises(StoreError, match="holds something already"):
        write_files(made)
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["mine.txt", "out"]


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), StoreError("stopped")])
def test_a_failure_half_way_leaves_nothing(
    hostile_store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    def fail(*_: object) -> None:
        raise error

    monkeypatch.setattr(package, "write_package", fail)
    made = plan(Wanted(hostile_store, UNIT, None, tmp_path / "out", only=("tables", "data")))
    with pytest.raises(StoreError, match=r"No space left|stopped"):
        write_files(made)
    assert list(tmp_path.iterdir()) == []


def test_what_a_run_that_was_cut_off_left_is_named(hostile_store: Path, tmp_path: Path) -> None:
    made = plan(Wanted(hostile_store, UNIT, None, tmp_path / "out", only=("tables",)))
    left = tmp_path / ".out.part"
    left.mkdir()
    with pytest.raises(StoreError, match="If none is running, delete it"):
        write_files(made)
    assert list(tmp_path.iterdir()) == [left]


def test_an_empty_folder_is_filled(hostile_store: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    paths = write_files(plan(Wanted(hostile_store, UNIT, None, tmp_path / "out", only=("tables",))))
    assert all(path.is_file() for path in paths)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_store_that_changes_meanwhile_is_noticed(
    hostile_store: Path, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    store = Path(shutil.copy(hostile_store, tmp_path_factory.mktemp("again") / "store.duckdb"))
    made = plan(Wanted(store, UNIT, None, tmp_path / "out", only=("tables",)))
    with duckdb.connect(str(store)) as again:
        again.execute("update build_info set value = 'later' where key = 'built_at'")
    with pytest.raises(StoreError, match="built again while"):
        write_files(made)
    assert list(tmp_path.iterdir()) == []


# The formats


def test_the_review_is_read_once(
    hostile_store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    reads: list[str] = []
    real = queries.query

    def counted(store: Any, name: str, row: Any, **values: Any) -> Any:
        reads.append(name)
        return real(store, name, row, **values)

    for module in (review_read, why_read, judged):
        monkeypatch.setattr(module, "query", counted)
    write_files(plan(Wanted(hostile_store, UNIT, None, tmp_path / "out", only=("page", "tables"))))
    assert reads.count("reading/series") == reads.count("pages/review/why/states") == 1


def _lines(writing: Writing) -> Iterator[Path]:
    path = writing.folder / "lines.txt"
    path.write_text(f"{len(writing.plan.data.measures)} measures\n", encoding="utf-8")
    yield path


def test_a_format_is_one_row(
    hostile_store: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Plan, writing, manifest, the read-me and the help of the command follow from it."""

    def named(made: Plan, path: Path) -> bool:
        return made.about.with_records and path.name == "lines.txt"

    row = Format("lines", lambda made: f"lines.txt of {made.about.unit}", _lines, named)
    monkeypatch.setattr(formats, "FORMATS", [*formats.FORMATS, row])
    with pytest.raises(SystemExit):
        main(["files", "--help"])
    kinds = "page, pdf, meeting, meeting_pdf, mail, slides, charts, tables, data, mart, lines"
    assert kinds in " ".join(capsys.readouterr().out.split())
    only = parse_kinds("lines")
    for with_records in (False, True):
        out = tmp_path / f"out_{with_records}"
        wanted = Wanted(hostile_store, UNIT, None, out, only=only, with_records=with_records)
        made = plan(wanted)
        assert plan_lines(made) == [f"lines.txt of {UNIT}", "README.txt and manifest.json"]
        assert [path.name for path in write_files(made)] == [
            "lines.txt", "README.txt", "manifest.json",
        ]  # fmt: skip
        told = json.loads((out / "manifest.json").read_text(encoding="utf-8"))["files"]
        assert {one["path"]: one["names_records"] for one in told} == {
            "lines.txt": with_records,
            "README.txt": False,
        }
        assert f"  lines.txt of {UNIT}\n" in (out / "README.txt").read_text(encoding="utf-8")


# The paper


def test_the_pdf_is_the_page_on_a4_with_its_words_on_every_sheet(out: Out, browser: str) -> None:
    book = pypdf.PdfReader(out.pdf)
    assert len(book.pages) >= 3
    wide, high = POINTS["A4"]
    for number, sheet in enumerate(book.pages, start=1):
        assert float(sheet.mediabox.width) == pytest.approx(wide, abs=1)
        assert float(sheet.mediabox.height) == pytest.approx(high, abs=1)
        text = sheet.extract_text()
        assert "April 2026. lanugo " in text, number
        assert f"{number} of {len(book.pages)}" in text, number
    words = " ".join(" ".join(page.extract_text().split()) for page in book.pages)
    whole = unicodedata.normalize("NFKC", words)  # a font may write fi as one letter
    assert "Can the figures be trusted" in whole and "Records to look at" in whole
    assert "share not documented" in whole  # the words of a chart: charts are drawn on paper
    assert "onerror=" in whole  # the hostile name is text


def test_the_pdf_can_do_nothing(out: Out, browser: str) -> None:
    """No script, no launch, no link that leaves it (ISO 32000-2, 12.6: actions)."""
    book = pypdf.PdfReader(out.pdf)
    root = book.trailer["/Root"]
    assert "/OpenAction" not in root or "/JS" not in str(root["/OpenAction"])
    assert "/JavaScript" not in str(root.get("/Names"))
    for sheet in book.pages:
        for link in sheet.get("/Annots") or []:
            action = link.get_object().get("/A", {})
            assert action.get("/S") not in {"/URI", "/JavaScript", "/Launch"}, action


def test_a_chart_that_is_not_drawn_stops_the_pdf(tmp_path: Path, browser: str) -> None:
    page, printed = tmp_path / "page.html", tmp_path / "page.pdf"
    box = '<div class="chart"{}><div class="drawing"></div></div>'
    shape = "<!doctype html><html><head></head><body>{}</body></html>"
    page.write_text(shape.format(box.format(' data-drawn="yes"') + box.format("")))
    with pytest.raises(StoreError, match="1 of 2 charts were not drawn, so no PDF was written"):
        pdf.print_pdf(page, printed, browser=browser, paper="A4", foot="")
    assert not printed.exists()
    late = "<script>setTimeout(() => document.querySelector('.chart').dataset.drawn = 'yes', 9000)"
    page.write_text(shape.format(box.format("") + late + "</script>"))
    pdf.print_pdf(page, printed, browser=browser, paper="A4", foot="")
    assert len(pypdf.PdfReader(printed).pages) == 1


def test_letter_is_a_choice(tmp_path: Path, browser: str) -> None:
    page, printed = tmp_path / "page.html", tmp_path / "page.pdf"
    page.write_text("<!doctype html><html><head></head><body><p>one</p></body></html>")
    foot = 'A "unit"}</style><script>1</script> \\'
    pdf.print_pdf(page, printed, browser=browser, paper="letter", foot=foot)
    (sheet,) = pypdf.PdfReader(printed).pages
    assert float(sheet.mediabox.width) == pytest.approx(POINTS["letter"][0], abs=1)
    assert float(sheet.mediabox.height) == pytest.approx(POINTS["letter"][1], abs=1)
    assert foot in re.sub(r"\s+", " ", sheet.extract_text())


def no_browser(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "nothing").mkdir()
    monkeypatch.setenv("PATH", str(tmp_path / "nothing"))


def test_without_a_browser_the_rest_is_written_and_printing_is_explained(
    hostile_store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    no_browser(monkeypatch, tmp_path)
    made = plan(Wanted(hostile_store, UNIT, None, tmp_path / "out", paper="letter"))
    kinds = ("page", "meeting", "mail", "slides", "charts", "tables", "data")
    assert made.kinds == kinds
    words = " ".join(made.words)
    assert f"Print meeting_{UNIT}_{MONTH}.html in the same way" in words
    assert f"Open review_{UNIT}_{MONTH}.html in any browser" in words
    assert "'Save as PDF', paper letter" in words
    assert not any(".pdf" in line for line in plan_lines(made))


def test_without_a_browser_a_pdf_asked_for_by_name_is_refused(
    hostile_store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    no_browser(monkeypatch, tmp_path)
    with pytest.raises(StoreError, match="choose Print, then 'Save as PDF'"):
        plan(Wanted(hostile_store, UNIT, None, tmp_path / "out", only=("pdf",)))


def test_a_browser_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="no such program"):
        pdf.find_browser(str(tmp_path / "none"))


@only_posix
def test_a_browser_that_never_ends_is_stopped_with_what_it_started(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text("<html><head></head></html>")
    child = tmp_path / "child"
    slow = script(tmp_path / "slow", f"sleep 60 &\necho $! > '{child}'\nwait")
    begun = time.monotonic()
    with pytest.raises(StoreError, match="after 1 s and was stopped"):
        pdf.print_pdf(
            tmp_path / "page.html", tmp_path / "x.pdf",
            browser=slow, paper="A4", foot="", seconds=1,
        )  # fmt: skip
    assert time.monotonic() - begun < 6
    number = int(child.read_text())
    end = time.monotonic() + 5
    while is_running(number) and time.monotonic() < end:
        time.sleep(0.05)
    assert not is_running(number)
    assert not (tmp_path / "x.pdf").exists()


def is_running(number: int) -> bool:
    """Say whether a process still does anything; one that ended may wait to be collected."""
    status = Path(f"/proc/{number}/stat")
    if status.parent.parent.is_dir():
        return status.exists() and status.read_text().rsplit(")", 1)[1].split()[0] != "Z"
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    return True


@only_posix
@pytest.mark.parametrize("does", ["echo no sandbox >&2; exit 1", "exit 0"])
@pytest.mark.parametrize("opens", [False, True])
def test_a_browser_that_prints_nothing_is_an_error_in_words(
    tmp_path: Path, does: str, opens: bool
) -> None:
    (tmp_path / "page.html").write_text("<html><head></head></html>")
    first = 'case "$*" in *--dump-dom*) echo "<html><body></body></html>"; exit 0;; esac\n'
    bad = script(tmp_path / "bad", (first if opens else "") + does)
    said = "wrote no PDF" if opens else "did not open the page"
    with pytest.raises(StoreError, match=said) as stop:
        pdf.print_pdf(tmp_path / "page.html", tmp_path / "x.pdf", browser=bad, paper="A4", foot="")
    assert ("no sandbox" in str(stop.value)) == ("sandbox" in does)
    assert not (tmp_path / "x.pdf").exists()


@only_posix
def test_the_browser_gets_no_network_and_a_profile_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text("<html><head></head></html>")
    heard = tmp_path / "heard"
    fake = script(tmp_path / "fake", f"printf '%s\\n' \"$@\" > '{heard}'")
    with pytest.raises(StoreError):
        pdf.print_pdf(tmp_path / "page.html", tmp_path / "x.pdf", browser=fake, paper="A4", foot="")
    said = heard.read_text().splitlines()
    assert "--host-resolver-rules=MAP * ~NOTFOUND" in said
    (profile,) = (one for one in said if one.startswith("--user-data-dir="))
    assert not Path(profile.split("=", 1)[1]).exists()  # it went with its folder


# The command line


def run(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    code = main([str(word) for word in words])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


@pytest.fixture
def store_and_out(hostile_store: Path, tmp_path: Path) -> list[str | Path]:
    return ["--store", hostile_store, "--unit", UNIT, "--out", tmp_path / "out"]


def test_help_teaches(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        main(["files", "--help"])
    assert stop.value.code == 0
    said = capsys.readouterr().out
    for option in ("--only", "--paper", "--with-records", "--dry-run", "--month"):
        assert option in said


def test_a_dry_run_says_it_and_writes_nothing(
    capsys: pytest.CaptureFixture[str], hostile_store: Path, tmp_path: Path
) -> None:
    code, said, _ = run(
        capsys, "files", "--store", hostile_store, "--unit", UNIT, "--out", tmp_path / "out",
        "--only", "page,charts,tables,data", "--dry-run",
    )  # fmt: skip
    assert code == 0
    assert f"review_{UNIT}_{MONTH}.html" in said and "measures over time" in said
    assert "lists single records" in said and "nothing was written" in said
    assert "worklist" not in said and "membership" not in said
    assert list(tmp_path.iterdir()) == []


def test_a_run_shows_its_steps_and_where_it_may_go(
    capsys: pytest.CaptureFixture[str], hostile_store: Path, tmp_path: Path
) -> None:
    code, said, steps = run(
        capsys, "files", "--store", hostile_store, "--unit", UNIT, "--out", tmp_path / "out",
        "--only", "tables,data", "--month", "2026-03", "--with-records",
    )  # fmt: skip
    assert code == 0
    assert "writing the tables" in steps and "writing the data" in steps
    assert "Warning: these files hold one row for every newborn" in steps
    assert "stays inside the unit" in said and "files to" in said
    assert (tmp_path / "out" / "tables" / f"tables_{UNIT}_2026-03.xlsx").is_file()
    assert (tmp_path / "out" / "data" / "membership.parquet").is_file()


@pytest.mark.parametrize(
    ("more", "code", "message"),
    [
        ("--only pages", 2, "Did you mean 'page'"),
        ("--only ,", 2, "name some of"),
        ("--only tables --month 2031-01", 5, "holds births from"),
        ("--only pdf --browser nowhere", 5, "no such program"),
    ],
)
def test_mistakes_end_in_words_and_their_own_code(
    capsys: pytest.CaptureFixture[str],
    store_and_out: list[str | Path],
    more: str,
    code: int,
    message: str,
) -> None:
    found, _, err = run(capsys, "files", *store_and_out, *more.split())
    assert found == code
    assert message in err and "Traceback" not in err
    assert not Path(store_and_out[-1]).exists()


def test_kinds_are_read_in_their_own_order() -> None:
    assert parse_kinds("data, page") == ("page", "data")
    with pytest.raises(LanugoError):
        parse_kinds("paper")


def test_the_moment_is_said_once(hostile_store: Path, tmp_path: Path) -> None:
    made = plan(Wanted(hostile_store, UNIT, MONTH, tmp_path / "out", only=("tables",)), NOW)
    assert dict(made.about.facts())["written at"] == "2026-05-04 07:30 UTC"

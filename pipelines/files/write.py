"""The review of one unit and month as files: page, paper, charts, tables and data.

They are written into a new folder, whole or not at all. Nothing is masked: they stay inside.
"""

import datetime as dt
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pipelines.base.errors import LanugoError, StoreError, nearest
from pipelines.base.hashes import file_hash
from pipelines.base.whole_files import refuse_taken, whole_folder
from pipelines.files import pdf as printing
from pipelines.files.about import PAGE_LISTS, About, manifest, read_me
from pipelines.files.charts import write_charts
from pipelines.files.package import chosen_views, write_package
from pipelines.files.tables import spec, tables_of, write_csv_files
from pipelines.pages.review.read import ReviewData, read_review
from pipelines.pages.review.why.read import read_why

KINDS: Final = ("page", "pdf", "charts", "tables", "data")
Say = Callable[[str], None]


@dataclass(frozen=True)
class Wanted:
    """What is asked for. ``only``: some of KINDS, or None for all that this machine can make."""

    store: Path
    unit: str
    month: str | None
    out: Path
    only: Sequence[str] | None = None
    paper: str = "A4"
    browser: str | None = None
    with_records: bool = False


@dataclass(frozen=True)
class Plan:
    """What will be written, after store, unit, month, folder and browser have been looked at."""

    wanted: Wanted
    kinds: tuple[str, ...]
    browser: str | None
    data: ReviewData
    about: About
    words: tuple[str, ...]  # what the reader of the files should know

    @property
    def page_name(self) -> str:
        return f"review_{self.about.stem}.html"

    @property
    def pdf_name(self) -> str:
        return f"review_{self.about.stem}.pdf"


def parse_kinds(text: str) -> tuple[str, ...]:
    """Return the kinds of file in a list such as 'page,charts'.

    >>> parse_kinds("charts, page")
    ('page', 'charts')
    """
    named = [one.strip() for one in text.split(",") if one.strip()]
    for one in named:
        if one not in KINDS:
            raise LanugoError(f"--only: '{one}' is no kind of file.{nearest(one, KINDS)}")
    if not named:
        raise LanugoError(f"--only: name some of {', '.join(KINDS)}.")
    return tuple(kind for kind in KINDS if kind in named)


def _browser(wanted: Wanted, page_name: str) -> tuple[str | None, list[str]]:
    """Find the browser; where only it is missing, say how a person prints the page."""
    if wanted.only is not None and "pdf" not in wanted.only:
        return None, []
    found = printing.find_browser(wanted.browser)
    if found is not None:
        return found, []
    words = f"No PDF was made. {printing.by_hand(page_name, wanted.paper)}"
    if wanted.only is not None:
        raise StoreError(f"{words} Or leave pdf out of --only.")
    return None, [words]


def plan(wanted: Wanted, now: dt.datetime | None = None) -> Plan:
    """Look at everything that could stop the writing, before any of it is done.

    Raises StoreError where the folder holds something, the store, unit or month is not there,
    or a PDF was asked for by name and no browser is found.
    """
    refuse_taken(wanted.out)
    data = read_review(wanted.store, wanted.unit, wanted.month)
    about = About(
        unit=wanted.unit,
        title=data.title,
        month=data.month,
        build=data.build,
        made_at=now or dt.datetime.now(dt.UTC),
        with_records=wanted.with_records,
    )
    browser, words = _browser(wanted, f"review_{about.stem}.html")
    asked = wanted.only or KINDS
    kinds = tuple(kind for kind in KINDS if kind in asked and (kind != "pdf" or browser))
    if "page" in kinds or "pdf" in kinds:
        words.append(PAGE_LISTS)
    return Plan(wanted, kinds, browser, data, about, tuple(words))


def plan_lines(made: Plan) -> list[str]:
    """Say what would be written, one line for each kind of file."""
    drawn = made.data.series.dropna(subset="rate")["measure_id"].nunique()
    named = [
        name
        for name, told in spec()["tables"].items()
        if made.about.with_records or not told.get("names_records")
    ]
    views = chosen_views(made.about.with_records)
    told = {
        "page": made.page_name,
        "pdf": f"{made.pdf_name} ({made.wanted.paper}, printed by {Path(made.browser or '').stem})",
        "charts": f"charts/: {drawn} measures over time and the other pictures of the page, "
        "each as SVG and PNG",
        "tables": f"tables/: {', '.join(named)}, each as CSV, and one workbook (XLSX)",
        "data": f"data/: {', '.join(views)}, flag_count as Parquet, with datapackage.json",
    }
    return [*(told[kind] for kind in made.kinds), "README.txt and manifest.json"]


def _page_of(made: Plan, folder: Path, say: Say) -> Path:
    """Write the page into ``folder``; every chart and the PDF are made of it."""
    from pipelines.pages.review.page import render_review

    page = folder / made.page_name
    return render_review(made.wanted.store, made.about.unit, made.about.when, page, say)


def _from_page(made: Plan, folder: Path, say: Say) -> Iterator[Path]:
    """Write whatever is made of the page; the page itself stays only where it is wanted."""
    with tempfile.TemporaryDirectory(prefix="lanugo-page-") as scratch:
        is_kept = "page" in made.kinds
        page = _page_of(made, folder if is_kept else Path(scratch), say)
        if is_kept:
            yield page
        if "pdf" in made.kinds and made.browser:
            say("printing the page")
            printing.print_pdf(
                page,
                folder / made.pdf_name,
                browser=made.browser,
                paper=made.wanted.paper,
                foot=f"{made.about.line} Internal.",
            )
            yield folder / made.pdf_name
        if "charts" in made.kinds:
            say("drawing the charts")
            text = page.read_text(encoding="utf-8")
            yield from write_charts(text, folder / "charts", made.about, say)


def _tables(made: Plan, folder: Path, say: Say) -> Iterator[Path]:
    from pipelines.files.workbook import write_workbook

    say("writing the tables")
    missed = read_why(made.wanted.store, made.data)
    tables = tables_of(made.data, missed, made.about.with_records)
    yield from write_csv_files(tables, folder / "tables", made.about)
    name = f"tables_{made.about.stem}.xlsx"
    yield write_workbook(tables, folder / "tables" / name, made.about)


def _everything(made: Plan, folder: Path, say: Say) -> Iterator[Path]:
    if {"page", "pdf", "charts"} & set(made.kinds):
        yield from _from_page(made, folder, say)
    if "tables" in made.kinds:
        yield from _tables(made, folder, say)
    if "data" in made.kinds:
        say("writing the data")
        yield from write_package(made.wanted.store, folder / "data", made.about, say)


def _entry(path: Path, folder: Path, made: Plan) -> dict[str, Any]:
    name = path.relative_to(folder).as_posix()
    listed = {table for table, told in spec()["tables"].items() if told.get("names_records")}
    of_records = {*spec()["data"]["records"], *listed}
    lists = name in {made.page_name, made.pdf_name} or path.stem in of_records
    is_book = path.suffix == ".xlsx" and made.about.with_records
    return {
        "path": name,
        "bytes": path.stat().st_size,
        "sha256": file_hash(path),
        "names_records": lists or is_book,
    }


def write_files(made: Plan, progress: Say | None = None) -> list[Path]:
    """Write everything planned into the new folder and return the files, the manifest last.

    Raises StoreError where something cannot be written or drawn, or the store was built again
    meanwhile; the folder is then as it was.
    """
    say = progress or (lambda _: None)
    out = made.wanted.out
    with whole_folder(out) as folder:
        paths = list(_everything(made, folder, say))
        again = read_review(made.wanted.store, made.about.unit, made.about.when)
        if dict(again.build) != dict(made.about.build):
            raise StoreError(
                "the store was built again while its files were written; run it again."
            )
        read_me_path, list_path = folder / "README.txt", folder / "manifest.json"
        lines = "\n".join(f"  {line}" for line in plan_lines(made))
        words = [*made.words, f"What is here:\n{lines}"]
        read_me_path.write_text(read_me(made.about, words), encoding="utf-8")
        paths.append(read_me_path)
        entries = [_entry(path, folder, made) for path in paths]
        list_path.write_text(manifest(made.about, entries), encoding="utf-8")
        names = [path.relative_to(folder) for path in [*paths, list_path]]
    return [out / name for name in names]

"""The review of one unit and month as files: page, paper, charts, tables and data.

They are written into a new folder, whole or not at all. Nothing is masked: they stay inside.
"""

import datetime as dt
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pipelines.base.errors import StoreError
from pipelines.base.hashes import file_hash
from pipelines.base.store_file import open_store
from pipelines.base.whole_files import refuse_taken, whole_folder
from pipelines.files import formats
from pipelines.files import pdf as printing
from pipelines.files.about import PAGE_LISTS, About, manifest, read_me
from pipelines.files.plan import Plan, Say, Wanted, Writing
from pipelines.pages.review.page import open_review
from pipelines.reading.frames import BuildRow
from pipelines.reading.queries import query


def _browser(wanted: Wanted, stem: str) -> tuple[str | None, list[str]]:
    """Find the browser; where only it is missing, say how a person prints the page."""
    needing = [
        one
        for one in formats.FORMATS
        if one.needs_browser and (wanted.only is None or one.name in wanted.only)
    ]
    if not needing:
        return None, []
    found = printing.find_browser(wanted.browser)
    if found is not None:
        return found, []
    made = " and ".join(one.name for one in needing)
    first, *others = (f"{one.prints}_{stem}.html" for one in needing)
    words = f"No PDF was made. {printing.by_hand(first, wanted.paper)}"
    words += "".join(f" Print {one} in the same way." for one in others)
    if wanted.only is not None:
        raise StoreError(f"{words} Or leave {made} out of --only.")
    return None, [words]


def _refuse_records(wanted: Wanted) -> None:
    for one in formats.FORMATS:
        if one.needs_records and one.name in (wanted.only or ()) and not wanted.with_records:
            raise StoreError(
                f"{one.name} holds a row for every newborn and is written only with "
                f"--with-records. Add that, or leave {one.name} out of --only."
            )


def plan(wanted: Wanted, now: dt.datetime | None = None) -> Plan:
    """Look at everything that could stop the writing, before any of it is done.

    Raises StoreError where the folder holds something, the store, unit or month is not there,
    or a PDF was asked for by name and no browser is found.
    """
    refuse_taken(wanted.out)
    _refuse_records(wanted)
    page = open_review(wanted.store, wanted.unit, wanted.month)
    about = About(
        unit=wanted.unit,
        title=page.data.title,
        month=page.data.month,
        build=page.data.build,
        made_at=now or dt.datetime.now(dt.UTC),
        with_records=wanted.with_records,
    )
    browser, words = _browser(wanted, about.stem)
    wanted_formats = [
        one
        for one in formats.FORMATS
        if (wanted.only is None or one.name in wanted.only)
        and (browser or not one.needs_browser)
        and (wanted.with_records or not one.needs_records)
    ]
    if any(one.lists_records for one in wanted_formats):
        words.append(PAGE_LISTS)
    kinds = tuple(one.name for one in wanted_formats)
    return Plan(wanted, kinds, browser, page, about, tuple(words))


def chosen(made: Plan) -> list[formats.Format]:
    """Return the formats of a plan, in the order in which they are written."""
    return [one for one in formats.FORMATS if one.name in made.kinds]


def plan_lines(made: Plan) -> list[str]:
    """Say what would be written, one line for each kind of file."""
    return [*(one.words(made) for one in chosen(made)), "README.txt and manifest.json"]


def _entry(path: Path, folder: Path, names_records: bool) -> dict[str, Any]:
    return {
        "path": path.relative_to(folder).as_posix(),
        "bytes": path.stat().st_size,
        "sha256": file_hash(path),
        "names_records": names_records,
    }


def _everything(made: Plan, folder: Path, say: Say) -> Iterator[tuple[Path, bool]]:
    """Write every format; give each file, and whether it names single records."""
    with tempfile.TemporaryDirectory(prefix="lanugo-page-") as scratch:
        writing = Writing(made, folder, Path(scratch), say)
        for one in chosen(made):
            for path in one.write(writing):
                yield path, one.names_records(made, path.relative_to(folder))


def _build_now(made: Plan) -> Mapping[str, str]:
    with open_store(made.wanted.store) as store:
        build = query(store, "reading/build", BuildRow, unit=made.about.unit)
    return dict(zip(build["key"], build["value"], strict=True))


def write_files(made: Plan, progress: Say | None = None) -> list[Path]:
    """Write everything planned into the new folder and return the files, the manifest last.

    Raises StoreError where something cannot be written or drawn, or the store was built again
    meanwhile; the folder is then as it was.
    """
    say = progress or (lambda _: None)
    out = made.wanted.out
    with whole_folder(out) as folder:
        written = list(_everything(made, folder, say))
        if _build_now(made) != dict(made.about.build):
            raise StoreError(
                "the store was built again while its files were written; run it again."
            )
        read_me_path, list_path = folder / "README.txt", folder / "manifest.json"
        lines = "\n".join(f"  {line}" for line in plan_lines(made))
        words = [*made.words, f"What is here:\n{lines}"]
        read_me_path.write_text(read_me(made.about, words), encoding="utf-8")
        written.append((read_me_path, False))
        entries = [_entry(path, folder, names_records) for path, names_records in written]
        list_path.write_text(manifest(made.about, entries), encoding="utf-8")
        paths = [path.relative_to(folder) for path in [*(path for path, _ in written), list_path]]
    return [out / path for path in paths]

"""Every page of a store in one folder, and the index that leads to them.

Two processes write, each what shows the same data (a review and its meeting sheet) in one go;
all pages lead to one another and to the index, which is written last.
"""

from collections import defaultdict
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import replace
from multiprocessing.context import BaseContext
from pathlib import Path
from typing import Any, Final

from pipelines.base.errors import LanugoError, StoreError
from pipelines.base.whole_files import write_whole
from pipelines.pages.index.read import (
    INDEX,
    KINDS,
    Planned,
    Written,
    others_of,
    units_of,
)
from pipelines.pages.index.sections import index, stand_in
from pipelines.pages.shell.page import Opened, Other
from pipelines.pages.shell.render import Say

AT_ONCE: Final = 2


def _write(
    store: Path, pages: Sequence[tuple[Planned, Sequence[Other]]], out: Path
) -> list[Written]:
    """Read once what these pages show, and write them. One that cannot be had says why."""
    first, _ = pages[0]
    try:
        opened = KINDS[first.kind].open(store, first.unit, first.which)
    except StoreError as error:
        return [_instead(page, others, out, error) for page, others in pages]
    return [_write_one(opened, page, others, out) for page, others in pages]


def _write_one(opened: Opened[Any], page: Planned, others: Sequence[Other], out: Path) -> Written:
    own = replace(opened, others=others)
    try:
        KINDS[page.kind].write(own, out / page.file, lambda _: None)
    except StoreError as error:
        return _instead(page, others, out, error)
    return Written(page, own.page.head(own.data))


def _instead(page: Planned, others: Sequence[Other], out: Path, error: StoreError) -> Written:
    write_whole(out / page.file, stand_in(page, others, str(error)))
    return Written(page, None, str(error))


def _read_alike(pages: Sequence[Planned]) -> list[list[Planned]]:
    """Return the pages in groups that show the same data.

    What takes longest begins first, so that no process is left alone with it at the end.
    """
    groups: dict[object, list[Planned]] = defaultdict(list)
    for one in sorted(pages, key=lambda one: -KINDS[one.kind].weight):
        groups[KINDS[one.kind].open, one.unit, one.which].append(one)
    return list(groups.values())


def write_pages(
    store: Path, pages: Sequence[Planned], out: Path, workers: BaseContext, say: Say
) -> list[Path]:
    """Write these pages and the index into a folder, in which older ones are replaced.

    ``workers``: how processes start. Returns the paths, the index first. A page that cannot be
    had (a change whose measures the export does not record) says why in its place and in the
    index. Raises StoreError where a file cannot be written, LanugoError where there is no page.
    """
    if not pages:
        raise LanugoError("there is no page to write; name a unit of the store.")
    with ProcessPoolExecutor(max_workers=AT_ONCE, mp_context=workers) as pool:
        waiting = [
            pool.submit(_write, store, [(one, others_of(one, pages)) for one in group], out)
            for group in _read_alike(pages)
        ]
        done: dict[Planned, Written] = {}
        for group in as_completed(waiting):
            for one in group.result():
                done[one.page] = one
                say(f"page {len(done)} of {len(pages)}: {one.page.file}")
    write_whole(out / INDEX, index(units_of(store), [done[one] for one in pages]))
    return [out / INDEX, *(out / one.file for one in pages)]

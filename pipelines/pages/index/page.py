"""Every page of a store in one folder, and the index that leads to them.

A page is written by a process of its own, two at a time; all of them lead to one another and to
the index, which is written last.
"""

from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import replace
from multiprocessing.context import BaseContext
from pathlib import Path
from typing import Final

from pipelines.base.errors import LanugoError, StoreError
from pipelines.base.whole_files import write_whole
from pipelines.pages.index.read import INDEX, KINDS, Planned, Written, others_of, units_of
from pipelines.pages.index.sections import index, stand_in
from pipelines.pages.shell.page import Other
from pipelines.pages.shell.render import Say

AT_ONCE: Final = 2


def _write(store: Path, page: Planned, others: Sequence[Other], out: Path) -> Written:
    """Read and write one page. One that cannot be had says why in its place."""
    kind, file = KINDS[page.kind], out / page.file
    try:
        opened = replace(kind.open(store, page.unit, page.which), others=others)
        kind.write(opened, file, lambda _: None)
    except StoreError as error:
        write_whole(file, stand_in(page, others, str(error)))
        return Written(page, None, str(error))
    return Written(page, opened.page.head(opened.data))


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
        waiting = [pool.submit(_write, store, one, others_of(one, pages), out) for one in pages]
        for number, one in enumerate(as_completed(waiting), start=1):
            say(f"page {number} of {len(pages)}: {one.result().page.file}")
        written = [one.result() for one in waiting]
    write_whole(out / INDEX, index(units_of(store), written))
    return [out / INDEX, *(out / one.file for one in pages)]

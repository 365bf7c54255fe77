"""The files of a release: CSV tables, what is hidden and why; whole or not at all."""

import datetime as dt
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pipelines.base.errors import StoreError
from pipelines.base.hashes import file_hash
from pipelines.base.spreadsheets import csv_text
from pipelines.base.whole_files import whole_folder, write_whole
from pipelines.release.formats import FORMATS
from pipelines.release.ledger import ReleaseRefused, write_entry
from pipelines.release.made import Release
from pipelines.release.masking import KNOWING, hidden_words
from pipelines.words.caution import CLOSING


def write_release(release: Release, folder: Path, now: dt.datetime | None = None) -> list[Path]:
    """Enter the release in its ledger, then put its files into a new folder; return them.

    Files: results.csv, strata.csv, measures.csv, those of ``formats.FORMATS``, about.json,
    README.txt. Raises ReleaseRefused where the folder holds something already, or the ledger has
    grown since it was prepared.
    """
    moment = (now or dt.datetime.now(dt.UTC)).strftime("%Y-%m-%d %H:%M UTC")
    line = {**release.line, "released_at": moment}
    try:
        with whole_folder(folder) as beside:
            names = _write_files(release, beside, line)
            # First the ledger: a release that is entered and then cut off is known, not forgotten.
            if release.ledger is not None:
                write_entry(release.ledger, line, release.published, release.ledger_state)
    except StoreError as error:
        raise ReleaseRefused(str(error)) from None
    return [folder / name for name in names]


def _write_files(release: Release, folder: Path, line: Mapping[str, Any]) -> list[str]:
    names = []
    for name, frame in release.texts.items():
        if len(frame):
            rows = frame.to_numpy(object).tolist()
            write_whole(folder / f"{name}.csv", csv_text([*frame.columns], rows))
            names.append(f"{name}.csv")
    for one in FORMATS:
        write_whole(folder / one.file, one.text(release, line, folder))
        names.append(one.file)
    files = {name: file_hash(folder / name) for name in names}
    about = {**line, "hidden_words": hidden_words(release.rule.threshold), "files": files}
    write_whole(folder / "about.json", json.dumps(about, indent=2, sort_keys=True) + "\n")
    write_whole(folder / "README.txt", _read_me(release, line))
    return [*names, "about.json", "README.txt"]


def _read_me(release: Release, line: Mapping[str, Any]) -> str:
    k = release.rule.threshold
    zero = "A zero is shown" if release.rule.shows_zero else "A zero is hidden, even"
    paragraphs = [
        f"Results of {release.unit}, released {line['released_at']}.",
        f"'{hidden_words(k)}' stands where a count is 1 to {k - 1}, or where it would give such a "
        "count away by subtraction: from a total, from another period, or from an earlier release. "
        "Which of the two is not said, for that would help to work it out. A rate is hidden where "
        "its numerator, or what is left of its base after the numerator (not_in_numerator), is.",
        f"{zero} where at least {k} newborns stand behind it. An audit has shown of every hidden "
        f"count that what adds up (states, strata, periods) leaves it a range of at least {k}. "
        f"{KNOWING}",
        "; ".join(f"{one.file} {one.words}" for one in FORMATS) + ".",
        "Quarters at the edge hold only the months given by period_start and period_end. Newborns "
        "without a readable month of birth are in no row.",
        *release.words,
        CLOSING,
    ]
    return "\n\n".join(paragraphs) + "\n"

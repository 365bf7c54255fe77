"""The steps of the notebook on adding a measure: a folder of its own, the skeleton, its slips."""

import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from pipelines.base.errors import DeclarationError
from pipelines.definitions.measure_words import window_words
from pipelines.definitions.read_measures import MEASURES_DIR, read_measure, read_measures
from pipelines.drafts.measure import write_skeleton
from pipelines.stages.measure.explain import measure_list
from pipelines.stages.measure.worked_examples import mismatches

_folders: list[tempfile.TemporaryDirectory[str]] = []  # kept until the kernel stops


@dataclass(frozen=True)
class Text:
    """Plain text that a notebook shows as it is."""

    text: str

    def __repr__(self) -> str:
        return self.text


def new_folder() -> Path:
    """Return a folder of its own; it goes when the process ends."""
    folder = tempfile.TemporaryDirectory(prefix="lanugo-lesson-")
    _folders.append(folder)
    return Path(folder.name)


def write(measure_id: str, folder: Path) -> Path:
    """Write the skeleton of a measure into ``folder``. Raises DeclarationError as it does."""
    return write_skeleton(measure_id, folder)


def show(path: Path) -> Text:
    return Text(path.read_text(encoding="utf-8"))


def broken_copy(path: Path, old: str, new: str) -> Path:
    """Copy a measure beside itself with one text changed. Raises DeclarationError without it."""
    text = path.read_text(encoding="utf-8")
    if old not in text:
        raise DeclarationError(f"{path.name}: there is no '{old}' to change.")
    copy = path.with_name(f"{path.stem}_slip.sql")
    copy.write_text(text.replace(old, new, 1), encoding="utf-8")
    return copy


def run_examples(path: Path) -> Text:
    """Run a file's worked examples and say of each whether it holds, or what is wrong."""
    try:
        measure = read_measure(path)
    except DeclarationError as error:
        return Text(str(error))
    lines = []
    for example in measure.examples:
        wrong = mismatches(measure, example)
        because = " ".join(str(example["because"]).split())
        lines += [f"{'FAIL' if wrong else 'ok  '} {because}", *(f"     {one}" for one in wrong)]
    return Text("\n".join(lines))


def where_it_appears(path: Path) -> Text:
    """List the measures as the command line would with this file among the project's own."""
    with tempfile.TemporaryDirectory(prefix="lanugo-lesson-") as folder:
        among = Path(folder)
        for source in MEASURES_DIR.glob("*.sql"):
            shutil.copy(source, among)
        shutil.copy(path, among)
        measures = read_measures(among)
    new = measures[path.stem]
    listed = measure_list({new.id: new})
    return Text(
        f"{len(measures)} measures, this one among them:\n\n{listed}\n\n"
        f"In the review it stands under '{new.text('group')}'; its window: {window_words(new)}."
    )

"""The command line: few verbs, each of which says what it did and what comes next."""

import argparse
import sys
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path

from pipelines import delivery_verbs, verbs
from pipelines.base.errors import LanugoError
from pipelines.files.formats import names
from pipelines.words.caution import CLOSING


def _month(text: str) -> str:
    from pipelines.reading.months import parse_month

    try:
        return f"{parse_month(text):%Y-%m}"
    except LanugoError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


class _Verbs:
    """Adds verbs to the parser, with the options that several of them share."""

    def __init__(self, parser: argparse.ArgumentParser) -> None:
        self.group = parser.add_subparsers(dest="verb", required=True, metavar="VERB")

    def add(
        self, name: str, run: Callable[[argparse.Namespace], int], help_text: str, more: str = ""
    ) -> argparse.ArgumentParser:
        verb = self.group.add_parser(
            name,
            help=help_text,
            description=f"{help_text[0].upper()}{help_text[1:]}. {more}",
        )
        verb.set_defaults(run=run)
        return verb

    def of_a_unit(
        self, name: str, run: Callable[[argparse.Namespace], int], help_text: str, more: str = ""
    ) -> argparse.ArgumentParser:
        verb = self.add(name, run, help_text, more)
        verb.add_argument("--store", type=Path, default=Path("lanugo.duckdb"), metavar="FILE")
        verb.add_argument("--unit", required=True, metavar="ID")
        return verb

    def page(
        self, name: str, run: Callable[[argparse.Namespace], int], help_text: str, more: str = ""
    ) -> argparse.ArgumentParser:
        verb = self.of_a_unit(name, run, help_text, more)
        verb.add_argument("--out", type=Path, metavar="FILE")
        verb.add_argument("--open", action="store_true", help="open the page when it is written")
        return verb


def _points(text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = 0.0
    if not 0 < number < float("inf"):
        raise argparse.ArgumentTypeError(f"'{text}' must be a number above 0")
    return number


def _count(text: str) -> int:
    if not text.isdigit() or not 6 <= int(text) <= 120:
        raise argparse.ArgumentTypeError(f"'{text}' must be a whole number from 6 to 120")
    return int(text)


def _threshold(text: str) -> int:
    from pipelines.release.masking import LOWEST_THRESHOLD

    if not text.isdigit() or int(text) < LOWEST_THRESHOLD:
        raise argparse.ArgumentTypeError(
            f"'{text}' must be a whole number from {LOWEST_THRESHOLD} on"
        )
    return int(text)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="lanugo",
        description="From a unit's raw newborn admission export to a page a nurse manager reads.",
        epilog=(
            "Start with 'lanugo demo'. For your own unit 'lanugo new-unit' drafts its file: "
            f"say which column is what, then 'lanugo build --dry-run'. {CLOSING}"
        ),
    )
    group = _Verbs(parser)
    _add_making(group)
    delivery_verbs.add_verbs(group, _month)
    _add_pages(group)
    _add_lists(group)
    _add_measures(group)
    return parser


def _add_making(group: _Verbs) -> None:
    demo = group.add(
        "demo",
        verbs.demo,
        "run the whole path on synthetic data and open the page",
        "Writes exports, a store and pages into a folder; nothing leaves this machine.",
    )
    demo.add_argument("--out", type=Path, default=Path("demo"), help="folder (default: demo)")
    demo.add_argument("--seed", type=int, default=20261031, help="same seed, same newborns")
    demo.add_argument("--no-open", dest="open", action="store_false", help="do not open the page")
    new = group.add(
        "new-unit",
        verbs.new_unit,
        "write a draft of a unit's file from its exports",
        "It says how the files are written and proposes what each column is, from names in several "
        "languages and from content, with how sure and why. Someone who knows the exports "
        "completes it; run again, it adds what is new and keeps what was written.",
    )
    new.add_argument("unit", help="id: lower-case letters, digits, underscores")
    new.add_argument("--exports", required=True, type=Path, metavar="FOLDER")
    new.add_argument("--out", type=Path, metavar="FILE", help="default: the id with .toml")
    build = group.add(
        "build",
        delivery_verbs.build,
        "build a store from unit files and folders of exports",
        "The store is replaced only when everything succeeded, and never loses units or months "
        "that it holds unless you say --drop. Give --unit and --exports once for each unit. In a "
        "store with deliveries ('lanugo add') a build takes the place of all earlier ones of its "
        "unit; without --exports all of them are read again, by the unit's file of now. "
        "Example: lanugo build --unit my_unit.toml --exports in/ --store my.duckdb",
    )
    build.add_argument("--unit", action="append", required=True, metavar="ID_OR_FILE")
    build.add_argument("--exports", action="append", type=Path, metavar="FOLDER")
    build.add_argument("--store", type=Path, default=Path("lanugo.duckdb"), metavar="FILE")
    build.add_argument("--dry-run", action="store_true", help="read and judge, write no store")
    build.add_argument(
        "--drop",
        action="store_true",
        help="let go of units and months that the store holds and these exports do not",
    )


def _add_pages(group: _Verbs) -> None:
    review = group.page(
        "review",
        verbs.review,
        "write the monthly review of one unit as one HTML file",
        "The file draws its charts with no network and is for internal use: it lists records.",
    )
    review.add_argument("--month", type=_month, help="such as 2026-03 (default: the last)")
    pages = group.add(
        "pages",
        verbs.pages,
        "write every page of a store into a folder, with an index that leads to them",
        "Review, change studies, data quality and fair care of each unit, each leading to the "
        "others. For internal use.",
    )
    pages.add_argument("--store", type=Path, default=Path("lanugo.duckdb"), metavar="FILE")
    pages.add_argument("--unit", action="append", metavar="ID", help="default: every unit")
    pages.add_argument("--month", type=_month, help="of the reviews (default: the last)")
    pages.add_argument("--out", type=Path, default=Path("pages"), metavar="FOLDER")
    pages.add_argument("--open", action="store_true", help="open the index when it is written")
    pages.add_argument("--dry-run", action="store_true", help="say it, write nothing")
    group.page(
        "quality",
        verbs.quality,
        "write the data quality page of one unit as one HTML file",
        "Whether the figures can be trusted: flags by cause, what to check in the chart, gaps.",
    )
    group.page(
        "fair",
        verbs.fair,
        "write the fair care page of one unit as one HTML file",
        "Every measure by group with its gap and doubt. A gap is a question, not a verdict. "
        "For internal use: small groups are not masked.",
    )
    change = group.page(
        "change",
        verbs.change,
        "write what one change of the unit's log did as one HTML file",
        "Before and after, with the course before carried on, the balancing measures beside it, "
        "and what else could explain it. --list shows the log. 'lanugo plan' asks beforehand.",
    )
    change.add_argument("--list", action="store_true", help="list the unit's changes, no page")
    change.add_argument("--change", metavar="ID", help="id in the log (default: the first)")
    change.add_argument("--measure", metavar="ID", help="default: the first it was meant to move")
    change.add_argument(
        "--compare-unit",
        metavar="ID",
        help="a unit of the store without the change, or none (default: the only other one)",
    )
    plan = group.of_a_unit(
        "plan",
        verbs.plan,
        "say how many months it takes to see an effect, before a change starts",
        "From the unit's own months: their level, their newborns and how much they vary. "
        "Example: lanugo plan --unit my_unit --measure first_temperature --points 10",
    )
    plan.add_argument("--measure", required=True, metavar="ID")
    plan.add_argument("--points", required=True, type=_points, help="percentage points, such as 10")
    plan.add_argument("--newborns", type=_points, help="a month (default: as in the last year)")
    plan.add_argument("--months-before", type=_count, help="default: as many as the store has")

    files = group.of_a_unit(
        "files",
        verbs.files,
        "write the review's page, meeting sheet, charts, tables and results as files",
        "HTML, PDF, SVG, PNG, CSV, XLSX and Parquet in a new folder, whole or not at all, with "
        "SHA-256 sums. For internal use: nothing is masked, and the page lists records.",
    )
    files.add_argument("--month", type=_month, help="such as 2026-03 (default: the last)")
    files.add_argument("--out", type=Path, required=True, metavar="FOLDER", help="a new folder")
    files.add_argument("--only", metavar="KINDS", help=f"some of {', '.join(names())}")
    files.add_argument("--paper", choices=("A4", "letter"), default="A4", help="of the PDF")
    files.add_argument("--browser", metavar="PROGRAM", help="the Chromium that prints the PDF")
    files.add_argument("--with-records", action="store_true", help="one row per newborn as well")
    files.add_argument("--dry-run", action="store_true", help="say it, write nothing")


def _add_lists(group: _Verbs) -> None:
    worklist = group.of_a_unit(
        "worklist",
        verbs.worklist,
        "write the records someone should read as a CSV file",
        "First what should never happen, then a sample of ten of what is serious, each newborn "
        "once with what to check. Filled in (outcome, note, role, date) and named under [worklist] "
        "in the unit's file, it is read at the next build.",
    )
    worklist.add_argument("--month", type=_month, help="such as 2026-03 (default: the last)")
    worklist.add_argument("--out", type=Path, default=Path("worklist.csv"), metavar="FILE")
    worklist.add_argument("--force", action="store_true", help="write over an existing file")
    flags = group.of_a_unit(
        "flags",
        verbs.flags,
        "write a unit's open flags as a file to answer",
        "A line says confirmed (the value is true and is used) or wrong (it is masked), by which "
        "role and why. Nothing in the export is edited; the flag keeps its history.",
    )
    flags.add_argument("--out", type=Path, default=Path("answers.csv"), metavar="FILE")
    release = group.of_a_unit(
        "release",
        verbs.release,
        "write figures that may leave the unit, with small numbers masked",
        "No record is in them. The ledger remembers what was released, and a release that would "
        "give small numbers away together with an earlier one is refused.",
    )
    release.add_argument("--out", type=Path, required=True, metavar="FOLDER")
    release.add_argument("--ledger", type=Path, required=True, metavar="FOLDER")
    release.add_argument("--threshold", type=_threshold, metavar="N")
    release.add_argument("--hide-zero", action="store_true", help="mask zeros as well")
    release.add_argument("--sensitive", action="append", default=[], metavar="MEASURE")
    release.add_argument("--period", choices=("month", "quarter", "all"))
    release.add_argument("--dry-run", action="store_true", help="say it, write nothing")
    restated = group.of_a_unit(
        "restated",
        verbs.restated,
        "list the numbers of earlier months that have changed, and why",
        "Against an earlier store, or against what was released. Internal: nothing is masked.",
    )
    restated.add_argument("--before", type=Path, metavar="STORE")
    restated.add_argument("--ledger", type=Path, metavar="FOLDER")


def _add_measures(group: _Verbs) -> None:
    measures = group.add(
        "measures",
        verbs.measures,
        "list the measures, or show one and run its worked examples",
    )
    measures.add_argument("measure", nargs="?", help="id of one measure")
    _with_own(measures)
    rules = group.add(
        "rules",
        verbs.rules,
        "list the rules about values and columns, or show one and run its worked examples",
    )
    rules.add_argument("rule", nargs="?", help="id of one rule")
    _with_own(rules)
    new = group.add(
        "new-measure",
        verbs.new_measure,
        "write a commented skeleton of a measure file",
        "One file is all it takes: it then appears in every page, the dictionary and here. A "
        "unit's own measures lie beside its file: my_unit.toml, my_unit/measures.",
    )
    new.add_argument("measure", help="id: lower-case words joined by underscores")
    place = new.add_mutually_exclusive_group()
    place.add_argument("--unit", type=Path, metavar="FILE", help="for this unit, beside its file")
    place.add_argument("--folder", type=Path, help="where (default: a clone's shipped measures)")
    dictionary = group.add(
        "dictionary",
        verbs.dictionary,
        "write the data dictionary and, beside it, the table of measures",
    )
    dictionary.add_argument("--out", type=Path, default=Path("dictionary.md"), metavar="FILE")
    _with_own(dictionary)
    notebooks = group.add(
        "notebooks",
        verbs.notebooks,
        "lay copies of the notebooks into a new folder, ready to open",
        "They read the store that is named, or the one of 'lanugo demo'; open start.ipynb first.",
    )
    notebooks.add_argument("--out", type=Path, required=True, metavar="FOLDER", help="a new folder")
    notebooks.add_argument(
        "--store", type=Path, metavar="FILE", help=f"default: {verbs.DEMO_STORE}"
    )
    notebooks.add_argument("--unit", metavar="ID", help="default: the store's first")


def _with_own(verb: argparse.ArgumentParser) -> None:
    verb.add_argument(
        "--unit", metavar="FILE", help="with what lies in the folder of this unit's own"
    )


def main(argv: Sequence[str] | None = None) -> int:
    """Run one verb; a mistake in the input ends in words and its own exit code."""
    args = _parser().parse_args(argv)
    try:
        return int(args.run(args))
    except LanugoError as error:
        print(f"lanugo: {error}", file=sys.stderr)
        return error.exit_code
    except Exception as error:
        print(f"lanugo: {_where(error)}", file=sys.stderr)
        return 1


def _where(error: Exception) -> str:
    """Say where something unforeseen happened; its own words may repeat a cell of an export."""
    steps = traceback.extract_tb(error.__traceback__)
    places = [f"{Path(step.filename).name} line {step.lineno} in {step.name}" for step in steps]
    return (
        f"something unforeseen ({type(error).__name__}) in {' < '.join(reversed(places[-3:]))}. "
        "What it says is not shown, for it may hold a newborn's values. Nothing was replaced."
    )


if __name__ == "__main__":
    sys.exit(main())

"""The command line: few verbs, each of which says what it did and what comes next."""

import argparse
import datetime as dt
import sys
import time
import webbrowser
from collections.abc import Callable, Sequence
from pathlib import Path

from pipelines.caution import CLOSING
from pipelines.errors import EXIT_CODES, LanugoError

DEMO_UNITS = ("quillmere", "tansy_ridge")


class Clock:
    """Says each step with the seconds since the start, on the error stream."""

    def __init__(self) -> None:
        self.start = time.monotonic()

    def __call__(self, words: str) -> None:
        print(f"{time.monotonic() - self.start:6.1f} s  {words}", file=sys.stderr, flush=True)


def _month(text: str) -> str:
    try:
        return dt.datetime.strptime(text, "%Y-%m").strftime("%Y-%m")
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is not a month; write 2026-03") from None


def _sources(units: Sequence[str], folders: Sequence[Path]) -> list[tuple[object, Path]]:
    from pipelines.units import find_unit

    if len(units) != len(folders):
        raise LanugoError(
            f"{len(units)} --unit and {len(folders)} --exports were given; "
            "give one folder of exports for each unit, in the same order."
        )
    return [(find_unit(unit), folder) for unit, folder in zip(units, folders, strict=True)]


def _build(args: argparse.Namespace) -> int:
    import tempfile

    from pipelines.build import build_store
    from pipelines.summary import build_words

    sources = _sources(args.unit, args.exports)
    if args.dry_run:
        with tempfile.TemporaryDirectory(prefix="lanugo-") as folder:
            summary = build_store(sources, Path(folder) / "dry_run.duckdb", Clock())  # type: ignore[arg-type]
        print(build_words(summary))
        print("\nDry run: no store was written.")
    else:
        summary = build_store(sources, args.store, Clock())  # type: ignore[arg-type]
        print(build_words(summary))
        first = args.unit[0] if len(args.unit) == 1 else sources[0][0].id  # type: ignore[attr-defined]
        print(f"\nStore: {args.store}\nNext: lanugo review --store {args.store} --unit {first}")
    return EXIT_CODES["verdict"] if summary.not_judged else 0


def _review(args: argparse.Namespace) -> int:
    from pipelines.pages import render_review

    out = args.out or Path(f"review_{args.unit}_{args.month or 'latest'}.html")
    page = render_review(args.store, args.unit, args.month, out, Clock())
    print(f"Page: {page}")
    if args.open:
        webbrowser.open(page.resolve().as_uri())
    return 0


def _demo(args: argparse.Namespace) -> int:
    from pipelines.build import build_store
    from pipelines.pages import render_review
    from pipelines.summary import build_words
    from pipelines.units import find_unit
    from synthetic_data import write_demo

    clock, out = Clock(), args.out
    clock("writing synthetic exports of two fictional units, 24 months")
    write_demo(out, seed=args.seed, progress=clock)
    sources = [(find_unit(unit), out / "exports" / unit) for unit in DEMO_UNITS]
    summary = build_store(sources, out / "lanugo.duckdb", clock)
    pages = [
        render_review(
            out / "lanugo.duckdb", unit, None, out / "pages" / f"review_{unit}.html", clock
        )
        for unit in DEMO_UNITS
    ]
    print(build_words(summary))
    print("\nAll newborns here are synthetic. " + CLOSING)
    print(f"\nExports: {out / 'exports'}\nStore:   {out / 'lanugo.duckdb'}")
    for page in pages:
        print(f"Page:    {page}")
    if args.open:
        webbrowser.open(pages[0].resolve().as_uri())
    return EXIT_CODES["verdict"] if summary.not_judged else 0


def _flags(args: argparse.Namespace) -> int:
    from pipelines.answers import write_open_flags
    from pipelines.store import open_store

    with open_store(args.store) as store:
        count = write_open_flags(store, args.unit, args.out)
    print(
        f"Wrote {count} open flags to {args.out}\nNext: fill in decision (confirmed or wrong), "
        f'role and why; name the file in the unit file (answers = "{args.out.name}"); build again.'
    )
    return 0


def _measures(args: argparse.Namespace) -> int:
    from pipelines.measures import read_measures
    from pipelines.summary import measure_list, measure_words

    measures = read_measures()
    print(measure_words(measures, args.measure) if args.measure else measure_list(measures))
    return 0


def _new_measure(args: argparse.Namespace) -> int:
    from pipelines.skeleton import write_skeleton

    path = write_skeleton(args.measure, args.folder)
    print(f"Wrote {path}\nNext: edit it, then 'lanugo measures {args.measure}' runs its examples.")
    return 0


def _dictionary(args: argparse.Namespace) -> int:
    from pipelines.dictionary import dictionary_text

    args.out.write_text(dictionary_text(), encoding="utf-8")
    print(f"Wrote {args.out}")
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="lanugo",
        description="From a unit's raw newborn admission export to a page a nurse manager reads.",
        epilog=(
            "Start with 'lanugo demo'. For your own unit copy a file from pipelines/units/, "
            f"say which column is what, then 'lanugo build --dry-run'. {CLOSING}"
        ),
    )
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="VERB")

    def add(
        name: str, run: Callable[[argparse.Namespace], int], help_text: str, more: str = ""
    ) -> argparse.ArgumentParser:
        verb = verbs.add_parser(
            name,
            help=help_text,
            description=f"{help_text[0].upper()}{help_text[1:]}. {more}",
        )
        verb.set_defaults(run=run)
        return verb

    demo = add(
        "demo",
        _demo,
        "run the whole path on synthetic data and open the page",
        "Writes exports, a store and pages into a folder; nothing leaves this machine.",
    )
    demo.add_argument("--out", type=Path, default=Path("demo"), help="folder (default: demo)")
    demo.add_argument("--seed", type=int, default=20261031, help="same seed, same newborns")
    demo.add_argument("--no-open", dest="open", action="store_false", help="do not open the page")

    build = add(
        "build",
        _build,
        "build a store from unit files and folders of exports",
        "The store is replaced only when everything succeeded. Give --unit and --exports once "
        "for each unit. Example: lanugo build --unit my_unit.toml --exports in/ --store my.duckdb",
    )
    build.add_argument("--unit", action="append", required=True, metavar="ID_OR_FILE")
    build.add_argument("--exports", action="append", required=True, type=Path, metavar="FOLDER")
    build.add_argument("--store", type=Path, default=Path("lanugo.duckdb"), metavar="FILE")
    build.add_argument("--dry-run", action="store_true", help="read and judge, write no store")

    review = add(
        "review",
        _review,
        "write the monthly review of one unit as one HTML file",
        "The file draws its charts with no network and is for internal use: it lists records.",
    )
    review.add_argument("--store", type=Path, default=Path("lanugo.duckdb"), metavar="FILE")
    review.add_argument("--unit", required=True, metavar="ID")
    review.add_argument("--month", type=_month, help="such as 2026-03 (default: the last)")
    review.add_argument("--out", type=Path, metavar="FILE")
    review.add_argument("--open", action="store_true", help="open the page when it is written")

    flags = add(
        "flags",
        _flags,
        "write a unit's open flags as a file to answer",
        "A line says confirmed (the value is true and is used) or wrong (it is masked), by which "
        "role and why. Nothing in the export is edited; the flag keeps its history.",
    )
    flags.add_argument("--store", type=Path, default=Path("lanugo.duckdb"), metavar="FILE")
    flags.add_argument("--unit", required=True, metavar="ID")
    flags.add_argument("--out", type=Path, default=Path("answers.csv"), metavar="FILE")

    measures = add(
        "measures",
        _measures,
        "list the measures, or show one and run its worked examples",
    )
    measures.add_argument("measure", nargs="?", help="id of one measure")

    new = add(
        "new-measure",
        _new_measure,
        "write a commented skeleton of a measure file",
        "One file is all it takes: it then appears in every page, the dictionary and here.",
    )
    new.add_argument("measure", help="id: lower-case words joined by underscores")
    new.add_argument("--folder", type=Path, help="where (default: the project's measures)")

    dictionary = add(
        "dictionary",
        _dictionary,
        "write the data dictionary from the contract, the measures and the rules",
    )
    dictionary.add_argument("--out", type=Path, default=Path("dictionary.md"), metavar="FILE")
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one verb; a mistake in the input ends in words and its own exit code."""
    args = _parser().parse_args(argv)
    try:
        return int(args.run(args))
    except LanugoError as error:
        print(f"lanugo: {error}", file=sys.stderr)
        return error.exit_code


if __name__ == "__main__":
    sys.exit(main())

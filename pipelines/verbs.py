"""What each verb of the command line does; ``cli.py`` says which words it takes."""

import argparse
import sys
import time
import webbrowser
from collections.abc import Sequence
from pathlib import Path

from pipelines.base.errors import EXIT_CODES, LanugoError
from pipelines.definitions.read_units import Unit
from pipelines.words.caution import CLOSING

DEMO_UNITS = ("quillmere", "tansy_ridge")
# A page costs some four seconds of the demo's minute on two cores: one change is shown.
DEMO_PAGES = (
    *((kind, unit) for kind in ("review", "quality") for unit in DEMO_UNITS),
    ("change", "quillmere"),
)


class Clock:
    """Says each step with the seconds since the start, on the error stream."""

    def __init__(self) -> None:
        self.start = time.monotonic()

    def __call__(self, words: str) -> None:
        print(f"{time.monotonic() - self.start:6.1f} s  {words}", file=sys.stderr, flush=True)


def _sources(units: Sequence[str], folders: Sequence[Path]) -> list[tuple[Unit, Path]]:
    from pipelines.definitions.read_units import find_unit

    if len(units) != len(folders):
        raise LanugoError(
            f"{len(units)} --unit and {len(folders)} --exports were given; "
            "give one folder of exports for each unit, in the same order."
        )
    return [(find_unit(unit), folder) for unit, folder in zip(units, folders, strict=True)]


def build(args: argparse.Namespace) -> int:
    import tempfile

    from pipelines.build.every_stage import build_store
    from pipelines.build.told import build_words

    sources = _sources(args.unit, args.exports)
    if args.dry_run:
        with tempfile.TemporaryDirectory(prefix="lanugo-") as folder:
            summary = build_store(sources, Path(folder) / "dry_run.duckdb", Clock())
        print(build_words(summary))
        print("\nDry run: no store was written.")
    else:
        summary = build_store(sources, args.store, Clock())
        print(build_words(summary))
        # The id: the unit may have been given as a file.
        first = sources[0][0].id
        print(f"\nStore: {args.store}\nNext: lanugo review --store {args.store} --unit {first}")
    return EXIT_CODES["verdict"] if summary.not_judged else 0


def review(args: argparse.Namespace) -> int:
    from pipelines.pages.review.page import render_review

    out = args.out or Path(f"review_{args.unit}_{args.month or 'latest'}.html")
    return _page(args, render_review(args.store, args.unit, args.month, out, Clock()))


def _demo_page(kind: str, unit: str, out: Path) -> Path:
    from pipelines.pages.change.page import render_change
    from pipelines.pages.quality.page import render_quality
    from pipelines.pages.review.page import render_review

    page, store = out / "pages" / f"{kind}_{unit}.html", out / "lanugo.duckdb"
    if kind == "review":
        return render_review(store, unit, None, page)
    if kind == "change":
        return render_change(store, unit, page)
    return render_quality(store, unit, page)


def _demo_pages(out: Path, clock: Clock) -> list[Path]:
    """Render every demo page, two at a time: each runs a notebook in a process of its own."""
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    with ProcessPoolExecutor(max_workers=2, mp_context=get_context("spawn")) as pool:
        waiting = [
            (kind, unit, pool.submit(_demo_page, kind, unit, out)) for kind, unit in DEMO_PAGES
        ]
        pages = []
        for kind, unit, page in waiting:
            pages.append(page.result())
            clock(f"wrote the {kind} page of {unit}")
    return pages


def demo(args: argparse.Namespace) -> int:
    from pipelines.build.every_stage import build_store
    from pipelines.build.told import build_words
    from pipelines.definitions.read_units import find_unit
    from synthetic_data import write_demo

    clock, out = Clock(), args.out
    clock("writing synthetic exports of two fictional units, 24 months")
    write_demo(out, seed=args.seed, progress=clock)
    sources = [(find_unit(unit), out / "exports" / unit) for unit in DEMO_UNITS]
    summary = build_store(sources, out / "lanugo.duckdb", clock)
    clock("running the notebooks and writing five pages")
    pages = _demo_pages(out, clock)
    print(build_words(summary))
    print("\nAll newborns here are synthetic. " + CLOSING)
    print(f"\nExports: {out / 'exports'}\nStore:   {out / 'lanugo.duckdb'}")
    for page in pages:
        print(f"Page:    {page}")
    if args.open:
        webbrowser.open(pages[0].resolve().as_uri())
    return EXIT_CODES["verdict"] if summary.not_judged else 0


def quality(args: argparse.Namespace) -> int:
    from pipelines.pages.quality.page import render_quality

    page = render_quality(args.store, args.unit, _page_path(args, "quality"), Clock())
    return _page(args, page)


def flags(args: argparse.Namespace) -> int:
    from pipelines.base.store_file import open_store
    from pipelines.drafts.open_flags import write_open_flags

    with open_store(args.store) as store:
        count = write_open_flags(store, args.unit, args.out)
    print(
        f"Wrote {count} open flags to {args.out}\nNext: fill in decision (confirmed or wrong), "
        f'role and why; name the file in the unit file (answers = "{args.out.name}"); build again.'
    )
    return 0


def measures(args: argparse.Namespace) -> int:
    from pipelines.definitions.read_measures import read_measures
    from pipelines.stages.measure.explain import measure_list, measure_words

    measures = read_measures()
    print(measure_words(measures, args.measure) if args.measure else measure_list(measures))
    return 0


def new_unit(args: argparse.Namespace) -> int:
    from pipelines.drafts.unit import write_draft

    out = args.out or Path(f"{args.unit}.toml")
    filled = write_draft(args.unit, args.exports, out)
    print(f"Wrote {out}\nFilled in from the exports' names, to be checked: {', '.join(filled)}.")
    print(f"Next: complete it, then lanugo build --unit {out} --exports {args.exports} --dry-run")
    return 0


def new_measure(args: argparse.Namespace) -> int:
    from pipelines.drafts.measure import write_skeleton

    path = write_skeleton(args.measure, args.folder)
    print(f"Wrote {path}\nNext: edit it, then 'lanugo measures {args.measure}' runs its examples.")
    return 0


def dictionary(args: argparse.Namespace) -> int:
    from pipelines.base.whole_files import write_whole
    from pipelines.drafts.dictionary import dictionary_text

    write_whole(args.out, dictionary_text())
    print(f"Wrote {args.out}")
    return 0


def worklist(args: argparse.Namespace) -> int:
    from pipelines.pages.review.worklist import write_worklist

    count = write_worklist(args.store, args.unit, args.month, args.out, force=args.force)
    print(f"Wrote {count} newborns to {args.out}. It lists records: keep it inside the unit.")
    print(CLOSING)
    return 0


def fair(args: argparse.Namespace) -> int:
    from pipelines.pages.fair.page import render_fair_care

    return _page(args, render_fair_care(args.store, args.unit, _page_path(args, "fair"), Clock()))


def change(args: argparse.Namespace) -> int:
    from pipelines.base.frames import rows_of
    from pipelines.pages.change.frames import LogRow
    from pipelines.pages.change.page import render_change
    from pipelines.pages.change.read import read_log

    if args.list:
        log = read_log(args.store, args.unit)
        for row in rows_of(log, LogRow):
            named = ", ".join(row["measures"] or ())
            print(f"{row['change_id']:24} {row['start_on']:%Y-%m-%d}  {row['title']} ({named})")
        if log.empty:
            print("The log is empty: write a change under [[changes]] in the unit file.")
        return 0
    out = args.out or Path(f"change_{args.unit}_{args.change or 'first'}.html")
    page = render_change(
        args.store,
        args.unit,
        out,
        change=args.change,
        measure=args.measure,
        compare_unit=args.compare_unit,
        progress=Clock(),
    )
    return _page(args, page)


def plan(args: argparse.Namespace) -> int:
    from pipelines.pages.change.plan import plan_words, read_plan

    found = read_plan(
        args.store,
        args.unit,
        args.measure,
        args.points,
        newborns=args.newborns,
        months_before=args.months_before,
    )
    print(plan_words(found))
    return 0


def release(args: argparse.Namespace) -> int:
    from pipelines.release.masking import Rule
    from pipelines.release.prepare import prepare_release
    from pipelines.release.write import write_release

    rule = Rule(args.threshold, not args.hide_zero, tuple(args.sensitive))
    prepared = prepare_release(
        args.store, args.unit, rule=rule, ledger=args.ledger, period=args.period
    )
    print("\n".join(prepared.words))
    if args.dry_run:
        print("\nDry run: nothing was written and the ledger is as it was.")
        return 0
    for path in write_release(prepared, args.out):
        print(f"Wrote {path}")
    return 0


def files(args: argparse.Namespace) -> int:
    from pipelines.files.about import INTERNAL, WITH_RECORDS
    from pipelines.files.write import Wanted, parse_kinds, plan, plan_lines, write_files

    made = plan(
        Wanted(
            args.store,
            args.unit,
            args.month,
            args.out,
            only=parse_kinds(args.only) if args.only is not None else None,
            paper=args.paper,
            browser=args.browser,
            with_records=args.with_records,
        )
    )
    if args.with_records:
        print(WITH_RECORDS, file=sys.stderr)
    if args.dry_run:
        lines = [f"Would write into {args.out}:", *(f"  {line}" for line in plan_lines(made))]
        print("\n".join([*lines, *made.words, "\nDry run: nothing was written."]))
        return 0
    written = write_files(made, Clock())
    print("\n".join([*made.words, INTERNAL, f"Wrote {len(written)} files to {args.out}"]))
    return 0


def restated(args: argparse.Namespace) -> int:
    from pipelines.build import two_stores
    from pipelines.release import restated as since_release

    if args.before is not None:
        lines = two_stores.restated_words(two_stores.restated(args.store, args.before, args.unit))
    elif args.ledger is not None:
        found = since_release.restated_since_release(args.store, args.ledger, args.unit)
        lines = [found.to_string(index=False)] if len(found) else two_stores.restated_words(found)
    else:
        raise LanugoError("give --before STORE (an earlier store) or --ledger FOLDER (releases).")
    print("\n".join(lines))
    return 0


def _page_path(args: argparse.Namespace, kind: str) -> Path:
    return args.out or Path(f"{kind}_{args.unit}.html")


def _page(args: argparse.Namespace, page: Path) -> int:
    print(f"Page: {page}")
    if args.open:
        webbrowser.open(page.resolve().as_uri())
    return 0

"""What each verb of the command line does; ``cli.py`` says which words it takes."""

import argparse
import sys
import time
import webbrowser
from collections.abc import Sequence
from multiprocessing.context import BaseContext
from pathlib import Path

from pipelines.base.errors import EXIT_CODES, LanugoError
from pipelines.definitions.of_units import Definitions
from pipelines.definitions.read_units import Unit
from pipelines.words.caution import CLOSING

DEMO_STORE = Path("demo") / "lanugo.duckdb"
# The kinds of page that the demo writes for each unit; fair care takes longest to write.
DEMO_KINDS = ("review", "meeting", "quality", "change")


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
            summary = build_store(
                sources,
                Path(folder) / "dry_run.duckdb",
                Clock(),
                before=args.store,
                may_drop=args.drop,
                is_dry=True,
            )
        print(build_words(summary))
        print("\nDry run: no store was written.")
    else:
        summary = build_store(sources, args.store, Clock(), may_drop=args.drop)
        print(build_words(summary))
        # The id: the unit may have been given as a file.
        first = sources[0][0].id
        print(f"\nStore: {args.store}\nNext: lanugo review --store {args.store} --unit {first}")
    return EXIT_CODES["verdict"] if summary.not_judged else 0


def review(args: argparse.Namespace) -> int:
    from pipelines.pages.review.page import render_review

    out = args.out or Path(f"review_{args.unit}_{args.month or 'latest'}.html")
    return _page(args, render_review(args.store, args.unit, args.month, out, Clock()))


def _workers() -> BaseContext:
    """Return how workers start: on Linux as copies of one process that has imported already.

    That process begins now, beside whatever comes first. It is a new one (never a copy of this
    one, whose threads and stores a copy would inherit broken), and it opens no store.
    """
    from multiprocessing import forkserver, get_context

    if sys.platform != "linux":
        return get_context("spawn")
    context = get_context("forkserver")
    context.set_forkserver_preload(["pipelines.pages.index.page", "pipelines.pages.shell.worker"])
    forkserver.ensure_running()
    return context


def pages(args: argparse.Namespace) -> int:
    from pipelines.pages.index.page import write_pages
    from pipelines.pages.index.read import planned, units_of

    workers, clock = _workers(), Clock()
    found = planned(args.store, args.unit or list(units_of(args.store)), args.month)
    if args.dry_run:
        print("\n".join(f"Would write {args.out / one.file}: {one.words}" for one in found))
        return 0
    written = write_pages(args.store, found, args.out, workers, clock)
    print(f"Wrote {len(written)} pages to {args.out}. They show single records: keep them inside.")
    return _page(args, written[0])


def demo(args: argparse.Namespace) -> int:
    from pipelines.build.every_stage import build_store
    from pipelines.build.told import build_words
    from pipelines.definitions.read_units import find_unit
    from pipelines.pages.index.page import write_pages
    from pipelines.pages.index.read import planned
    from synthetic_data.demo import DEMO_MONTHS, DEMO_UNITS, write_told_demo

    clock, out, workers = Clock(), args.out, _workers()
    store = out / "lanugo.duckdb"
    clock(f"writing synthetic exports of two fictional units, {DEMO_MONTHS} months")
    write_told_demo(out, seed=args.seed, progress=clock)
    sources = [(find_unit(unit), out / "exports" / unit) for unit in DEMO_UNITS]
    # The demo's own folder: another seed or length replaces the demo before.
    summary = build_store(sources, store, clock, may_drop=True)
    found = planned(store, DEMO_UNITS, kinds=DEMO_KINDS)
    # Fair care for the one unit whose groups tell a story.
    found += planned(store, DEMO_UNITS[:1], kinds=("fair",))
    clock(f"running the notebooks and writing {len(found)} pages and their index")
    index, *pages = write_pages(store, found, out / "pages", workers, clock)
    print(build_words(summary))
    print("\nAll newborns here are synthetic. " + CLOSING)
    print(f"\nExports: {out / 'exports'}\nStore:   {store}")
    for page in (index, *pages):
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


def _definitions(unit: str | None) -> Definitions:
    from pipelines.definitions.of_units import definitions_of
    from pipelines.definitions.read_units import find_unit

    return definitions_of([find_unit(unit)] if unit else ())


def measures(args: argparse.Namespace) -> int:
    from pipelines.stages.measure.explain import measure_list, measure_words

    here = _definitions(args.unit)
    if args.measure:
        print(measure_words(here.measures, args.measure, here.contract))
    else:
        print(measure_list(here.measures))
    return 0


def rules(args: argparse.Namespace) -> int:
    from expectations.explain import rule_list, rule_words, rules_of

    here = _definitions(args.unit)
    found = rules_of(here)
    print(rule_words(found, args.rule, here) if args.rule else rule_list(found))
    return 0


def new_unit(args: argparse.Namespace) -> int:
    from pipelines.drafts.unit import write_draft

    out = args.out or Path(f"{args.unit}.toml")
    counts, was_there = write_draft(args.unit, args.exports, out)
    print(f"{'Added what is new to' if was_there else 'Wrote'} {out}")
    print(
        f"Sources proposed: {counts['sure']} sure, {counts['check']} to check, {counts['ask']} to "
        "ask someone about; each says why."
    )
    print(f"Next: complete it, then lanugo build --unit {out} --exports {args.exports} --dry-run")
    return 0


def new_measure(args: argparse.Namespace) -> int:
    from pipelines.drafts.measure import own_measures, write_skeleton

    folder = own_measures(args.unit) if args.unit else args.folder
    path = write_skeleton(args.measure, folder)
    if args.folder and not args.unit:
        print(f"Wrote {path}\nNext: edit it; it is found in the folder 'measures' of a unit's own.")
        return 0
    of = f" --unit {args.unit}" if args.unit else ""
    print(
        f"Wrote {path}\nNext: edit it, then 'lanugo measures {args.measure}{of}' runs its examples."
    )
    return 0


def dictionary(args: argparse.Namespace) -> int:
    from pipelines.base.whole_files import write_whole
    from pipelines.drafts.dictionary import dictionary_text
    from pipelines.drafts.measure_table import measure_table_text

    definitions = _definitions(args.unit)
    write_whole(args.out, dictionary_text(definitions))
    print(f"Wrote {args.out}")
    table = args.out.with_name("measures.md")
    write_whole(table, measure_table_text(definitions))
    print(f"Wrote {table}")
    return 0


def notebooks(args: argparse.Namespace) -> int:
    from pipelines.drafts.notebook_copies import chosen_unit, write_notebooks

    store = args.store or DEMO_STORE
    is_there = args.store is not None or store.is_file()
    unit = chosen_unit(store, args.unit) if is_there else args.unit
    written = write_notebooks(args.out, store, unit)
    print(f"Wrote {len(written)} notebooks and the dictionary to {args.out}")
    if not is_there:
        print(f"There is no store at {store} yet: 'lanugo demo' writes it, --store names another.")
    print(f"Next: jupyter lab {written[0]}")
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
    from pipelines.pages.change.page import render_change
    from pipelines.pages.change.read import read_log
    from pipelines.reading.frames import LogRow

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
    from pipelines.release.masking import THRESHOLD, Rule
    from pipelines.release.prepare import prepare_release
    from pipelines.release.write import write_release

    rule = Rule(args.threshold or THRESHOLD, not args.hide_zero, tuple(args.sensitive))
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
    from pipelines.files.formats import parse_kinds
    from pipelines.files.plan import Wanted
    from pipelines.files.write import plan, plan_lines, write_files

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

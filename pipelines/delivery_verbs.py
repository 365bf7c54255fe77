"""The verbs of a store with a memory: what each does, and which words it takes."""

import argparse
import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from pipelines import verbs
from pipelines.base.errors import EXIT_CODES, LanugoError
from pipelines.definitions.read_units import Unit

if TYPE_CHECKING:
    from pipelines.build.deliver import Order

_MEMORY = (
    "The rows of every delivery stay beside the store, in a folder that ends in .deliveries and "
    "is as sensitive as the exports; what no longer stands is kept for 'lanugo undo'."
)


class Group(Protocol):
    """What adds a verb to the command line."""

    def add(
        self, name: str, run: Callable[[argparse.Namespace], int], help_text: str, more: str = ""
    ) -> argparse.ArgumentParser: ...


def add_verbs(group: Group, month: Callable[[str], str]) -> None:
    """Add the verbs; ``month`` reads the word for a month."""
    added = group.add(
        "add",
        add,
        "add a delivery of exports to a store: a new month, a correction, a second unit",
        "The rest of the store stays. Of a newborn that several deliveries hold, the newest wins, "
        f"with its whole record; late entries are added. --dry-run says it first. {_MEMORY}",
    )
    _of_delivery(added)
    other = group.add(
        "replace",
        replace,
        "put a delivery in the place of everything earlier of its months",
        "Whatever earlier deliveries of the unit hold of births in these months no longer stands. "
        "Without --from and --to: the months of birth that the delivery holds.",
    )
    _of_delivery(other)
    _of_months(other, month)
    other.add_argument("--delivery", metavar="NAME", help="instead: in the place of one delivery")
    gone = group.add(
        "withdraw",
        withdraw,
        "take a delivery, a unit or a period out of what stands",
        "Its rows are kept so that the step can be undone; --forget removes them for good.",
    )
    _of_store(gone)
    what = gone.add_mutually_exclusive_group(required=True)
    what.add_argument("--delivery", metavar="NAME")
    what.add_argument("--unit", metavar="ID")
    _of_months(gone, month)
    gone.add_argument(
        "--forget",
        action="store_true",
        help="remove the rows from every delivery that is kept; they cannot come back",
    )
    back = group.add(
        "undo",
        undo,
        "undo the last step of a store that is not undone, or a named one",
        "An undo is a step as well: to have back what it took, undo it by its number.",
    )
    back.add_argument("step", nargs="?", type=int, help="number in 'lanugo deliveries'")
    _of_store(back)
    listed = group.add(
        "deliveries",
        deliveries,
        "list the steps of a store, and which of its deliveries stand",
        "Of each delivery: births, newborns, and how many of them stand, for a newer delivery "
        "may have won them.",
    )
    listed.add_argument("--store", type=Path, default=Path("lanugo.duckdb"), metavar="FILE")


def _of_store(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--store", type=Path, default=Path("lanugo.duckdb"), metavar="FILE")
    verb.add_argument("--dry-run", action="store_true", help="say what would stand, write nothing")


def _of_delivery(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("unit", metavar="UNIT", help="the unit's file, or the id of a shipped one")
    verb.add_argument("exports", type=Path, metavar="FOLDER", help="the exports of the delivery")
    verb.add_argument("--name", help="of the delivery (default: the unit and its months)")
    _of_store(verb)


def _of_months(verb: argparse.ArgumentParser, month: Callable[[str], str]) -> None:
    verb.add_argument("--from", dest="first", type=month, metavar="MONTH", help="such as 2026-03")
    verb.add_argument("--to", dest="last", type=month, metavar="MONTH", help="default: --from")


def _months(args: argparse.Namespace) -> tuple[dt.date, dt.date] | None:
    if args.first is None and args.last is None:
        return None
    if args.first is None or (args.last is not None and args.last < args.first):
        raise LanugoError("give --from, and --to no earlier than --from.")
    if args.delivery is not None:
        raise LanugoError("give either --delivery or --from and --to.")
    asked = (args.first, args.last or args.first)
    first, last = (dt.date.fromisoformat(f"{month}-01") for month in asked)
    return first, last


def _unit(name: str) -> Unit:
    from pipelines.definitions.read_units import find_unit

    return find_unit(name)


def add(args: argparse.Namespace) -> int:
    from pipelines.build.deliver import Order

    return taken(args, Order("add", unit=_unit(args.unit), exports=args.exports, name=args.name))


def replace(args: argparse.Namespace) -> int:
    from pipelines.build.deliver import Order

    order = Order(
        "replace",
        unit=_unit(args.unit),
        exports=args.exports,
        name=args.name,
        delivery=args.delivery,
        months=_months(args),
    )
    return taken(args, order)


def withdraw(args: argparse.Namespace) -> int:
    from pipelines.build.deliver import Order

    order = Order(
        "withdraw",
        unit_id=args.unit,
        delivery=args.delivery,
        months=_months(args),
        is_forgetting=args.forget,
    )
    return taken(args, order)


def undo(args: argparse.Namespace) -> int:
    from pipelines.build.deliver import Order

    return taken(args, Order("undo", step=args.step))


def taken(args: argparse.Namespace, order: "Order") -> int:
    """Take a step and say it: first what it changes, then what the build found."""
    from pipelines.build.deliver import take_step
    from pipelines.build.told import build_words

    done = take_step(args.store, order, verbs.Clock(), print, is_dry=args.dry_run)
    if done.summary is None:
        print("\n".join(done.words))
        return 0
    print(build_words(done.summary))
    if args.dry_run:
        print("\nDry run: nothing was written.")
    else:
        print(f"\nStore: {args.store}\nNext: lanugo deliveries --store {args.store}")
    return EXIT_CODES["verdict"] if done.summary.not_judged else 0


def build(args: argparse.Namespace) -> int:
    """Build from folders; in a store that keeps deliveries a step for each unit, all else stays."""
    from pipelines.build.deliver import Order

    if not _remembers(args.store):
        if not args.exports:
            raise LanugoError(
                "give --exports: only a store with deliveries ('lanugo add') is built again "
                "without."
            )
        return verbs.build(args)
    folders = args.exports or [None] * len(args.unit)
    if len(folders) != len(args.unit):
        raise LanugoError("give one folder of exports for each unit, or none at all.")
    orders = [
        Order("build", unit=_unit(unit), exports=folder, may_drop=args.drop)
        for unit, folder in zip(args.unit, folders, strict=True)
    ]
    return max(taken(args, order) for order in orders)


def _remembers(store: Path) -> bool:
    from pipelines.memory.steps import read_steps

    try:
        return bool(read_steps(store))
    except LanugoError:  # what stands there is no store: the build says so
        return False


def deliveries(args: argparse.Namespace) -> int:
    from pipelines.build.deliver import remembered
    from pipelines.build.step_words import deliveries_words

    print("\n".join(deliveries_words(*remembered(args.store))))
    return 0

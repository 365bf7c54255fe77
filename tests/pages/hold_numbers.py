"""What must hold of the numbers of any page, whatever it is of: a list of faults.

A fault is a line for a person: where it stands, what is said there and what it should be. Each
function also counts what it compared, so that a page on which nothing was found is noticed.
"""

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from .read_numbers import (
    Node,
    Said,
    counts,
    plain,
    rows_of_charts,
    rows_of_groups,
    statements,
    tables,
)
from .true_numbers import is_written

PROGRAM = re.compile(
    r"\b(undefined|NaN|nan|null|NaT|Infinity|inf)\b|\bNone\b(?! of | in |[.:;])|\[object|[{}]|<NA>"
)
DASH = "\N{EN DASH}"


@dataclass
class Held:
    """Faults found, and by kind how much was compared."""

    faults: list[str] = field(default_factory=list)
    compared: Counter[str] = field(default_factory=Counter)

    def same(self, kind: str, where: object, told: object, true: object) -> None:
        self.compared[kind] += 1
        if told != true:
            self.faults.append(f"{kind}: {where}: says {told!r}, is {true!r}")

    def true(self, kind: str, where: object, holds: bool) -> None:
        self.same(kind, where, holds, True)


# ---- any page ---------------------------------------------------------------------------------


def held_alone(page: Node) -> Held:
    """Hold what a page says to itself: no word of a program, percentages of their counts, ways."""
    held, said = Held(), statements(page)
    for one in said:
        held.true("words", one, not PROGRAM.search(one.words))
        for found in counts(one.words):
            held.true("some of a whole", one, found.some <= found.of)
            if found.percent is not None:
                right = is_written(found.percent, found.some, found.of)
                held.true("percent of its counts", one, right)
        _hold_ways(held, one)
    _hold_links(held, page)
    for panel, row in rows_of_charts(page):
        _hold_cells(held, panel, row)
    for where, some, percent in rows_of_groups(page):
        _hold_cells(held, where, {"n of N": some, "Percent": percent})
    for table in tables(page):
        for row in table.rows:
            _hold_cells(held, (table.section, table.panel, table.caption[:60]), row)
    return held


def _hold_links(held: Held, page: Node) -> None:
    """A link within the page leads to something on it; to another page: test_index.py."""
    places = {node.given["id"] for node in page.every() if node.given.get("id")}
    for node in page.every("a"):
        to = node.given.get("href", "")
        if to.startswith("#") and len(to) > 1:
            held.true("links", to, to[1:].split("?")[0] in places)


def _hold_cells(held: Held, where: object, row: Mapping[str, object]) -> None:
    """A row with a count and a percentage of its own: one is the other's."""
    if not isinstance(row.get("n of N"), str) or not isinstance(row.get("Percent"), str):
        return
    some, percent = counts(plain(str(row["n of N"]))), plain(str(row["Percent"]))
    if some and some[0].of and percent != DASH:
        right = is_written(percent.removesuffix(" %"), some[0].some, some[0].of)
        held.true("percent of its counts", (where, row["n of N"], percent), right)


FROM_TO = re.compile(r"(?:(rose|fell|went) )?from (\d+(?:\.\d+)?)(?: %)? to (\d+(?:\.\d+)?) %")
THAN = re.compile(r"(higher|lower) than the (\d+(?:\.\d+)?) %[^:;]*: (\d+(?:\.\d+)?) % on average")


def _hold_ways(held: Held, one: Said) -> None:
    """Two numbers that are set against each other are not printed alike, and go the way said."""
    for way, first, second in FROM_TO.findall(one.words):
        if way:
            held.true("way", one, goes(way, float(first), float(second)))
    for way, before, now in THAN.findall(one.words):
        held.true("way", one, goes(way, float(before), float(now)))


def goes(way: str, first: float, second: float) -> bool:
    return (
        second > first
        if way in {"rose", "higher"}
        else (second < first if way in {"fell", "lower"} else second != first)
    )

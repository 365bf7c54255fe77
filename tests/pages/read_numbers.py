"""A reader of a page that knows nothing of what wrote it: text, tables, charts, and their numbers.

The page is read as it was written, with the standard library's parser and plain patterns; nothing
of the program is used, so that what it says of itself can be held against it.
"""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

# Elements whose words are one statement; an element within another is not read twice.
STATEMENTS = {
    *("p", "li", "td", "th", "dt", "dd", "caption", "summary", "figcaption", "label", "option"),
    *("h1", "h2", "h3", "h4", "button", "text", "a", "span", "div", "strong", "b"),
}
INLINE = {"a", "b", "strong", "em", "i", "code", "abbr", "sup", "sub", "small"}
SPOKEN = ("aria-label", "title", "alt", "placeholder", "data-label", "aria-description")
VOID = {"br", "hr", "img", "input", "link", "meta", "wbr", "source", "path", "rect", "use"}


@dataclass
class Node:
    """An element: its attributes and, in order, the words and elements in it."""

    tag: str
    given: dict[str, str] = field(default_factory=dict)
    parts: list["Node | str"] = field(default_factory=list)
    within: "Node | None" = None
    section: str = ""  # id of the last h2 before it
    panel: str = ""  # id of the h3 of the panel that it stands in

    def every(self, *tags: str) -> Iterator["Node"]:
        for part in self.parts:
            if isinstance(part, Node):
                if not tags or part.tag in tags:
                    yield part
                yield from part.every(*tags)

    def classes(self) -> set[str]:
        return set(self.given.get("class", "").split())

    def text(self) -> str:
        """Return the words in it, without scripts; what is not inline stands apart."""
        if self.tag in {"script", "style"}:
            return ""
        words = [part if isinstance(part, str) else part.text() for part in self.parts]
        told = "".join(words)
        return told if self.tag in INLINE else f" {told} "


class _Tree(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.at = self.root = Node("page")

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        node = Node(tag, {name: value or "" for name, value in attrs}, [], self.at)
        self.at.parts.append(node)
        if tag not in VOID:
            self.at = node

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        at: Node | None = self.at
        while at is not None and at.tag != tag:
            at = at.within
        if at is not None and at.within is not None:
            self.at = at.within

    def handle_data(self, data: str) -> None:
        self.at.parts.append(data)


def read(html: str) -> Node:
    """Return a written page as elements and words."""
    tree = _Tree()
    tree.feed(html)
    tree.close()
    section = ""
    for node in tree.root.every():
        section = node.given.get("id", "") if node.tag == "h2" else section
        node.section = section
        if "panel" in node.classes():
            head = next(node.every("h3"), None)
            panel = head.given.get("id", "") if head else ""
            for one in (node, *node.every()):
                one.panel = panel
    return tree.root


def plain(text: str) -> str:
    """Write a text with plain spaces, digits together and a plain minus, on one line.

    >>> plain("1\\u202f204\\u00a0newborns,  docu\\u00admented")
    '1204 newborns, documented'
    """
    text = re.sub("(?<=\\d)[\u202f\u2009](?=\\d)", "", text).replace("\u00ad", "")
    return " ".join(text.replace("\u2212", "-").split())


@dataclass(frozen=True)
class Said:
    """One statement: the section and the panel that it stands in, how it is said, its words."""

    section: str
    panel: str
    how: str
    words: str

    def __str__(self) -> str:
        return f"{self.section} {self.panel} [{self.how}] {self.words[:240]}"


def statements(page: Node) -> list[Said]:
    """Return what a page says, to the eye, aloud, under the pointer and in charts, each once."""
    found = []
    for node in page.every():
        if node.tag in STATEMENTS and not _is_part(node):
            found.append(Said(node.section, node.panel, node.tag, plain(node.text())))
        for name in SPOKEN:
            if node.given.get(name):
                found.append(Said(node.section, node.panel, name, plain(node.given[name])))
    for box, chart in charts(page):
        said = {plain(words) for words in strings(chart)}
        found += [Said(box.section, box.panel, "chart", words) for words in sorted(said)]
    return list(dict.fromkeys(one for one in found if one.words))


def _is_part(node: Node) -> bool:
    """Return whether an element holds statements of its own, or is a piece of one around it."""
    holds = any(isinstance(one, Node) and one.tag not in INLINE | {"span"} for one in node.parts)
    around = node.within
    is_piece = node.tag in INLINE | {"span"} and around is not None and around.tag in STATEMENTS
    return (holds and node.tag == "div") or is_piece


def charts(page: Node) -> list[tuple[Node, Any]]:
    """Return each chart's box and its specification, with the data that tooltips say."""
    found = []
    for node in page.every("script"):
        box = node.within
        if box is not None and "chart" in box.classes():
            words = "".join(part for part in node.parts if isinstance(part, str))
            found.append((box, json.loads(words)))
    return found


def strings(part: Any, name: str = "") -> Iterator[str]:
    """Give every text of a specification that a reader can meet: data, description, titles."""
    if isinstance(part, str):
        if name in {"description", "title", "text", "row"}:
            yield part
    elif isinstance(part, list):
        for one in part:
            yield from strings(one, "row" if isinstance(one, str) and name == "text" else name)
    elif isinstance(part, dict):
        if name == "text" and isinstance(part.get("value"), str):
            yield part["value"]
        for inner, one in part.items():
            if inner == "datasets":
                rows = [row for rows in one.values() for row in rows]
                yield from (cell for row in rows for cell in row.values() if _is_words(cell))
            elif inner != "config":
                yield from strings(one, inner)


def _is_words(cell: Any) -> bool:
    return isinstance(cell, str) and not re.match(r"\d{4}-\d\d-\d\dT", cell)


def rows_of_charts(page: Node) -> Iterator[tuple[str, dict[str, Any]]]:
    """Give every row of data of every chart, with its panel."""
    for box, chart in charts(page):
        for rows in chart.get("datasets", {}).values():
            for row in rows:
                yield box.panel, row


def rows_of_groups(page: Node) -> Iterator[tuple[str, str, str]]:
    """Give (measure and group, "n of N", percentage) of every quarter that may be laid over."""
    for node in page.every("script"):
        words = "".join(part for part in node.parts if isinstance(part, str))
        if node.given.get("type") == "application/json" and '"measures"' in words:
            for measure, groups in json.loads(words).get("measures", {}).items():
                for group, quarters in groups.items():
                    for quarter in quarters:
                        some = next(place for place, one in enumerate(quarter) if _is_count(one))
                        yield f"{measure} {group}", quarter[some], quarter[some + 1]


def _is_count(one: Any) -> bool:
    return isinstance(one, str) and " of " in one


@dataclass(frozen=True)
class Table:
    """A table: its place, caption, and rows by the heads of its columns; "" is a line across."""

    section: str
    panel: str
    caption: str
    heads: tuple[str, ...]
    rows: tuple[dict[str, str], ...]


def tables(page: Node) -> list[Table]:
    return [_table(node) for node in page.every("table")]


def _table(node: Node) -> Table:
    caption = next((plain(one.text()) for one in node.every("caption")), "")
    lines = [[*row.every("th", "td")] for row in node.every("tr")]
    heads = tuple(plain(cell.text()) for cell in lines[0]) if lines else ()
    rows = []
    for cells in lines[1:]:
        told: dict[str, str] = {}
        column = 0
        for cell in cells:
            if column < len(heads):
                told[heads[column]] = plain(cell.text())
            column += int(cell.given.get("colspan", "1"))
        rows.append(told)
    return Table(node.section, node.panel, caption, heads, tuple(rows))


# ---- numbers ------------------------------------------------------------------------------------

NUMBER = r"(?<![\d.,-])(\d+(?:\.\d+)?)"
COUNTS = r"(?<![\d.,])(\d+)(?: records?)? of (?:the )?(\d+)(?![.,]?\d)"
# "203 of 254 newborns (80 %)", "81 % (34 of 42)", "75 % 1867 of 2475"
AFTER = re.compile(COUNTS + r"((?: [a-z]+){0,4}) \((\d+(?:\.\d+)?) %")
BEFORE = re.compile(NUMBER + r" %(?: of [a-z ]{1,70})?(?: \(| )" + COUNTS)
ALONE = re.compile(COUNTS + r"(?: ([a-z]+))?")


@dataclass(frozen=True)
class Counts:
    """A count of a whole, the noun that follows, and the percentage that was written of it."""

    some: int
    of: int
    noun: str
    percent: str | None


def counts(text: str) -> list[Counts]:
    """Return the counts of a plain text, each once, with its percentage where one is given.

    >>> counts("80 % on time: 3 of 4 newborns (75 %)")
    [Counts(some=3, of=4, noun='newborns', percent='75')]
    """
    percents: dict[int, str] = {}
    for match in AFTER.finditer(text):
        percents[match.start(1)] = match[4]
    for match in BEFORE.finditer(text):
        percents.setdefault(match.start(2), match[1])
    return [
        Counts(int(one[1]), int(one[2]), one[3] or "", percents.get(one.start(1)))
        for one in ALONE.finditer(text)
    ]

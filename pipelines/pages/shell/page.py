"""A page as one object: what its first screen says, and its sections in their order.

Links, headings, the places that other parts of a page lead to, and the charts that become files
all come from the one list of sections.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Generic, TypeVar

import pandas as pd

from pipelines.base.errors import LanugoError, nearest
from pipelines.pages.shell.markup import Part, part
from pipelines.pages.shell.show import Drawn, in_section, show, side_by_side
from pipelines.words.caution import CLOSING
from pipelines.words.trace import VersionRow, trace

D = TypeVar("D")


@dataclass(frozen=True)
class Other:
    """Another page in the same folder: its file's name, and the words that lead to it."""

    file: str
    words: str


# A piece of a section: its data in, a part out or, where it displays several itself, nothing.
Show = Callable[[Any], Part | None]


@dataclass(frozen=True)
class Line:
    """One ranked line of a first screen: what, the fact, its place, how sure, what comes next."""

    subject: str
    fact: str
    place: str
    sure: str = ""
    step: str = ""

    @property
    def text(self) -> str:
        """The line as plain words, for a mail or an index."""
        told = f"{self.subject}: {self.fact} {self.sure}".rstrip()
        return f"{told} Next: {self.step}" if self.step else told


@dataclass(frozen=True)
class Head:
    """What a first screen says: line 1, a remark, then ranked lines, or answers by question.

    ``since``: what is new since the last page of its kind, and the place where more stands.
    """

    title: str
    when: str
    remark: str
    answers: Sequence[tuple[str, str]] = ()
    lines: Sequence[Line] = ()
    since: tuple[str, str] | None = None


@dataclass(frozen=True)
class About:
    """What the foot of a page says. ``measures``: title and version of each that it reads."""

    cautions: Sequence[str]
    glossary: Mapping[str, str]
    build: Mapping[str, str]
    loads: pd.DataFrame
    measures: Sequence[VersionRow] = ()


@dataclass(frozen=True)
class Section:
    """One section of a page.

    ``id``: its place, as links name it. ``link``: its words in the links of the first screen,
    "" for the heading's own, None for none. ``leaves_off``: what of it stays off paper. ``read``:
    what it reads of the store beside the page's own data; its ``shows`` are then given that.
    ``folded``: where the section lies behind one press, what that press opens.
    """

    id: str
    heading: str
    shows: tuple[Show, ...]
    intro: str = ""
    link: str | Callable[[Any], str] | None = ""
    leaves_off: str = ""
    read: Callable[[Path, Any], Any] | None = None
    folded: str = ""

    def link_words(self, data: Any) -> str | None:
        if callable(self.link):
            return self.link(data)
        return self.heading if self.link == "" else self.link


def panels(*shows: Show) -> Show:
    """Return what shows all of these in panels that stand beside one another."""

    def show_all(data: Any) -> None:
        with side_by_side():
            _show(shows, data)

    return show_all


def about_section(told: Callable[[Any], About], link: str = "") -> Section:
    """Return the section that every page ends with: cautions, words, versions, files, build."""

    def about(data: Any) -> Part:
        one = told(data)
        return part(
            "pages/shell/about",
            cautions=one.cautions,
            glossary=one.glossary,
            facts=trace(one.build, one.loads, one.measures),
            closing=CLOSING,
        )

    return Section("about", "About these figures", (about,), link=link)


def _show(shows: Sequence[Show], data: Any) -> None:
    for one in shows:
        shown = one(data)
        if shown is not None:
            show(shown)


@dataclass(frozen=True)
class Page(Generic[D]):
    """A kind of page: its notebook's name, its first screen, its sections in their order."""

    notebook: str
    head: Callable[[D], Head]
    sections: Sequence[Section]

    def first_screen(self, data: D, others: Sequence[Other] = ()) -> Part:
        """Return line 1, the answers, the links to the sections and to other pages."""
        head = self.head(data)
        links = [(one.id, one.link_words(data)) for one in self.sections]
        left_off = [one.leaves_off for one in self.sections if one.leaves_off]
        return part(
            "pages/shell/head",
            title=head.title,
            when=head.when,
            remark=head.remark,
            answers=head.answers,
            lines=head.lines,
            since=head.since,
            links=[(place, words) for place, words in links if words is not None],
            others=others,
            left_out=", and ".join(left_off),
        )


@dataclass
class Opened(Generic[D]):
    """A page of one store: its data, read once, to be shown section by section.

    ``others``: the pages beside it, to which its first screen leads.
    """

    page: Page[D]
    store: Path
    data: D
    others: Sequence[Other] = ()
    _read: dict[object, Any] = field(default_factory=dict, repr=False)
    _drawn: dict[str, list[Drawn]] = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        self._asked: set[str] = set()

    def first_screen(self) -> None:
        """Show line 1, the answers, and the links to the sections."""
        show(self.page.first_screen(self.data, self.others))

    def section(self, name: str) -> None:
        """Show one section by its id: heading, prose, pieces.

        Raises LanugoError naming the nearest id where the page has no such section.
        """
        self._asked.add(name)
        self._show(name)

    def rest(self) -> None:
        """Show the sections that have not been asked for by name, in the order of the page."""
        for one in self.page.sections:
            if one.id not in self._asked:
                self._show(one.id)

    def data_of(self, name: str) -> Any:
        """Return what a section shows: what it reads itself, read once, or the page's data."""
        section = self._section(name)
        if section.read is None:
            return self.data
        if section.read not in self._read:
            self._read[section.read] = section.read(self.store, self.data)
        return self._read[section.read]

    @property
    def drawn(self) -> list[Drawn]:
        """The charts of every section shown so far, in the order of the page."""
        return [chart for one in self.page.sections for chart in self._drawn.get(one.id, [])]

    def _section(self, name: str) -> Section:
        named = {one.id: one for one in self.page.sections}
        if name not in named:
            raise LanugoError(f"'{name}' is no section of this page.{nearest(name, named)}")
        return named[name]

    def _show(self, name: str) -> None:
        section, data = self._section(name), self.data_of(name)
        place = [one.id for one in self.page.sections].index(name)
        self._drawn[name] = []
        with in_section(name, place, section.heading, self._drawn[name]):
            show(
                part(
                    "pages/shell/section_head",
                    id=section.id,
                    heading=section.heading,
                    intro=section.intro,
                ),
                fold=section.folded,
            )
            _show(section.shows, data)

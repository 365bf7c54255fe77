"""What ``lanugo files`` is asked for, what it will write, and what its formats are written from."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

from pipelines.files.about import About
from pipelines.pages.meeting.page import write_meeting
from pipelines.pages.review.page import write_review
from pipelines.pages.review.read import ReviewData
from pipelines.pages.shell.page import Opened, Other
from pipelines.pages.shell.render import charts_shown
from pipelines.pages.shell.show import Drawn

Say = Callable[[str], None]


@dataclass(frozen=True)
class Wanted:
    """What is asked for. ``only``: names of formats, or None for all this machine can make."""

    store: Path
    unit: str
    month: str | None
    out: Path
    only: Sequence[str] | None = None
    paper: str = "A4"
    browser: str | None = None
    with_records: bool = False


@dataclass(frozen=True)
class Plan:
    """What will be written, after store, unit, month, folder and browser have been looked at."""

    wanted: Wanted
    kinds: tuple[str, ...]  # the names of the formats, in their order
    browser: str | None
    page: Opened[ReviewData]  # read once, for every format
    about: About
    words: tuple[str, ...]  # what the reader of the files should know

    @property
    def data(self) -> ReviewData:
        return self.page.data

    @property
    def page_name(self) -> str:
        return f"review_{self.about.stem}.html"

    @property
    def pdf_name(self) -> str:
        return f"review_{self.about.stem}.pdf"

    @property
    def meeting_name(self) -> str:
        return f"meeting_{self.about.stem}.html"

    @property
    def meeting_pdf_name(self) -> str:
        return f"meeting_{self.about.stem}.pdf"

    @property
    def mail_name(self) -> str:
        return f"mail_{self.about.stem}.txt"

    @property
    def pages(self) -> list[str]:
        """The names of the pages that are written, for whoever is told where they are."""
        named = {"page": self.page_name, "pdf": self.pdf_name, "meeting": self.meeting_name}
        named["meeting_pdf"] = self.meeting_pdf_name
        return [named[kind] for kind in self.kinds if kind in named]


@dataclass
class Writing:
    """What the formats are written from. ``scratch``: a folder for what is not kept."""

    plan: Plan
    folder: Path
    scratch: Path
    say: Say

    @cached_property
    def page_file(self) -> Path:
        """The page, written once; it stays only where it is wanted."""
        folder = self.folder if "page" in self.plan.kinds else self.scratch
        return write_review(self.plan.page, folder / self.plan.page_name, self.say)

    @cached_property
    def meeting_file(self) -> Path:
        """The meeting sheet, written once; it stays only where it is wanted."""
        plan = self.plan
        folder = self.folder if "meeting" in plan.kinds else self.scratch
        beside = [Other(plan.page_name, "Monthly review")] if "page" in plan.kinds else []
        page = replace(plan.page, others=beside)
        return write_meeting(page, folder / plan.meeting_name, self.say)

    @property
    def drawn(self) -> list[Drawn]:
        """The charts of the page, as they were shown where it was written."""
        return self.plan.page.drawn or charts_shown(self.plan.page)

"""The formats of ``lanugo files``, one row each: plan, writing, manifest and help follow from it.

What writes a format is imported where it writes: the command line names the formats at once.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pipelines.base.errors import LanugoError, nearest

if TYPE_CHECKING:
    from pipelines.files.plan import Plan, Writing


def _never(_: "Plan", __: Path) -> bool:
    return False


def _always(_: "Plan", __: Path) -> bool:
    return True


@dataclass(frozen=True)
class Format:
    """One format. ``words``: its line of the plan; ``write``: gives each file it wrote.

    ``names_records``: whether a file of it (its path in the folder) names single records.
    ``prints``: of which page a browser prints it, as the page's file begins; "" where none does.
    ``needs_records``: whether it is all about single newborns, so that it is written only where
    their records are asked for. ``lists_records``: whether every file of it lists some, which the
    reader is told beforehand.
    """

    name: str
    words: "Callable[[Plan], str]"
    write: "Callable[[Writing], Iterator[Path]]"
    names_records: "Callable[[Plan, Path], bool]" = _never
    prints: str = ""
    needs_records: bool = False

    @property
    def needs_browser(self) -> bool:
        return bool(self.prints)

    @property
    def lists_records(self) -> bool:
        return self.names_records is _always


def _page(writing: "Writing") -> Iterator[Path]:
    yield writing.page_file


def _pdf_words(made: "Plan") -> str:
    return f"{made.pdf_name} ({made.wanted.paper}, printed by {Path(made.browser or '').stem})"


def _pdf(writing: "Writing") -> Iterator[Path]:
    made, page = writing.plan, writing.page_file
    writing.say("printing the page")
    yield _printed(writing, page, made.pdf_name)


def _printed(writing: "Writing", page: Path, name: str) -> Path:
    from pipelines.files.pdf import print_pdf

    made, path = writing.plan, writing.folder / name
    print_pdf(
        page,
        path,
        browser=str(made.browser),
        paper=made.wanted.paper,
        foot=f"{made.about.line} Internal.",
    )
    return path


def _meeting(writing: "Writing") -> Iterator[Path]:
    yield writing.meeting_file


def _meeting_pdf_words(made: "Plan") -> str:
    return f"{made.meeting_pdf_name} ({made.wanted.paper})"


def _meeting_pdf(writing: "Writing") -> Iterator[Path]:
    page = writing.meeting_file
    writing.say("printing the meeting sheet")
    yield _printed(writing, page, writing.plan.meeting_pdf_name)


def _mail(writing: "Writing") -> Iterator[Path]:
    from pipelines.files.about import visible
    from pipelines.pages.meeting.mail import mail

    made = writing.plan
    path = writing.folder / made.mail_name
    path.write_text(visible(mail(made.data, made.pages)), encoding="utf-8")
    yield path


def _slides(writing: "Writing") -> Iterator[Path]:
    from pipelines.files.slides import write_slides

    drawn, made = writing.drawn, writing.plan
    writing.say("drawing the slides")
    yield from write_slides(drawn, made.data, writing.folder / "slides", made.about)


def _charts_words(made: "Plan") -> str:
    drawn = made.data.series.dropna(subset="rate")["measure_id"].nunique()
    return (
        f"charts/: {drawn} measures over time and the other pictures of the page, "
        "each as SVG and PNG"
    )


def _charts(writing: "Writing") -> Iterator[Path]:
    from pipelines.files.charts import write_charts

    drawn = writing.drawn
    writing.say("drawing the charts")
    yield from write_charts(drawn, writing.folder / "charts", writing.plan.about, writing.say)


def _tables_words(made: "Plan") -> str:
    from pipelines.files.tables import table_names

    named = ", ".join(table_names(made.about.with_records))
    return f"tables/: {named}, each as CSV, and one workbook (XLSX)"


def _tables(writing: "Writing") -> Iterator[Path]:
    from pipelines.files.tables import tables_of, write_csv_files
    from pipelines.files.workbook import write_workbook

    made, folder = writing.plan, writing.folder / "tables"
    writing.say("writing the tables")
    tables = tables_of(made.data, made.page.data_of("why"), made.about.with_records)
    yield from write_csv_files(tables, folder, made.about)
    yield write_workbook(tables, folder / f"tables_{made.about.stem}.xlsx", made.about)


def _tables_with_records(made: "Plan", path: Path) -> bool:
    from pipelines.files.tables import table_names

    of_records = {*table_names(True)} - {*table_names(False)}
    return path.stem in of_records or (path.suffix == ".xlsx" and made.about.with_records)


def _data_words(made: "Plan") -> str:
    from pipelines.files.package import chosen_views

    views = ", ".join(chosen_views(made.about.with_records))
    return f"data/: {views}, flag_count as Parquet, with datapackage.json"


def _data(writing: "Writing") -> Iterator[Path]:
    from pipelines.files.package import write_package

    made = writing.plan
    writing.say("writing the data")
    yield from write_package(made.wanted.store, writing.folder / "data", made.about, writing.say)


def _data_with_records(_: "Plan", path: Path) -> bool:
    from pipelines.files.package import chosen_views

    return path.stem in {*chosen_views(True)} - {*chosen_views(False)}


def _mart_words(_: "Plan") -> str:
    from pipelines.files.package import mart_views

    return f"mart/: {', '.join(mart_views())} as Parquet, with datapackage.json"


def _mart(writing: "Writing") -> Iterator[Path]:
    from pipelines.files.package import mart_views, write_package

    made = writing.plan
    writing.say("writing the mart")
    folder = writing.folder / "mart"
    yield from write_package(made.wanted.store, folder, made.about, writing.say, mart_views())


def _is_parquet(_: "Plan", path: Path) -> bool:
    return path.suffix == ".parquet"


# In the order in which they are written: what is printed or drawn of the page follows it.
FORMATS: Final[list[Format]] = [
    Format("page", lambda made: made.page_name, _page, _always),
    Format("pdf", _pdf_words, _pdf, _always, prints="review"),
    Format("meeting", lambda made: f"{made.meeting_name}: two sheets", _meeting, _always),
    Format("meeting_pdf", _meeting_pdf_words, _meeting_pdf, _always, prints="meeting"),
    Format("mail", lambda made: f"{made.mail_name}: a text to paste, no record named", _mail),
    Format(
        "slides",
        lambda made: "slides/: the charts of the first lines, 16:9, each as SVG and PNG",
        _slides,
    ),
    Format("charts", _charts_words, _charts),
    Format("tables", _tables_words, _tables, _tables_with_records),
    Format("data", _data_words, _data, _data_with_records),
    Format("mart", _mart_words, _mart, _is_parquet, needs_records=True),
]


def names() -> list[str]:
    """Return the names of the formats in their order."""
    return [one.name for one in FORMATS]


def parse_kinds(text: str) -> tuple[str, ...]:
    """Return the formats in a list such as 'page,charts', in their own order.

    >>> parse_kinds("charts, page")
    ('page', 'charts')
    """
    named = [one.strip() for one in text.split(",") if one.strip()]
    for one in named:
        if one not in names():
            raise LanugoError(f"--only: '{one}' is no kind of file.{nearest(one, names())}")
    if not named:
        raise LanugoError(f"--only: name some of {', '.join(names())}.")
    return tuple(kind for kind in names() if kind in named)

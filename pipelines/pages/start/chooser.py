"""Choosing a unit, a month and a measure by hand in a notebook.

The selectors are widgets. A program that cannot draw widgets shows a table instead: what the
store holds, and the command that writes each unit's page.
"""

import shlex
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import pandas as pd
from IPython.utils.capture import capture_output

from pipelines.base.frames import rows_of
from pipelines.base.store_file import open_store
from pipelines.pages.review import sections as review_sections
from pipelines.pages.review.frames import MeasureRow
from pipelines.pages.review.read import ReviewData, read_review
from pipelines.pages.shell.markup import Part, part
from pipelines.pages.start.frames import HeldRow
from pipelines.reading.queries import query
from pipelines.words import of_numbers


def what_it_holds(store: str | Path) -> pd.DataFrame:
    """Return one row per unit and month of birth: unit, title, month, births, newborns.

    Raises StoreError where the file is no store of this version.
    """
    with open_store(Path(store)) as opened:
        return query(opened, "pages/start/months", HeldRow)


def command(store: str | Path, unit: str, month: pd.Timestamp | None = None) -> str:
    """Return the command that writes the review of a unit and month (None: the last full one).

    >>> command("my store.duckdb", "quillmere", pd.Timestamp("2026-03-01"))
    "lanugo review --store 'my store.duckdb' --unit quillmere --month 2026-03 --open"
    """
    words = ["lanugo", "review", "--store", str(store), "--unit", unit]
    words += [] if month is None else ["--month", f"{month:%Y-%m}"]
    return shlex.join([*words, "--open"])


def table(store: str | Path, held: pd.DataFrame) -> Part:
    """Return the table of what a store holds, one line per unit."""
    lines = [
        {
            "title": title,
            "span": f"{rows['month'].min():%b %y} to {rows['month'].max():%b %y}",
            "newborns": rows["newborns"].sum(),
            "command": command(store, str(unit)),
        }
        for (unit, title), rows in held.groupby(["unit", "title"])
    ]
    return part("pages/start/holds", store=Path(store).name, lines=lines)


def _dropdown(words: str) -> Any:
    return widgets.Dropdown(
        description=words,
        style={"description_width": "5rem"},
        layout={"width": "34rem", "max_width": "98%"},
    )


def _fill(select: Any, options: list[tuple[str, Any]], wanted: Any = None) -> None:
    """Offer (words, value) pairs; the wanted value is chosen where offered, else the first."""
    values = [value for _, value in options]
    select.options = options
    select.value = wanted if wanted in values else values[0]


def _measure_options(data: ReviewData) -> list[tuple[str, str]]:
    """Return (words, measure_id) in the order of the page: by group, what asks first first."""
    return [
        (f"{row['group_name']}: {row['title']}", row["measure_id"])
        for row in rows_of(data.measures, MeasureRow)
    ]


@dataclass
class Selectors:
    """Unit, month and measure to choose; beneath them the measure, and the page's command.

    Shown as the last line of a notebook cell.
    """

    store: str | Path
    held: pd.DataFrame
    unit: Any = field(default_factory=lambda: _dropdown("Unit"))
    month: Any = field(default_factory=lambda: _dropdown("Month"))
    measure: Any = field(default_factory=lambda: _dropdown("Measure"))
    told: Any = field(default_factory=widgets.HTML)
    shown: Any = field(default_factory=widgets.Output)
    _is_busy: bool = False

    def __post_init__(self) -> None:
        named = self.held.drop_duplicates("unit")
        _fill(self.unit, list(zip(named["title"], named["unit"], strict=True)))
        self._read = cache(lambda unit, month: read_review(Path(self.store), unit, month))
        self._offer(self.unit)
        for one in (self.unit, self.month, self.measure):
            one.observe(lambda change: self._offer(change.owner), names="value")

    def _offer(self, chosen: Any) -> None:
        """Bring what hangs on a choice up to date; what this changes itself is no choice."""
        if self._is_busy:
            return
        self._is_busy = True
        try:
            if chosen is self.unit:
                self._offer_months()
            if chosen is not self.measure:
                self._offer_measures()
            self._show()
        finally:
            self._is_busy = False

    def _offer_months(self) -> None:
        here = self.held[self.held["unit"] == self.unit.value].iloc[::-1]
        options = [
            (f"{of_numbers.month_name(month)}: {of_numbers.number_of(int(births), 'birth')}", month)
            for month, births in zip(here["month"], here["births"], strict=True)
        ]
        _fill(self.month, options, self._read(self.unit.value, None).month)

    def _data(self) -> ReviewData:
        return self._read(self.unit.value, f"{self.month.value:%Y-%m}")

    def _offer_measures(self) -> None:
        _fill(self.measure, _measure_options(self._data()), self.measure.value)

    def _show(self) -> None:
        data = self._data()
        one = data.measures["measure_id"] == self.measure.value
        with capture_output() as caught:
            review_sections.show_measures(replace(data, measures=data.measures[one]))
        self.shown.outputs = tuple(
            {"output_type": "display_data", "data": out.data, "metadata": out.metadata}
            for out in caught.outputs or []
        )
        line = command(self.store, self.unit.value, self.month.value)
        self.told.value = part("pages/start/command", command=line).html

    def _repr_mimebundle_(self, **_: Any) -> dict[str, Any]:
        """Give the widgets, and the table to a program that draws none."""
        rows = [self.unit, self.month, self.measure, self.told, self.shown]
        bundle = dict(widgets.VBox(rows)._repr_mimebundle_())
        return {**bundle, "text/html": table(self.store, self.held).html}


def selectors(store: str | Path) -> Selectors | Part:
    """Return the selectors of a store, or in words how to get a store where there is none.

    Raises StoreError where the file is no store of this version.
    """
    held = what_it_holds(store) if Path(store).is_file() else pd.DataFrame()
    if held.empty:
        return part("pages/start/no_store", store=str(store))
    return Selectors(store, held)

"""The page of a release: one file that fetches nothing, made of the masked rows alone.

It is given a ``Release``, whose frames hold no masked count; the page cannot say what they do
not. Groups of newborns stay in strata.csv, which is too long to read.
"""

from typing import Any

import pandas as pd

from pipelines.base.frames import checked, rows_of
from pipelines.drawing import in_cells, theme
from pipelines.drawing.packed import POLICY, script
from pipelines.pages.shell.markup import Part, hatching, part
from pipelines.pages.shell.show import chart_markup
from pipelines.release.charts import over_periods, period_words
from pipelines.release.frames import DescribedRow, ShownRow
from pipelines.release.made import Release
from pipelines.release.masking import KNOWING, hidden_words
from pipelines.words import caution, of_numbers
from pipelines.words.caution import CLOSING

_ENOUGH_TO_DRAW = 3  # a line of fewer periods is read in the table


def shown_rows(release: Release) -> pd.DataFrame:
    """Return every released row of all newborns with the words a page shows for it.

    Adds period, fraction ("212 of 236"), percent and interval, each ``hidden: fewer than 11``
    where the rate is masked, and counted (null there).
    """
    rows = release.frames["results"].copy()
    hidden, nobody = rows["is_hidden"], rows["rate"].isna() & ~rows["is_hidden"]
    rows["counted"] = rows["numerator"] + rows["not_in_numerator"]  # null where either is masked
    rows["period"] = [
        period_words(str(kind), pd.Timestamp(start), pd.Timestamp(end))
        for kind, start, end in zip(
            rows["period_kind"], rows["period_start"], rows["period_end"], strict=True
        )
    ]
    bare = rows.assign(numerator=rows["numerator"].fillna(0), counted=rows["counted"].fillna(0))
    rows["fraction"] = of_numbers.fractions(bare)
    rows["percent"] = [of_numbers.percent(rate) for rate in rows["rate"]]
    rows["interval"] = of_numbers.intervals(rows)
    for name in ("fraction", "percent", "interval"):
        rows[name] = rows[name].mask(nobody, rows["words"])
        rows[name] = rows[name].mask(hidden, hidden_words(release.rule.threshold))
    return checked(rows, ShownRow)


def _line(row: ShownRow) -> dict[str, Any]:
    """Return what the table of measures shows of one measure's last period."""
    bar = in_cells.interval_bar(
        {
            "rate": row["rate"],
            "lower": row["lower"],
            "upper": row["upper"],
            "target": row["target"],
            "counted": row["counted"] or 0,
        }
    )
    return {
        **row,
        "target_words": of_numbers.percent(row["target"]),
        "bar": bar,
        "bar_text": f"{row['title']}: {row['interval']}",
    }


def _panel(rows: pd.DataFrame, facts: DescribedRow) -> dict[str, Any]:
    """Return one measure's chart, definition and periods."""
    finest = rows[rows["period_kind"] != "all"]
    drawn = finest if len(finest) >= _ENOUGH_TO_DRAW else finest.head(0)
    return {
        "measure_id": facts["measure_id"],
        "title": facts["title"],
        "finding": _finding(_latest(rows)),
        "chart": chart_markup(over_periods(drawn)).html if len(drawn) else None,
        "facts": [
            (name, told)
            for name, told in (
                ("Question", facts["question"]),
                ("Counted", facts["numerator_words"]),
                ("Among", facts["population"]),
                ("Not among them", facts["exclusions"]),
                ("Accepted reasons", facts["exceptions"]),
                ("Window", facts["window_words"]),
                ("Released by", facts["words"]),
                ("Source", facts["sources"]),
                ("Caution", facts["caution"]),
                ("Version", facts["version"]),
            )
            if told
        ],
        "rows": rows_of(rows.iloc[::-1], ShownRow),
    }


def _finding(last: pd.DataFrame) -> str:
    (row,) = rows_of(last, ShownRow)
    if row["rate"] is None:
        return f"{row['period']}: {row['fraction']}."
    return (
        f"{row['period']}: {row['fraction']}, {row['percent']} (95 % interval {row['interval']})."
    )


def release_page(release: Release, released_at: str) -> str:
    """Return the whole page as HTML: the last period of each measure, then each over time."""
    rows = shown_rows(release)
    measures = rows_of(release.frames["measures"], DescribedRow)
    by_measure = dict(list(rows.groupby("measure_id", sort=False)))
    # How long something took has no rate.
    told = [one for one in measures if one["measure_id"] in by_measure and one["kind"] != "minutes"]
    last = [_line(rows_of(_latest(by_measure[one["measure_id"]]), ShownRow)[0]) for one in told]
    page: Part = part(
        "release/released",
        title=f"{release.unit}: released figures",
        span=f"{release.line['first_month']} to {release.line['last_month']}",
        released_at=released_at,
        hidden=hidden_words(release.rule.threshold),
        threshold=release.rule.threshold,
        knowing=KNOWING,
        first_words=release.words[0],
        left_out=release.left_out,
        lines=last,
        panels=[_panel(by_measure[one["measure_id"]], one) for one in told],
        cautions=caution.CAUTIONS,
        closing=CLOSING,
        style=Part(theme.stylesheet()).html,
        hatching=hatching(),
        policy=POLICY,
        script=script(),
    )
    return page.html


def _latest(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the last row of the finest period that is released, else the whole period's."""
    finest = rows[rows["period_kind"] != "all"]
    return (finest if len(finest) else rows).tail(1)

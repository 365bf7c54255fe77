"""A release: a unit's results with small numbers masked, for readers outside the unit.

Only sums leave the store. What was published before is taken into account: by subtraction a
second release could give away what each of them hides.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import duckdb
import numpy as np
import pandas as pd

from pipelines.base.errors import StoreError, nearest
from pipelines.base.frames import checked, rows_of
from pipelines.base.store_file import open_store
from pipelines.definitions.states import COUNTS
from pipelines.definitions.strata import ALL_NEWBORNS as ALL
from pipelines.reading.frames import SilentRow
from pipelines.reading.queries import query
from pipelines.release.frames import (
    CountedRow,
    DescribedRow,
    FactsRow,
    GrainRow,
    ResultRow,
    StrataRow,
)
from pipelines.release.ledger import (
    CELL,
    Entry,
    ReleaseRefused,
    compared,
    content_hash,
    ledger_state,
    published_text,
    read_ledger,
)
from pipelines.release.made import Release
from pipelines.release.masked_table import cell_words, conceal
from pipelines.release.masking import Masked, Rule, offered_counts, protect
from pipelines.release.rows import (
    KINDS,
    SPAN,
    choose_grain,
    every_period,
    month_start,
    month_text,
    newborn_rows,
    rows_to_release,
)
from pipelines.release.sums import COLUMN, DETAIL, LEVEL_OF, Bools
from pipelines.stages.measure.counting import with_rates
from pipelines.words import of_silence

_RATES: Final = ["rate", "lower", "upper", "if_none_met", "if_all_met"]
_WHEN: Final = ["period_kind", "period_start", "period_end"]
_SAID: Final = ["is_hidden", "words"]
# Frame of a release -> its declaration.
DECLARED: Final[Mapping[str, type[Mapping[str, object]]]] = {
    "results": ResultRow,
    "strata": StrataRow,
    "measures": DescribedRow,
}
_LISTED: Final = 5  # differences named in a refusal; the rest are counted


def prepare_release(
    store: Path,
    unit: str,
    *,
    rule: Rule | None = None,
    ledger: Path | None = None,
    period: str | None = None,
    nested: Mapping[str, Sequence[str]] | None = None,
) -> Release:
    """Build, coarsen, mask and audit a release of one unit; writes nothing.

    period: month, quarter or all for every measure; else each measure takes the finest that
    hides few of its rates. nested: total measure to the measures that it adds up. Raises
    ReleaseRefused where it would give small numbers away together with what the ledger holds,
    StoreError where the store has no such unit.
    """
    rule = rule or Rule()
    if period is not None and period not in KINDS:
        raise ReleaseRefused(f"period '{period}' is not known.{nearest(period, KINDS)}")
    counts, measures, silent = _read(store, unit)
    _known_measures(rule.sensitive, measures)
    every = every_period(counts)
    grain = choose_grain(every, rule, period)
    entries = read_ledger(ledger, unit) if ledger else []
    rows, known = _with_earlier(rows_to_release(every, grain, rule), every, entries, rule)
    try:
        masked = protect(rows, rule, known, nested)
    except ValueError as error:
        raise StoreError(
            f"{store}: the results do not add up ({error}); build the store again."
        ) from None
    _refuse_small_differences(entries, rows, masked, rule)
    _refuse_derivable(entries, masked)
    return _release(
        unit,
        rule,
        rows=rows,
        masked=masked,
        measures=measures,
        grain=grain,
        silent=silent,
        ledger=ledger,
    )


def _read(store: Path, unit: str) -> tuple[pd.DataFrame, pd.DataFrame, list[str]]:
    with open_store(store) as connection:
        _known_unit(connection, unit)
        counts = query(connection, "release/counts", CountedRow, unit=unit)
        measures = query(connection, "release/measures", FactsRow, unit=unit)
        silent = query(connection, "reading/silent", SilentRow, unit=unit)
    if counts["period_start"].isna().all():
        raise StoreError(f"{store}: '{unit}' has no month with newborns; nothing to release.")
    titles = measures.loc[measures["measure_id"].isin(silent["measure_id"]), "title"]
    return counts, measures, [str(title) for title in titles]


def _known_unit(connection: duckdb.DuckDBPyConnection, unit: str) -> None:
    units = [row[0] for row in connection.execute("select unit from unit_info").fetchall()]
    if unit not in units:
        raise StoreError(f"the store has no unit '{unit}'.{nearest(unit, units)}")


def _known_measures(ids: Sequence[str], measures: pd.DataFrame) -> None:
    names = {*measures["measure_id"], *measures["parent_id"]}
    for one in ids:
        if one not in names:
            raise ReleaseRefused(f"sensitive measure '{one}' is not known.{nearest(one, names)}")


def _with_earlier(
    rows: pd.DataFrame, every: pd.DataFrame, entries: Sequence[Entry], rule: Rule
) -> tuple[pd.DataFrame, Bools]:
    """Add the rows that earlier releases showed, and say which counts a reader knows by now.

    A count that has since changed by less than the threshold is not known, but must not become
    derivable either: the difference would be.
    """
    every, before = _now(every, entries)
    rows = _with_spans(rows, every, before)
    rows = pd.concat([rows, newborn_rows(rows)], ignore_index=True)
    known = np.zeros((len(rows), len(COUNTS)), bool)
    rows["changed"] = [()] * len(rows)
    if len(before):
        place = rows[SPAN].assign(row=rows.index).drop_duplicates(SPAN)
        at = before.merge(place, on=SPAN, how="inner")
        columns = at["column"].map(COLUMN).to_numpy(np.int64)
        moved = (at["now"] - at["count"]).abs()
        same = (moved == 0).to_numpy()
        known[at["row"].to_numpy(np.int64)[same], columns[same]] = True
        near = at[moved.between(1, rule.threshold - 1)].groupby("row")["column"].agg(tuple)
        rows["changed"] = near.reindex(rows.index).map(lambda names: names, na_action="ignore")
        rows["changed"] = [one if isinstance(one, tuple) else () for one in rows["changed"]]
    return rows, known


def _now(every: pd.DataFrame, entries: Sequence[Entry]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Add to every period the other spans published before, and say what they hold now."""
    if not entries:
        return every, compared(entries, every, COUNTS)
    spans = pd.concat([one.published[CELL] for one in entries]).drop_duplicates()
    spans = spans.merge(every[SPAN], on=SPAN, how="left", indicator=True)
    spans = spans[spans["_merge"] == "left_only"][CELL]
    months = every[every["period_kind"] == "month"]
    keys = ["measure_id", "stratifier", "stratum"]
    inside = spans.merge(
        months.drop(columns=["period_kind", "last_month"]).rename(columns={"first_month": "at"}),
        on=keys,
    )
    inside = inside[inside["at"].between(inside["first_month"], inside["last_month"])]
    head = [*CELL, "parent_id", "kind", "missing_left_out"]
    summed = inside.groupby(head, sort=False).agg({**dict.fromkeys(COUNTS, "sum"), "at": "count"})
    summed = summed.reset_index()
    is_whole = summed["at"] == summed["last_month"] - summed["first_month"] + 1
    every = pd.concat([every, summed[is_whole].drop(columns="at")], ignore_index=True)
    return every, compared(entries, every, COUNTS)


def _with_spans(rows: pd.DataFrame, every: pd.DataFrame, before: pd.DataFrame) -> pd.DataFrame:
    """Add rows that were published before and are not offered now, with the months they sum."""
    if not len(before):
        return rows
    wanted = before[SPAN].drop_duplicates().merge(rows[SPAN], on=SPAN, how="left", indicator=True)
    wanted = wanted.loc[wanted["_merge"] == "left_only", SPAN]
    added = every.merge(wanted, on=SPAN)
    keys = ["measure_id", "stratifier", "stratum"]
    of_several = added.loc[added["period_kind"] != "month", keys].drop_duplicates()
    months = every[every["period_kind"] == "month"].merge(of_several, on=keys)
    added = pd.concat([added, months]).drop_duplicates(SPAN)
    whole = every[every["stratifier"] == ALL].merge(
        added[["measure_id", "first_month", "last_month"]].drop_duplicates(),
        on=["measure_id", "first_month", "last_month"],
    )
    added = pd.concat([added, whole]).drop_duplicates(SPAN)
    told = before.assign(told=before["column"].map(LEVEL_OF))
    level = int(told["told"].max())
    added = added.assign(is_offered=False, level=level)
    there = pd.MultiIndex.from_frame(rows[SPAN])
    added = added[~pd.MultiIndex.from_frame(added[SPAN]).isin(there)]
    return pd.concat([rows, added], ignore_index=True)


def _refuse_small_differences(
    entries: Sequence[Entry], rows: pd.DataFrame, masked: Masked, rule: Rule
) -> None:
    """Refuse where a published count is shown again and differs by less than the threshold."""
    shown = rows[SPAN].assign(row=rows.index)[rows["is_offered"].to_numpy(bool)]
    before = compared(entries, rows, COUNTS).merge(shown, on=SPAN)
    if not len(before):
        return
    moved = (before["now"] - before["count"]).abs().between(1, rule.threshold - 1)
    places = before["row"].to_numpy(np.int64), before["column"].map(COLUMN).to_numpy(np.int64)
    near = before[moved.to_numpy() & ~masked.hidden[places]]
    if not len(near):
        return
    named = [
        f"  {one.measure_id}, {one.stratum}, {_span_text(one.first_month, one.last_month)}: "
        f"{one.column} ({one.release})"
        for one in near.head(_LISTED).itertuples()
    ]
    more = f"\n  and {len(near) - _LISTED} more" if len(near) > _LISTED else ""
    raise ReleaseRefused(
        f"{len(near)} published counts would differ by fewer than {rule.threshold} from what was "
        "published before; subtracted, they tell of single newborns:\n"
        + "\n".join(named)
        + more
        + "\nWait until more has changed, release a coarser period, or leave the period as it was "
        "published ('lanugo restated' lists what changed)."
    )


def _span_text(first: Any, last: Any) -> str:
    one, other = month_text(int(first)), month_text(int(last))
    return one if one == other else f"{one} to {other}"


def _refuse_derivable(entries: Sequence[Entry], masked: Masked) -> None:
    if masked.is_safe:
        return
    names = ", ".join(one.name for one in entries) or "what is known"
    raise ReleaseRefused(
        f"{int(masked.derivable.sum())} counts that are hidden now could be worked out together "
        f"with {names}. Release a coarser period, or the periods that were released before."
    )


def _release(
    unit: str,
    rule: Rule,
    *,
    rows: pd.DataFrame,
    masked: Masked,
    measures: pd.DataFrame,
    grain: pd.DataFrame,
    silent: list[str],
    ledger: Path | None,
) -> Release:
    offered = rows["is_offered"].to_numpy(bool)
    hidden = masked.hidden[offered]
    out = rows[offered].reset_index(drop=True)
    published = _published(out, hidden)
    out = conceal(_with_rates(out), hidden, rule)
    out = out.merge(measures[["measure_id", "title"]], on="measure_id", how="left")
    whole = grain[grain["stratifier"] == ALL]
    described = measures.merge(whole[["parent_id", "grain", "words"]], on="parent_id")
    frames = {**_tables(out), "measures": described}
    for name, row in DECLARED.items():
        checked(frames[name], row)
    texts = {**_tables(_as_text(out, rule)), "measures": described}
    told = offered_counts(rows)[offered]
    line = _line(unit, rule, out, published, int((hidden & told).sum()))
    words = _words(line, out, measures, grain)
    left_out = of_silence.left_out(silent)
    words += [left_out] if left_out else []
    state = ledger_state(ledger) if ledger else ""
    return Release(unit, rule, frames, texts, words, left_out, published, line, ledger, state)


def _with_rates(rows: pd.DataFrame) -> pd.DataFrame:
    rated = with_rates(rows.assign(counted=rows["numerator"] + rows["not_in_numerator"]))
    rated["period_start"] = [month_start(one).date() for one in rated["first_month"]]
    ends = [month_start(one) + pd.offsets.MonthEnd(0) for one in rated["last_month"]]
    rated["period_end"] = [one.date() for one in ends]
    return rated


def _as_text(out: pd.DataFrame, rule: Rule) -> pd.DataFrame:
    return cell_words(out, rule)


def _tables(out: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Cut released rows into all newborns and strata; strata are without the detail."""
    main = [name for name in COUNTS if name not in DETAIL]
    head = ["measure_id", "title", *_WHEN]
    is_whole = out["stratifier"] == ALL
    bounded = ["target", *_SAID]
    results = out.loc[is_whole, [*head, *COUNTS, *_RATES, *bounded]]
    names = [*head, "stratifier", "stratum", *main, *_RATES[:3], *bounded]
    strata = out.loc[~is_whole, names]
    return {"results": results.reset_index(drop=True), "strata": strata.reset_index(drop=True)}


def _published(out: pd.DataFrame, hidden: Bools) -> pd.DataFrame:
    """Return every count that is shown: CELL, column, count."""
    counts = out[list(COUNTS)].where(~hidden)
    long = pd.concat([out[CELL], counts], axis=1).melt(CELL, list(COUNTS), "column", "count")
    long = long.dropna(subset=["count"])
    return long.astype({"count": "int64"})


def _line(
    unit: str, rule: Rule, out: pd.DataFrame, published: pd.DataFrame, hidden_count: int
) -> dict[str, Any]:
    return {
        "unit": unit,
        "first_month": month_text(int(out["first_month"].min())),
        "last_month": month_text(int(out["last_month"].max())),
        "threshold": rule.threshold,
        "shows_zero": rule.shows_zero,
        "sensitive": sorted(rule.sensitive),
        "counts_shown": len(published),
        "counts_hidden": hidden_count,
        "counts_sha256": content_hash(published_text(published)),
    }


def _words(
    line: Mapping[str, Any], out: pd.DataFrame, measures: pd.DataFrame, grain: pd.DataFrame
) -> list[str]:
    rates = out["initial_population"].isna() | (out["initial_population"] > 0)
    said = [
        f"{line['unit']}, {line['first_month']} to {line['last_month']}: "
        f"{out['measure_id'].nunique()} measures, {int(rates.sum())} rates, of which "
        f"{int(out['is_hidden'].sum())} are hidden to protect fewer than {line['threshold']}.",
    ]
    for one in rows_of(grain, GrainRow):
        family = measures.loc[measures["parent_id"] == one["parent_id"], "title"]
        bands = " and its other bands" if len(family) > 1 else ""
        by = "" if one["stratifier"] == ALL else f", by {one['stratifier']}"
        said.append(f"{family.iloc[0]}{bands}{by}: {one['words']}.")
    return said

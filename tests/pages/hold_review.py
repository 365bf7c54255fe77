"""What must hold of a review against its store: every figure of every measure, and every sum.

A fault is a line for a person, as in hold_numbers.py.
"""

import re
from collections.abc import Iterable, Iterator
from functools import cache

import pandas as pd

from .hold_numbers import DASH, Held, goes
from .hold_sums import hold_flags, hold_head, hold_misses, hold_targets, hold_worklist
from .read_numbers import (
    Counts,
    Node,
    Said,
    Table,
    counts,
    plain,
    rows_of_charts,
    statements,
    tables,
)
from .true_numbers import Facts, Truth, end, is_written, wilson, written


@cache
def month_of(words: str) -> pd.Timestamp | None:
    """Read "Oct 26"; None where it is something else."""
    try:
        return pd.Timestamp(pd.to_datetime(words, format="%b %y"))
    except ValueError:
        return None


def held_review(page: Node, true: Truth, month: pd.Timestamp) -> Held:
    held = Held()
    found = tables(page)
    said = statements(page)
    hold_months(held, found, true)
    hold_chart_rows(held, page, true)
    _hold_now(held, found, true, month)
    for table in found:
        for row in table.rows if {"Measure", "Signal"} <= set(table.heads) else ():
            measure = titled(row.get("Measure", ""), true)
            _hold_baseline(held, table.caption, row.get("Signal", ""), true, measure or "")
    hold_named(held, said, true, month)
    _hold_births(held, said, true, month)
    _hold_marks(held, said, true, month)
    hold_misses(held, said, true, month)
    hold_worklist(held, found, said)
    hold_targets(held, said, found)
    hold_flags(held, found, true, month)
    hold_head(held, said, true, month)
    return held


NAMES = {
    "Late": "late", "Not done": "not_done", "Not met": "not_met",
    "Not documented": "not_documented", "Unusable": "unusable", "Exceptions": "exception",
    "Exclusions": "exclusion",
}  # fmt: skip


def hold_months(held: Held, found: list[Table], true: Truth) -> None:
    """The tables of months: every cell is the store's, and the parts of a row add up."""
    for table in found:
        if not table.caption.startswith("The months behind") or table.heads[0] != "Month":
            continue
        measure = table.panel.removeprefix("m-")
        for row in table.rows:
            month = month_of(row["Month"])
            fact = true.figures.get((measure, month)) if month is not None else None
            where = (measure, row["Month"])
            if fact is None:
                held.true("month without births", where, row.get("n of N") in {"0 of 0", DASH})
                continue
            _hold_figures(held, where, row, fact)
            for name in NAMES.keys() & row.keys():
                held.same(name, where, row[name], str(int(fact[NAMES[name]])))
            _hold_parts(held, where, row, fact)


def _hold_figures(held: Held, where: object, row: dict[str, str], fact: Facts) -> None:
    """n of N, percentage, interval and target of one month and measure."""
    some, of = int(fact["numerator"]), int(fact["counted"])
    if not of:
        held.true("no figure", where, row["n of N"] in {"0 of 0", DASH, ""})
        return
    held.same("n of N", where, row["n of N"], f"{some} of {of}")
    if fact["is_silent"]:  # the whole export says nothing of it: no percentage would be true
        held.same("silent", where, (row.get("Percent"), row.get("Interval", DASH)), (DASH, DASH))
        return
    if "Percent" in row:
        held.true("percent", (where, row["Percent"]), is_written(row["Percent"][:-2], some, of))
    if "Interval" in row:
        low, high = wilson(some, of)
        held.same("interval", where, row["Interval"], f"{end(low)} to {end(high)} %")
    if "Target" in row:
        target = fact["target"]
        said = DASH if pd.isna(target) else f"{end(100 * float(target))} %"
        held.same(
            "target",
            where,
            row["Target"].split(" %")[0].split(" ")[-1] + " %" if row["Target"] != DASH else DASH,
            said,
        )


def _hold_parts(held: Held, where: object, row: dict[str, str], fact: Facts) -> None:
    """Whoever the measure is about is counted once: n, misses, unknown, exceptions, exclusions."""
    if not NAMES.keys() <= row.keys() or not counts(row["n of N"]):
        return
    pair = counts(row["n of N"])[0]
    parts = {name: int(row[name]) for name in NAMES}
    unknown = parts["Not documented"] + parts["Unusable"]
    inside = pair.some + parts["Late"] + parts["Not done"] + parts["Not met"]
    left = unknown if fact["left_out"] else 0
    held.same("parts of N", where, inside + unknown - left, pair.of)
    everyone = pair.of + left + parts["Exceptions"] + parts["Exclusions"]
    held.same("parts of all", where, everyone, int(fact["initial_population"]))


def hold_chart_rows(held: Held, page: Node, true: Truth) -> None:
    """What a tooltip says of a month, and where its dot lies."""
    for panel, row in rows_of_charts(page):
        month = month_of(str(row.get("Month", "")))
        fact = true.figures.get((panel.removeprefix("m-"), month)) if month is not None else None
        if fact is None or not isinstance(row.get("n of N"), str) or not fact["counted"]:
            continue
        where = ("tooltip", panel, row["Month"])
        said = {name: plain(str(told)) for name, told in row.items()}
        _hold_figures(held, where, said, fact)
        if "Not documented" in said:
            held.same(
                "Not documented", where, said["Not documented"], str(int(fact["not_documented"]))
            )
        if row.get("rate") is not None:
            share = 100 * fact["numerator"] / fact["counted"]
            held.true("dot", (where, row["rate"], share), abs(float(row["rate"]) - share) <= 0.0501)


def _hold_now(held: Held, found: list[Table], true: Truth, month: pd.Timestamp) -> None:
    """The leading table and the table of all measures."""
    for table in found:
        if table.section != "measures" or "n of N" not in table.heads:
            continue
        for row in table.rows:
            measure = titled(row.get("Measure", ""), true)
            fact = true.figures.get((measure, month)) if measure else None
            if measure is None or row.get("Percent") is None or fact is None:
                continue
            where = (table.caption[:40], measure)
            _hold_figures(held, where, row, fact)
            said, nd = row.get("Not documented", ""), str(int(fact["not_documented"]))
            held.same("Not documented", where, said, nd)
            for head in table.heads:
                then = month_of(head)
                if then is not None or head == "Twelve months":
                    months = [then] if then else pd.date_range(end=month, periods=12, freq="MS")
                    some, of = true.pair(measure, months)
                    said = f"{written(some, of)} %" if of else DASH
                    held.same("past", (*where, head), row[head], said)


def titled(words: str, true: Truth) -> str | None:
    """Return the measure whose title words begin with; the longest title that fits."""
    fits = [title for title in true.titles if words.startswith(title)]
    return true.titles[max(fits, key=len)] if fits else None


def named(one: Said, true: Truth) -> Iterator[tuple[str, Counts, str]]:
    """Give (measure, counts, what follows) wherever a title stands right before its counts."""
    if ": " not in one.words:
        return
    for match in _naming(tuple(true.titles)).finditer(one.words):
        yield true.titles[match[1]], counts(match[2])[0], match[0]


@cache
def _naming(titles: tuple[str, ...]) -> re.Pattern[str]:
    known = "|".join(map(re.escape, sorted(titles, key=len, reverse=True)))
    return re.compile(
        f"({known})" + r": (?:Not (?:met|known|met or not known) for )?(\d+ of \d+[^;.]*)"
    )


MISSED = re.compile(r"not met", re.I)


def _unknown(true: Truth, measure: str, month: pd.Timestamp) -> int:
    fact = true.figures[measure, month]
    return int(fact["not_documented"] or 0) + int(fact["unusable"] or 0)


def hold_named(held: Held, said: Iterable[Said], true: Truth, month: pd.Timestamp) -> None:
    """Wherever a measure is named with its counts, in a list, a point or a chart's text."""
    for one in said:
        for measure, found, words in named(one, true):
            if one.section in {"how-long", "why", "cold"}:
                continue  # periods of their own
            some, of = true.pair(measure, [month])
            if MISSED.search(words):
                some = of - some
            if "not known" in words.lower():
                unknown = _unknown(true, measure, month)
                is_all = MISSED.search(words) is not None
                some, of = (some if is_all else 0) + unknown, of + unknown
            held.same("named", (measure, one), (found.some, found.of), (some, of))
        of = {measure for measure, _, _ in named(one, true)}
        if len(of) == 1 and not one.panel:
            _hold_baseline(held, one, one.words, true, of.pop())
        if one.section == "over-time" and one.panel.startswith("m-"):
            _hold_finding(held, one, true, month)


BASELINE = re.compile(r"the ([\d.]+) % of (\w{3} \d\d) to (\w{3} \d\d)")

NOW_THAN = re.compile(r"\(([\d.]+) %\); (higher|lower) than the ([\d.]+) %[^;]* in (\w{3} \d\d)")


def _hold_finding(held: Held, one: Said, true: Truth, month: pd.Timestamp) -> None:
    """The sentence of a panel begins with the month's counts; so does its chart's text."""
    begins = re.match(r"\d+ of \d+ [a-z]+ \(", one.words) if one.how == "p" else None
    last = re.search(r"Last month (\d+ of \d+)", one.words)
    for told in [begins and one.words, last and last[1]]:
        if told:
            found = counts(told)[0]
            pair = true.pair(one.panel.removeprefix("m-"), [month])
            held.same("finding", one, (found.some, found.of), pair)
    for now, way, before, in_month in NOW_THAN.findall(one.words):
        if month_of(in_month) == month:
            held.true("way", one, goes(way, float(before), float(now)))
    if one.how in {"p", "chart"}:
        _hold_baseline(held, one, one.words, true, one.panel.removeprefix("m-"))


def _hold_baseline(held: Held, where: object, words: str, true: Truth, measure: str) -> None:
    """A baseline with its months is what its store has of them, wherever it is said."""
    for percent, first, last in BASELINE.findall(words):
        months = pd.date_range(month_of(first), month_of(last), freq="MS")
        pair = true.pair(measure, months)
        held.true("baseline", (where, words, pair), is_written(percent, *pair))


PERIODS = re.compile(r"month|quarter|year|since|before|after|curve|minute", re.I)


def _hold_births(held: Held, said: Iterable[Said], true: Truth, month: pd.Timestamp) -> None:
    """No more newborns than were born in the month, unless a longer period is named."""
    most = true.live[month]
    for one in said:
        if one.section not in {"", "measures", "signals", "discuss", "records"}:
            continue
        for found in counts(one.words):
            if found.noun.startswith("newborn") and not PERIODS.search(one.words):
                held.true(f"at most {most} newborns", one, found.of <= most)


# ---- drawn in cells -----------------------------------------------------------------------------

TREND = re.compile(
    r"^(?P<title>.+): from (?P<first>[\d.]+) % in (?P<from>\w{3} \d\d) to (?P<last>[\d.]+) % in "
    r"(?P<to>\w{3} \d\d); lowest (?P<low>[\d.]+) %, highest (?P<high>[\d.]+) %$"
)
BAR = re.compile(r"^(?P<title>.+): (?P<low>[\d.]+) to (?P<high>[\d.]+) %, target (.+)$")


def _hold_marks(held: Held, said: Iterable[Said], true: Truth, month: pd.Timestamp) -> None:
    """What the lines of 24 months and the bars of the tables say aloud."""
    for one in said:
        trend, bar = TREND.match(one.words), BAR.match(one.words)
        found = trend or bar
        if one.how != "aria-label" or found is None or found["title"] not in true.titles:
            continue  # a title may hold characters that no page shows
        if trend:
            _hold_trend(held, one, trend, true, month)
        else:
            some, of = true.pair(true.titles[found["title"]], [month])
            ends = tuple(end(value) for value in wilson(some, of)) if of else ("no", "bar")
            held.same("bar", one, (found["low"], found["high"]), ends)


def _hold_trend(
    held: Held, one: Said, found: re.Match[str], true: Truth, month: pd.Timestamp
) -> None:
    months = pd.date_range(end=month, periods=24, freq="MS")
    pairs = {then: true.pair(true.titles[found["title"]], [then]) for then in months}
    shares = {then: (some / of, some, of) for then, (some, of) in pairs.items() if of}
    first, last = month_of(found["from"]), month_of(found["to"])
    held.same("trend's months", one, (first, last), (min(shares), max(shares)))
    true_ones = (
        shares[min(shares)],
        shares[max(shares)],
        min(shares.values()),
        max(shares.values()),
    )
    said = (found["first"], found["last"], found["low"], found["high"])
    held.same("trend", one, said, tuple(written(some, of) for _, some, of in true_ones))

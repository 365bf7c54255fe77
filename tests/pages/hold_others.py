"""What must hold of the other pages: the change study, data quality, and between two pages.

A fault is a line for a person, as in hold_numbers.py.
"""

import re
from collections.abc import Iterable

import pandas as pd

from .hold_numbers import Held
from .hold_review import hold_chart_rows, hold_months
from .hold_sums import WHOLE, flag_totals
from .read_numbers import Node, Said, Table, counts, statements, tables
from .true_numbers import Truth, is_written

# ---- a change study -----------------------------------------------------------------------------


def held_change(page: Node, true: Truth) -> Held:
    held, found, said = Held(), tables(page), statements(page)
    hold_months(held, found, true)
    hold_chart_rows(held, page, true)
    for table in found:
        if table.caption.startswith("The months behind") and "Phase" in table.heads:
            _hold_pooled(held, table, found, said)
    return held


def _hold_pooled(held: Held, months: Table, found: list[Table], said: list[Said]) -> None:
    """Before and after: the sums of their months, in the tables of effects and in sentences."""
    pooled: dict[str, tuple[int, int]] = {}
    for phase in ("before", "after"):
        pairs = [counts(row["n of N"]) for row in months.rows if row["Phase"] == phase]
        kept = [one[0] for one in pairs if one]
        pooled[phase] = sum(one.some for one in kept), sum(one.of for one in kept)
    title = re.sub(r"^The months behind the picture of (.+?), latest first$", r"\1", months.caption)
    for table in found:
        for row in table.rows if "Effect, points" in table.heads else ():
            if row.get("Measure", "").startswith(title) and "Before" in row:
                for phase, head in (("before", "Before"), ("after", "After")):
                    pair = [(one.some, one.of) for one in counts(row[head])]
                    held.same("pooled", (title, head), pair, [pooled[phase]])
    for one in said:
        hold_verdict(held, one, title, pooled["before"], pooled["after"])


def hold_verdict(
    held: Held, one: Said, title: str, before: tuple[int, int], after: tuple[int, int]
) -> None:
    """ "TITLE rose from 75 to 82 %" is of the months before, and of those after."""
    pattern = re.escape(title) + r" (?:rose|fell|went) from ([\d.]+)(?: %)? to ([\d.]+) %"
    for first, second in re.findall(pattern, one.words):
        held.true("verdict before", (one, before), is_written(first, *before))
        held.true("verdict after", (one, after), is_written(second, *after))


VERDICT = re.compile(
    r"(?:(?<=\. )|(?<=: )|^)([A-Z][^:.%]+? (?:rose|fell|went) from [\d.]+ to [\d.]+ %)"
)


def held_together(pages: Iterable[Node]) -> Held:
    """A verdict on a change reads the same on every page that says one of the same measure."""
    held, found = Held(), {}
    for page in pages:
        for one in statements(page):
            for fact in VERDICT.findall(one.words):
                title = re.split(r" (?:rose|fell|went) from ", fact)[0]
                held.same("one verdict", one, fact, found.setdefault(title, fact))
    return held


# ---- data quality -------------------------------------------------------------------------------


def held_quality(page: Node, true: Truth) -> Held:
    """The flags by kind, in the sum above the table, in its groups and in its rows."""
    held, totals = Held(), flag_totals(true)
    of_values = {kind: number for kind, number in totals.items() if kind != WHOLE}
    for one in statements(page):
        found = re.match(r"(\d+) flags? on values of (\d+) records", one.words)
        if found and one.how == "p":
            held.same("flags in all", one, int(found[1]), sum(of_values.values()))
            held.same("records", one, int(found[2]), sum(true.born.values()))
    _hold_causes(held, tables(page), of_values)
    _hold_to_check(held, page, true)
    return held


def _hold_causes(held: Held, found: list[Table], of_values: dict[str, int]) -> None:
    for table in found:
        if table.section != "causes" or "All" not in table.heads:
            continue
        kind, sums, told = "", dict[str, int](), dict[str, int]()
        for row in table.rows:
            across = re.match(r"(.+?): (\d+) \(", row.get("Cause", ""))
            if across and "All" not in row:
                kind = across[1]
                told[kind] = int(across[2])
            elif row.get("All"):
                sums[kind] = sums.get(kind, 0) + int(row["All"])
                shown = int(next(row[head] for head in row if re.match(r"Last \d+ month", head)))
                held.true("flags of a year", row["Cause"], shown <= int(row["All"]))
        held.same("flags by kind", table.caption, told, of_values)
        held.same("flags by cause", table.caption, sums, of_values)


def _hold_to_check(held: Held, page: Node, true: Truth) -> None:
    """What waits for someone to look: the flags that ask for an answer and have none."""
    flags = true.flags
    waits = flags[flags["record_id"].notna() & (flags["rule_id"] != "not_on_list")]
    waits = waits[waits["severity"].isin(["error", "query"]) & waits["answer"].isna()]
    listed = 0
    for one in statements(page):
        found = re.match(r"(\d+) values? of (\d+) records? waits? ", one.words)
        if found and one.how == "p":
            pair = (len(waits), waits["record_id"].nunique())
            held.same("to check", one, (int(found[1]), int(found[2])), pair)
    for table in tables(page):
        if table.section == "check" and "File and line" in table.heads:
            listed += len(table.rows)
    for one in page.every("p"):  # a long list says how many more there are
        left = re.match(r"\s*(\d[\d\s]*) more are in the file", one.text())
        listed += int(re.sub(r"\s", "", left[1])) if left else 0
    held.same("listed to check", "section check", listed, len(waits))


# ---- files --------------------------------------------------------------------------------------

STATES = (
    *("initial_population", "exclusion", "denominator", "exception", "numerator", "counted"),
    *("late", "not_done", "not_met", "not_documented", "unusable"),
)


def held_rows(rows: Iterable[dict[str, object]], true: Truth, month: pd.Timestamp | None) -> Held:
    """A table of measures, of one month or with a column of months: counts, rate, target."""
    held = Held()
    for row in rows:
        then = month if month is not None else pd.Timestamp(str(row["month"])[:10])
        fact = true.figures.get((str(row["measure_id"]), then))
        if fact is None:
            continue
        where = (row["measure_id"], then)
        for name in STATES:
            if name in row:
                held.same(name, where, int(float(str(row[name]))), int(fact[name] or 0))
        if fact["counted"] and str(row["rate"]) not in {"", "None"}:
            share = int(fact["numerator"] or 0) / int(fact["counted"] or 0)
            held.true("rate", (where, row["rate"]), abs(float(str(row["rate"])) - share) < 1e-6)
    return held

"""What must add up on a review: misses, records of the worklist, targets, flags, births.

A fault is a line for a person, as in hold_numbers.py.
"""

import re
from collections.abc import Iterable

import pandas as pd

from .hold_numbers import DASH, Held
from .read_numbers import Said, Table
from .true_numbers import PARTS, UNKNOWN, Truth

MISSES = re.compile(r"(Not met|Not known|Left out for an accepted reason|Not counted): ([^.]+)\.")
BRACKETS = re.compile(r"\(([^()]*)\)")
STATES = {
    "Not met": (*PARTS, *UNKNOWN),
    "Not known": UNKNOWN,
    "Left out for an accepted reason": ["exception"],
    "Not counted": ["exclusion"],
}


def hold_misses(held: Held, said: Iterable[Said], true: Truth, month: pd.Timestamp) -> None:
    """The sentences on who did not meet a measure: their parts are all of them, by reason too."""
    for one in said:
        fact = true.figures.get((one.panel.removeprefix("m-"), month))
        if one.section != "over-time" or one.how != "p" or fact is None:
            continue
        for head, words in MISSES.findall(one.words):
            parts = [_first(part) for part in BRACKETS.sub("", words).split(";")]
            held.same(head, one, sum(parts), sum(int(fact[state] or 0) for state in STATES[head]))
            for part in words.split("); "):
                _hold_reasons(held, one, part)


def _first(words: str) -> int:
    found = re.search(r"\d+", words)
    return int(found[0]) if found else 0


def _hold_reasons(held: Held, one: Said, part: str) -> None:
    """The reasons in brackets: together as many as stand before them, or fewer where some lack."""
    inner = re.search(r"(\d+)[^(;]*\(([^()]+)\)?$", part)
    if inner and not re.search(r"and \d+ more", inner[2]):
        reasons = [int(number) for number in re.findall(r" (\d+)(?=;|$)", inner[2])]
        held.true("reasons", (one, part), 0 < sum(reasons) <= int(inner[1]))


def hold_worklist(held: Held, found: list[Table], said: list[Said]) -> None:
    """The records of each tier are as many as every sentence says, and no record stands twice."""
    now = _of_caption(found, "Records to read now")
    sample = _of_caption(found, "Sample of the records with a serious reason")
    keys = [row["Record"].split(" ")[0] for row in (*now, *sample)]
    held.same("records once", "worklist", len(set(keys)), len(keys))
    for one in said:
        for pattern, rows in (
            (r"In (\d+) records? of the month", now),
            (r"^(\d+) records? to read now$", now),
            (r"^(\d+) of \d+ records? of [A-Z]\w+ \d{4} ha", now),
            (r"^(\d+) of \d+ further record", sample),
            (r"^(\d+) records? to read$", sample),
        ):
            for number in re.findall(pattern, one.words):
                held.same("records of a tier", one, int(number), len(rows))
        if "What should never happen: In " in one.words and one.how in {"li", "p"}:
            _hold_gravest(held, one, now)


def _of_caption(found: list[Table], caption: str) -> tuple[dict[str, str], ...]:
    return next((table.rows for table in found if table.caption == caption), ())


def _hold_gravest(held: Held, one: Said, now: tuple[dict[str, str], ...]) -> None:
    """Each of the gravest: as many as the rows that say so; together no fewer than the records."""
    told = re.search(r"of the month: (.+?)\.(?: Next:|$| Has)", one.words)
    named = re.findall(r"(?:^|; )(.+?) \((\d[^()]*)\)(?=;|$)", told[1]) if told else []
    parts = [(title, sum(map(int, re.findall(r"\d+", each)))) for title, each in named]
    for title, number in parts:
        rows = [row for row in now if title in row["Why, and what to check"].split("Why it")[0]]
        held.true("gravest", (one, title), len(rows) <= number)
    if parts and "more" not in (told[1] if told else ""):
        held.true("gravest in all", one, sum(number for _, number in parts) >= len(now))


def hold_targets(held: Held, said: Iterable[Said], found: list[Table]) -> None:
    """The sentence on targets: its parts are the whole, and the table's."""
    rows = [
        row
        for table in found
        if table.section == "measures"
        for row in table.rows
        if table.caption.startswith("Each measure in")
    ]
    with_target = [row for row in rows if row.get("Target", DASH) not in {DASH, ""}]
    for one in said:
        words = re.match(r"On target: (\d+) of (\d+) measures? with a target(.*)", one.words)
        if not words:
            continue
        met = [row for row in with_target if "target met" in row["Signal"]]
        held.same("targets", one, (int(words[1]), int(words[2])), (len(met), len(with_target)))
        rest = sum(int(number) for number in re.findall(r"(?<=[ ;])(\d+)(?= )", words[3]))
        held.same("parts of targets", one, int(words[1]) + rest, int(words[2]))


KINDS = {"error": "cannot be right", "query": "unlikely", "note": "worth knowing"}
UNKNOWN_WORD, WHOLE = "word not known", "on a whole column"


def flag_totals(true: Truth, month: pd.Timestamp | None = None) -> dict[str, int]:
    """Return how many flags there are of each kind; of a month: on newborns born in it."""
    flags = true.flags
    kind = flags["severity"].map(KINDS).mask(flags["rule_id"] == "not_on_list", UNKNOWN_WORD)
    kind = kind.mask(flags["record_id"].isna(), WHOLE)
    return dict((kind if month is None else kind[flags["birth_month"] == month]).value_counts())


def hold_flags(held: Held, found: list[Table], true: Truth, month: pd.Timestamp) -> None:
    every, of_month = flag_totals(true), flag_totals(true, month)
    for table in found:
        if table.section != "quality" or "All months" not in table.heads:
            continue
        sums: dict[str, list[int]] = {}
        for row in table.rows:
            total = sums.setdefault(row["Kind"], [0, 0])
            total[0] += int(row[table.heads[-3]])
            total[1] += int(row["All months"])
        for kind, total in sums.items():
            true_ones = [of_month.get(kind, 0), every.get(kind, 0)]
            held.same("flags", (table.caption, kind), total, true_ones)


def hold_head(held: Held, said: Iterable[Said], true: Truth, month: pd.Timestamp) -> None:
    """The births beside the title, and the values that the first screen and the worklist count."""
    live, born = true.live[month], true.born[month]
    totals = flag_totals(true, month)
    for one in said:
        found = re.match(r"(\d+) births?(?: and (\d+) stillbirths?)?\. Internal", one.words)
        if found:
            held.same("births", one, (int(found[1]), int(found[2] or 0)), (live, born - live))
        for number in re.findall(r"(\d+) values? of this month cannot be right", one.words):
            held.same("flags", one, int(number), totals.get("cannot be right", 0))

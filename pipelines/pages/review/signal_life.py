"""Signals and what became of them: the section, what is news since the last review, chart marks."""

from typing import Any, Final

import pandas as pd

from pipelines.base.frames import checked, columns_of, rows_of
from pipelines.base.kept import kept_on_data
from pipelines.definitions.signal_lines import ACCEPTED
from pipelines.pages.review import first_screen as sentences
from pipelines.pages.review.frames import MeasureRow, SinceRow
from pipelines.pages.review.harm.words import alarm_words
from pipelines.pages.review.read import ReviewData
from pipelines.pages.shell.markup import Part, part
from pipelines.reading.life import NOT_ANSWERED, LifeRow, LineRow
from pipelines.reading.signals import NOT_MOVED
from pipelines.statistics.over_time import WORSE
from pipelines.words import of_life, of_measures, of_numbers, of_signals, of_verdicts

NEW: Final = "new"
STILL_OPEN: Final = "still open"
ANSWERED: Final = "answered"
SETTLED: Final = "settled"
NEWS: Final = (NEW, STILL_OPEN, ANSWERED, SETTLED)


def _key(row: LifeRow) -> tuple[str, str]:
    return row["measure_id"], row["sense"]


def _open(row: LifeRow) -> bool:
    return row["is_urgent"] or row["is_left"]


def _news(then: LifeRow | None, now: LifeRow) -> str | None:
    """Say what is new of a signal; None where nothing is, as of what goes on being better."""
    if now["state"] not in NOT_ANSWERED and (then is None or then["state"] != now["state"]):
        return SETTLED if now["state"] == "settled" else ANSWERED
    if then is None or _is_another(then, now):
        return NEW if now["speaks"] or _open(now) else None
    if _open(now):
        return STILL_OPEN
    return SETTLED if then["speaks"] and not now["speaks"] else None


def _is_another(then: LifeRow, now: LifeRow) -> bool:
    """Return whether the signal spoke again after the one that was known had ended."""
    spoke, last = now["spoke_on"], then["last_on"]
    return spoke is not None and last is not None and not then["speaks"] and spoke > last


@kept_on_data
def since_last_review(data: ReviewData) -> pd.DataFrame:
    """Return what is news of signals since the review of the month before; SinceRow.

    The month before is judged again from the months and the dated lines there were then, with
    today's numbers of those months. New: it speaks now and did not then. Still open: worse, and
    nobody has answered it. Answered: explained, or accepted as the new level, since. Settled: it
    no longer speaks, or was written down as over.
    """
    before = {_key(row): row for row in rows_of(data.lives_before, LifeRow)}
    titles = dict(zip(data.measures["measure_id"], data.measures["title"], strict=True))
    rows = []
    for now in rows_of(data.lives, LifeRow):
        news = _news(before.get(_key(now)), now)
        if news:
            told = of_life.since_words(now)
            title = str(titles[now["measure_id"]])
            rows.append({**_of(now), "title": title, "news": news, "words": told})
    present = {_key(row) for row in rows_of(data.lives, LifeRow)}
    for key, then in before.items():
        if key not in present and then["speaks"]:
            title = str(titles.get(then["measure_id"], then["measure_id"]))
            words = "no longer speaks"
            rows.append({**_of(then), "title": title, "news": SETTLED, "words": words})
    frame = pd.DataFrame(rows, columns=list(columns_of(SinceRow)))
    order = frame["news"].map(NEWS.index) if len(frame) else frame["news"]
    worse = frame["sense"] != WORSE
    frame = frame.assign(order=order, worse=worse).sort_values(["order", "worse", "title"])
    return checked(frame.drop(columns=["order", "worse"]).reset_index(drop=True), SinceRow)


def _of(row: LifeRow) -> dict[str, object]:
    return {"measure_id": row["measure_id"], "sense": row["sense"]}


def _state_line(data: ReviewData, life: LifeRow, rows: dict[str, MeasureRow]) -> dict[str, Any]:
    row = rows[life["measure_id"]]
    is_now = life["speaks"] and row["change"] == life["sense"]
    less = of_measures.thinner_words(row) if is_now else ""
    words = of_measures.moved_words(row) if is_now else of_life.since_words(life)
    if life["by_sum"]:
        words = f"{words}; {alarm_words(data.harms, life['measure_id'])}"
    strength = row["strength"] if is_now else None
    return {
        "measure_id": row["measure_id"],
        "title": row["title"],
        "now": of_measures.reading(row) if row["counted"] else of_numbers.NONE,
        "words": f"{words}; {less}" if less else words,
        "sense": "better on paper" if less else life["sense"],
        "state": of_life.state_words(life),
        "strength": of_numbers.NONE if strength is None else f"{strength:.1f}",
        "by_luck": of_signals.share_by_luck(row["by_luck"] if is_now else None),
    }


def _ordered(data: ReviewData) -> list[LifeRow]:
    """Return all signals: what nobody answered first, then what speaks, the least by luck first."""
    strength = data.measures[["measure_id", "by_luck", "strength"]]
    lives = data.lives.merge(strength, on="measure_id").assign(
        worse=lambda rows: rows["sense"] == WORSE
    )
    keys = {"is_urgent": False, "is_left": False, "speaks": False, "worse": False}
    keys |= {"by_luck": True, "strength": False}
    ordered = lives.sort_values(
        list(keys), ascending=list(keys.values()), kind="stable", na_position="last"
    )
    return rows_of(ordered, LifeRow)


def signals(data: ReviewData) -> Part:
    """Return every signal of the last twelve months with its state, and what is news of them."""
    rows = {row["measure_id"]: row for row in rows_of(data.measures, MeasureRow)}
    compared = sentences.compared(data)
    news = rows_of(since_last_review(data), SinceRow)
    kinds = [(kind, [row for row in news if row["news"] == kind]) for kind in NEWS]
    return part(
        "pages/review/signals",
        verdicts=[(one.title, of_verdicts.whole(one)) for one in data.verdicts],
        news=kinds,
        no_news=", ".join(kind for kind, rows in kinds if not rows),
        since=f"{data.month - pd.DateOffset(months=1):%B %Y}",
        signals=[_state_line(data, life, rows) for life in _ordered(data)],
        how=of_life.HOW_TO_ANSWER,
        luck=of_signals.luck_words(compared),
        setting=of_signals.setting_words(compared),
    )


def line_list(data: ReviewData, measure_id: str) -> list[str]:
    """Return the dated lines of one measure in words, the latest first."""
    own = data.lines[data.lines["measure_id"] == measure_id]
    return [of_life.line_words(row) for row in rows_of(own.iloc[::-1], LineRow)]


def with_lines(data: ReviewData, measure_id: str, changes: pd.DataFrame) -> pd.DataFrame:
    """Return the changes that a chart marks, and beside them what was said of its signals.

    An accepted level is marked where it begins, every other line on its date.
    """
    own = data.lines[data.lines["measure_id"] == measure_id]
    if own.empty:
        return changes
    is_level = own["step"] == ACCEPTED
    marks = pd.DataFrame(
        {
            "measure_id": own["measure_id"],
            "start_on": own["level_from"].where(is_level, own["said_on"]),
            "words": [of_life.mark_words(step) for step in own["step"]],
            "kind": "signal",
        }
    )
    both = [one for one in (changes, marks) if len(one)]
    return pd.concat(both, ignore_index=True).sort_values("start_on", ignore_index=True)


def is_at_rest(row: MeasureRow) -> bool:
    """Return whether a measure has nothing to say: its chart then stays off paper."""
    return row["rank"] > 1 and row["change"] in NOT_MOVED

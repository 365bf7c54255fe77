"""What a signal's life says: not explained yet, explained, accepted, settled."""

from typing import Final

import pandas as pd

from pipelines.definitions.signal_lines import ACCEPTED, EXPLAINED, OPENED, SETTLED
from pipelines.reading.frames import MeasureNow
from pipelines.reading.life import NEW, NOTHING, LifeRow, LineRow
from pipelines.words.of_numbers import is_missing

STATE_WORDS: Final = {
    NEW: "new: not explained yet",
    OPENED: "taken up, not explained yet",
    EXPLAINED: "explained",
    ACCEPTED: "accepted as the new level",
    SETTLED: "settled",
}
NOBODY: Final = "not explained yet"
HOW_TO_ANSWER: Final = (
    "A signal is answered by a dated line under [[signals]] of the unit's file, with a role and a "
    "reason: explained, accepted as the new level, or settled once it is over. Until then the old "
    "limits go on speaking, for better and for worse."
)


def day(moment: pd.Timestamp) -> str:
    """Write a day.

    >>> day(pd.Timestamp("2025-09-01"))
    '1 September 2025'
    """
    return f"{moment.day} {moment:%B %Y}"


def by_role(role: str | None) -> str:
    """Write who said it.

    >>> by_role("unit educator"), by_role("the night team")
    ('the unit educator', 'the night team')
    """
    return str(role) if str(role).lower().startswith("the ") else f"the {role}"


def line_words(line: LineRow) -> str:
    """Say one dated line of the unit's file in a sentence."""
    step = {
        OPENED: "taken up",
        EXPLAINED: "explained",
        SETTLED: "settled",
        ACCEPTED: "accepted as the new level",
    }[line["step"]]
    if line["level_from"] is not None and not is_missing(line["level_from"]):
        step += f" from {line['level_from']:%b %y} on"
    reason = line["reason"].rstrip(".")
    return f"{day(line['said_on'])}: {step} by {by_role(line['role'])}: {reason}."


def mark_words(step: str) -> str:
    """Say a line in the few words that fit beside a rule of a chart."""
    return {
        OPENED: "signal taken up",
        EXPLAINED: "signal explained",
        SETTLED: "signal settled",
        ACCEPTED: "new level accepted",
    }[step]


def _answer(state: str, said_on: pd.Timestamp | None, role: str | None, reason: str | None) -> str:
    if state == NEW or said_on is None or is_missing(said_on):
        return NOBODY
    why = str(reason).rstrip(".")
    said = f"{STATE_WORDS[state].split(',')[0]} on {day(said_on)} by {by_role(role)}: {why}"
    return f"{said}; {NOBODY}" if state == OPENED else said


def said_words(line: LineRow) -> str:
    """Say a line as the answer to what got worse."""
    return _answer(line["step"], line["said_on"], line["role"], line["reason"])


def answer_words(life: LifeRow) -> str:
    """Say who answered a signal and how; or that nobody has, and whether it is over."""
    said = _answer(life["state"], life["said_on"], life["role"], life["reason"])
    last = life["last_on"]
    if life["is_left"] and last is not None and not is_missing(last):
        return f"it ended with {last:%b %y}, and is {said}"
    return said


def now_words(row: MeasureNow) -> str:
    """Say the same of a measure's signal; empty where it has none to answer.

    What got better needs no answer, and is told only where somebody gave one.
    """
    state, said_on = row["life_state"], row["life_said_on"]
    if state == NOTHING:
        return ""
    if row["life_sense"] != "worse":
        return f"{STATE_WORDS[state]} on {day(said_on)}" if state == ACCEPTED and said_on else ""
    said = _answer(row["life_state"], row["life_said_on"], row["life_role"], row["life_reason"])
    last = row["life_last_on"]
    if row["is_left"] and last is not None and not is_missing(last):
        return f"worse until {last:%b %y}; {said}"
    return said


def state_words(life: LifeRow) -> str:
    """Say the state of a signal for a list, with since when and who said so."""
    if life["said_on"] is None or is_missing(life["said_on"]):
        if not life["speaks"]:
            return answer_words(life) if life["is_left"] else "no longer speaks"
        began = life["began_on"]
        seen = "" if began is None or is_missing(began) else f", seen since {began:%b %y}"
        return (NOBODY if life["sense"] == "worse" else "still speaks") + seen
    return answer_words(life)


def since_words(life: LifeRow) -> str:
    """Say a signal in a few words: its sense, since when, or until when, and its state."""
    began, last = life["began_on"], life["last_on"]
    known = not (began is None or last is None or is_missing(began) or is_missing(last))
    if life["state"] == ACCEPTED and not life["speaks"]:
        return f"{life['sense']} from {began:%b %y} on" if known else life["sense"]
    if not known:
        return life["sense"]
    if life["speaks"]:
        return f"{life['sense']}, seen since {began:%b %y}"
    return f"{life['sense']} {'in' if began == last else f'from {began:%b %y} to'} {last:%b %y}"


def short_words(row: MeasureNow) -> str:
    """Say in a table's cell whether what got worse has been answered; empty for the rest."""
    if row["life_sense"] != "worse" or row["life_state"] == NOTHING:
        return ""
    last = row["life_last_on"]
    if row["is_left"] and last is not None and not is_missing(last):
        return f"worse until {last:%b %y}, never explained"
    return {NEW: "not explained yet", OPENED: "taken up", ACCEPTED: "accepted"}.get(
        row["life_state"], row["life_state"]
    )

"""Why a record is read, in words: the measure, the reading or the minutes, how far out they are."""

from collections import Counter
from collections.abc import Sequence
from typing import Final

from pipelines.definitions.states import state_words
from pipelines.pages.review.frames import BornRow, RecordFlagRow, RecordMeasureRow
from pipelines.words import of_states
from pipelines.words.of_numbers import SPACE, column, count, words

_STATE: Final = state_words("sentence")
_SHIFT: Final = {"day": "by day", "night": "at night"}
# Minutes of these kinds count from when the episode began or the finding was made.
_FROM_ITS_START: Final = ("episode", "finding")


def plain(value: float) -> str:
    """Write a reading with one decimal, with two only where the second says something.

    >>> plain(36.0), plain(36.44), plain(0.30000000000000426)
    ('36.0', '36.44', '0.3')
    """
    one = f"{value:.1f}"
    return one if abs(value - float(one)) < 0.005 else f"{value:.2f}"


def whole_minutes(minutes: float) -> str:
    """Write minutes without decimals; what is under one minute is not told as none.

    >>> whole_minutes(143.4).replace(SPACE, " "), whole_minutes(0.3).replace(SPACE, " ")
    ('143 min', 'less than 1 min')
    """
    if 0 < minutes < 0.5:
        return f"less than 1{SPACE}min"
    return f"{round(minutes)}{SPACE}min"


def lateness(minutes: float | None, due: float | None, window: str, since: str = "at") -> str:
    """Say when it was done and by how much it was late, or which window it missed.

    >>> lateness(84, 60, "").replace(SPACE, " ")
    'at 84 min, 24 min late'
    >>> lateness(200, None, "up to 120 minutes", "after").replace(SPACE, " ")
    'after 200 min, window: up to 120 minutes'
    """
    if minutes is None:
        return ""
    done = f"{since} {whole_minutes(minutes)}"
    if due is not None:
        return f"{done}, {whole_minutes(minutes - due)} late"
    return done + (f", window: {window}" if window else "")


def reading(row: RecordMeasureRow) -> str:
    """Say the reading a state rests on, when it was taken and how far it is from its edge."""
    value, edge, unit = row["value"], row["edge"], row["value_unit"] or ""
    if value is None:
        return ""
    text = f"{plain(value)}{SPACE}{unit}".rstrip()
    if row["value_minutes"] is not None:
        text += f" at {whole_minutes(row['value_minutes'])}"
    if edge is None or value == edge:
        return text
    side = "above" if value > edge else "below"
    away, held = plain(abs(value - edge)), plain(edge)
    return f"{text}, {away}{SPACE}{unit} {side} {held}{SPACE}{unit}"


def states_its_reading(kind: str, state: str) -> bool:
    """Return whether a reading out of range is all that is told; an episode only begins with it."""
    return kind not in _FROM_ITS_START and state in ("met", "not_met")


def _state(row: RecordMeasureRow) -> str:
    """Say what is missed; that something happened is said by the measure's own title."""
    if row["state"] == "late":
        since = "after" if row["kind"] in _FROM_ITS_START else "at"
        told = lateness(row["minutes"], row["due_minutes"], row["window_words"] or "", since)
        return told or _STATE["late"]
    text = _STATE.get(row["state"], "")
    if states_its_reading(row["kind"], row["state"]) and row["value"] is not None:
        text = ""  # the reading says it
    if row["reason"] is not None:
        text += f" ({row['reason'].replace('_', ' ')})"
    return text


def measure_words(row: RecordMeasureRow) -> str:
    """Say one reason: the measure, of what or at which reading, what was missed, by how much."""
    about = ", ".join(text for text in (words(row["detail"] or ""), reading(row)) if text)
    state = _state(row).strip()
    if about and state:
        return f"{row['title']} ({about}): {state}"
    return f"{row['title']}: {about or state}".removesuffix(": ")


def flag_words(row: RecordFlagRow) -> str:
    """Say which value cannot be right or is unlikely; why stands on the data quality page."""
    judged = of_states.SEVERITY_WORDS[row["severity"]]
    return f"value that {_IS[row['severity']]}{judged}: {row['table_name']}, " + column(
        row["column_name"]
    )


_IS: Final = {"error": "", "query": "is ", "note": "is "}


def born_words(month: str, row: BornRow | None) -> str:
    """Say when a newborn was born, without a date: month, shift, running order in the month."""
    if row is None:
        return month
    shift = _SHIFT.get(row["shift"] or "", "")
    place = f"number {count(row['place'])} of {count(row['newborns'])} born"
    return ", ".join(part for part in (month, shift, place) if part)


def told_once(reasons: Sequence[str]) -> list[str]:
    """Say what several rows of one newborn have in common once, with how often.

    >>> told_once(["a", "b", "a"])
    ['a (2 times)', 'b']
    """
    return [
        f"{text} ({number} times)" if number > 1 else text
        for text, number in Counter(reasons).items()
    ]

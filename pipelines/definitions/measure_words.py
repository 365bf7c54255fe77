"""A measure's declaration in words: its window, band and exclusions."""

from pipelines.definitions.owners import COOLING, ENDS
from pipelines.definitions.read_measures import Band, Measure


def plain_number(value: float) -> str:
    return f"{value:g}"


def window_words(measure: Measure, band: Band | None = None) -> str:
    """Say the default window or band in words."""
    if band is not None:
        low = f"at least {plain_number(band.at_least)}" if band.at_least is not None else ""
        high = f"below {plain_number(band.below)}" if band.below is not None else ""
        return f"{' and '.join(part for part in (low, high) if part)} {band.unit}"
    low_edge, high_edge = measure.window.get("at_least", 0), measure.window.get("at_most")
    if high_edge is None:
        return ""
    start = f"from {time_words(low_edge)} to " if low_edge else "up to "
    return f"{start}{time_words(high_edge)}, the last minute included"


def time_words(minutes: float) -> str:
    """Say a time after birth in the largest unit that fits it evenly.

    >>> time_words(90), time_words(360), time_words(43200)
    ('90 minutes', '6 hours', '30 days')
    """
    if minutes > 48 * 60 and minutes % 1440 == 0:
        return f"{plain_number(minutes / 1440)} days"
    if minutes >= 120 and minutes % 60 == 0:
        return f"{plain_number(minutes / 60)} hours"
    return f"{plain_number(minutes)} minutes"


_BORN = {
    "born_here": ("born on the way", "born elsewhere"),
    "born_here_or_arrived": ("born elsewhere where the arrival is not known",),
}


def exclusion_words(measure: Measure) -> str:
    """Say who is none of this measure's newborns, by its owner."""
    parts = ["stillborn", *_BORN.get(measure.text("owner"), ())]
    arrived = measure.numbers.get("arrived_before")
    if isinstance(arrived, float):
        parts.append(f"brought in {time_words(arrived)} or more after birth")
    if measure.owner.is_ended:
        before = ["died", "comfort care"] + ["cooled"] * (COOLING in measure.exclude)
        parts.append(f"{', '.join(before)} before the window closed and before it could be judged")
    return "; ".join(parts)


def exception_words(measure: Measure) -> str:
    """Say the accepted reasons: those of the header, and what ends an event."""
    own = measure.text("exceptions").removeprefix("None.").strip()
    own = "" if own in {"", "None"} else own
    if not measure.owner.is_ended:
        return own or "None."
    home = " or went home" if measure.going_home == ENDS else ""
    ended = f"Moved away{home} before the window closed and before it could be judged."
    return f"{own} {ended}".strip()

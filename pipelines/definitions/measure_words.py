"""A measure's declaration in words: its window, band and exclusions."""

from pipelines.definitions.read_measures import STANDARD_EXCLUSIONS, Band, Measure


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


def exclusion_words(measure: Measure) -> str:
    return "; ".join(STANDARD_EXCLUSIONS[name][1] for name in measure.exclude)

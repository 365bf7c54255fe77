"""What two columns say together: a date and a time, weeks and days, the key of two files."""

from collections.abc import Sequence
from typing import Final

from pipelines.definitions.local_words import phrases
from pipelines.drafts.export_columns import Local, Shape
from pipelines.drafts.fits import dated
from pipelines.drafts.name_match import best_of, one_of, without, without_units
from pipelines.drafts.proposals import Proposal, worst

_UNIQUE: Final = 0.98  # a newborn that stands twice must not hide the key
_SHARED: Final = 0.9  # of a file's rows whose key the admission file has
_LEAST: Final = 10  # newborns from which a column in which no text stands twice is a key


def _join(first: Local, second: Local) -> Local:
    cells = [
        f"{one} {other}" if one and other else ""
        for one, other in zip(first.cells, second.cells, strict=True)
    ]
    return Local((*first.names, *second.names), cells)


def with_pairs(shape: Shape) -> list[Local]:
    """Return the columns of a file, a date and a time of one name joined into one.

    Where a file has a single date and a single time of day they belong together, too.
    """
    dates = [one for one in shape.columns if one.date_forms and not one.forms]
    clocks = [one for one in shape.columns if one.is_clock]
    pairs: list[tuple[Local, Local]] = []
    for date in dates:
        same = [one for one in clocks if dated(one.words) == dated(date.words)]
        if len(same) == 1 and sum(dated(one.words) == dated(date.words) for one in dates) == 1:
            pairs.append((date, same[0]))
    if not pairs and len(dates) == len(clocks) == 1:
        pairs = [(dates[0], clocks[0])]
    gone = {id(one) for pair in pairs for one in pair}
    kept = [one for one in shape.columns if id(one) not in gone]
    return [*(_join(*pair) for pair in pairs), *kept]


def weeks_and_days(columns: Sequence[Local]) -> Proposal | None:
    """Return gestation from a column of weeks and one of days beside it, where there are two."""
    gestation = phrases("admission")["gestational_age_days"]
    weeks = [one for one in columns if _are(one, "weeks", 20, 45)]
    days = [one for one in columns if _are(one, "days", 0, 6)]
    weeks = [one for one in weeks if not one_of(one.words, "days") or one_of(one.words, "weeks")]
    named = [one for one in weeks if _says(one, "weeks", gestation)]
    beside = [one for one in days if _says(one, "days", gestation)]
    if len(named) == 1 and len(beside) == 1:
        why = "the names say weeks and days; 20 to 45 and 0 to 6"
        names = (*named[0].names, *beside[0].names)
        return Proposal("gestational_age_days", names, "sure", why, form="weeks_and_days")
    return None


def _are(local: Local, mark: str, low: int, high: int) -> bool:
    if not local.is_number or not local.is_whole or not one_of(local.words, mark):
        return False
    return bool(((local.numbers >= low) & (local.numbers <= high)).mean() >= 0.95)


def _says(local: Local, mark: str, of: object) -> bool:
    words = without(without_units(local.words), mark)
    return bool(best_of(words, "", of).score >= 0.6) or words == local.words  # type: ignore[arg-type]


def _is_unique(local: Local) -> bool:
    plain = not (local.is_time or local.is_month or local.date_forms or local.is_clock)
    enough = len(local.texts) >= min(_LEAST, max(2, len(local.cells)))
    return plain and enough and len(local.distinct) >= _UNIQUE * len(local.texts)


def key_candidates(shape: Shape) -> list[Local]:
    """Return the columns of a file in which hardly a text stands twice, as a key does."""
    found = [one for one in shape.columns if _is_unique(one)]
    found = [one for one in found if not (one.is_number and not one.is_whole)]
    return [one for one in found if len(one.texts) >= 0.98 * shape.rows]


def _named_key(local: Local) -> bool:
    return best_of(local.words, "record_id", phrases("admission")["record_id"]).is_said


def choose_key(shape: Shape, others: Sequence[Shape]) -> Proposal | None:
    """Return the key of the admission file: unique, named so, or found in the other files."""
    rated = []
    for local in key_candidates(shape):
        shared = [_shared_with(local, other) for other in others]
        rated.append((min(shared, default=0.0) >= _SHARED, _named_key(local), local, shared))
    if not rated:
        return None
    rated.sort(key=lambda one: (-one[0], -one[1]))
    is_shared, is_named, local, shared = rated[0]
    rivals = [one for one in rated[1:] if one[:2] == (is_shared, is_named)]
    level = worst("sure" if is_named or is_shared else "check", "check" if rivals else "sure")
    why = "no text stands twice"
    why += "; the name says it" if is_named else ""
    if others:
        why += f"; {sum(one >= _SHARED for one in shared)} of {len(others)} other files share it"
    return Proposal("record_id", local.names, level, why)


def _shared_with(key: Local, other: Shape) -> float:
    return max((_overlap(key, one) for one in other.columns), default=0.0)


def _overlap(key: Local, other: Local) -> float:
    """Return the share of a column's distinct texts that the key's column has."""
    if not other.texts or other.is_time:
        return 0.0
    return len(other.distinct & key.distinct) / len(other.distinct)


def key_of_events(key: Local, shape: Shape) -> Proposal | None:
    """Return the column of another file that has the admission's keys."""
    rated = sorted(((_overlap(key, one), one) for one in shape.columns), key=lambda one: -one[0])
    share, local = rated[0]
    # Small numbers are shared by chance: a count is no key.
    few = len(local.distinct) < _LEAST and not _named_key(local)
    if share < 0.5 or few:
        return None
    second = rated[1][0] if rated[1:] else 0.0
    level = worst("sure" if share >= _SHARED else "check", "check" if second >= _SHARED else "sure")
    return Proposal(
        "record_id", local.names, level, f"{share:.0%} of its keys stand in the admission file"
    )

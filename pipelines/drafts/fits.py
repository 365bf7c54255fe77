"""Whether the texts of a column can be what its name says: units by range, patterns, words.

Each test returns a ``Fit``. The ranges are those in which nine of ten newborns of a birth unit
lie (from memory of common practice); they choose a unit of measure, and judge no newborn.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from pipelines.base.measuring_units import conversions
from pipelines.definitions.local_words import phrases, plain
from pipelines.definitions.read_contract import Column
from pipelines.drafts.export_columns import Local, Shape
from pipelines.drafts.name_match import said, unit_of, without

# Canonical column or kind -> where its median and nine in ten of it lie, in the canonical unit.
RANGES: Final[Mapping[str, tuple[float, float, float, float]]] = {
    # low, median from, median to, high
    "weight_g": (900, 2400, 4200, 5600),
    "length_cm": (32, 44, 54, 60),
    "head_circumference_cm": (24, 31, 38, 41),
    "room_temperature_c": (14, 17, 29, 34),
    "maternal_temperature_c": (35, 36.2, 38.2, 40.5),
    "temperature": (33.5, 35.8, 37.8, 40),
    "heart_rate": (85, 110, 165, 205),
    "respiratory_rate": (20, 34, 62, 95),
    "glucose": (18, 40, 95, 160),
    "oxygen_saturation": (70, 90, 100, 100.1),
    "bilirubin": (0.4, 2.5, 14, 24),
    "weight": (900, 2300, 4200, 5600),
}
_WEEKS: Final = (22, 36, 41.5, 44)
_DAYS: Final = (154, 252, 292, 308)
_ENOUGH: Final = 0.9  # share of newborns whose word has a meaning


@dataclass(frozen=True)
class Fit:
    """Whether the content fits, how it is read, and why; ``None``: it says nothing either way."""

    fits: bool | None
    why: str
    unit: str | None = None
    form: str | None = None
    words: Mapping[str, str | None] = field(default_factory=dict)


def _within(local: Local, bounds: tuple[float, float, float, float], change: float = 1.0) -> bool:
    low, mid, high = (one * change for one in local.middle)
    return bounds[0] <= low and bounds[1] <= mid <= bounds[2] and high <= bounds[3]


def _range_words(local: Local) -> str:
    low, _, high = local.middle
    low_said, high_said = (
        f"{one:,.0f}" if abs(one) >= 100 else f"{one:.3g}" for one in (low, high)
    )
    return f"nine of ten from {low_said} to {high_said}"


def measured(local: Local, name: str, canonical: str, substance: str | None = None) -> Fit:
    """Choose the unit by range; where the name says one, it must be among those that fit."""
    if not local.is_number or len(local.numbers) < 10:
        return Fit(False if local.texts and not local.is_number else None, "too few numbers")
    units = [
        unit
        for unit, rule in conversions(canonical, substance).items()
        if _in_unit(local, RANGES[name], rule.to_canonical)
    ]
    named = unit_of(local.words)
    seen = _range_words(local)
    if named and named in units:
        return Fit(True, f"{seen}, in {named} as the name says", named)
    if named:
        return Fit(False, f"{seen}, which is not {name} in {named}")
    if len(units) == 1:
        return Fit(True, f"{seen}, which is {units[0]}", units[0])
    return Fit(False, f"{seen}, which fits {' or '.join(units) or 'no unit'}")


def _in_unit(local: Local, bounds: tuple[float, float, float, float], change: object) -> bool:
    low, mid, high = (change(one) for one in local.middle)  # type: ignore[operator]
    # Half a unit of rounding at each end.
    return bool(bounds[0] <= low and bounds[1] <= mid <= bounds[2] and high <= bounds[3])


def gestation(local: Local) -> Fit:
    if local.is_gestation:
        return Fit(True, "written as weeks and days", form="weeks_and_days")
    if local.is_number and len(local.numbers) >= 10:
        seen = _range_words(local)
        if local.is_whole and _within(local, _WEEKS):
            return Fit(True, f"{seen}: whole weeks", form="completed_weeks")
        if local.is_whole and _within(local, _DAYS):
            return Fit(True, f"{seen}: days")
        return Fit(False, f"{seen}: neither whole weeks nor days")
    return Fit(False if local.texts else None, "neither weeks and days nor numbers")


def whole(local: Local, low: float, high: float) -> Fit:
    """Whole numbers between two bounds, but for a slip in twenty."""
    if not local.is_number:
        return Fit(False if local.texts else None, "no numbers")
    inside = ((local.numbers >= low) & (local.numbers <= high)).mean()
    if local.is_whole and inside >= 0.95:
        return Fit(True, f"whole numbers from {low:g} to {high:g}")
    return Fit(False, f"not whole numbers from {low:g} to {high:g}")


def codes_of(column: str, table: str) -> str:
    """Return the section of ``[codes]`` that has the words of a column of a table."""
    if column in {"status", "site"}:
        return f"{table}_{column}"
    return column


def meanings(words: list[str], column: Column, table: str) -> dict[str, str | None]:
    """Return word -> the code that it means in this column, None where no phrase says it."""
    section = "boolean" if column.type == "boolean" else codes_of(column.name, table)
    known = phrases("codes", section)
    found: dict[str, str | None] = {}
    for word in words:
        allowed = [
            one.name
            for one in said(plain(word), known)
            if column.type == "boolean" or one.name in column.allowed
        ]
        found[word] = allowed[0] if len(allowed) == 1 else None
    if column.name == "sex":
        _settle_letters(found)
    return found


def _settle_letters(found: dict[str, str | None]) -> None:
    """M is male beside F or W, and may be female (mujer) beside H or V."""
    letters = {word.casefold() for word in found}
    if "m" in letters and letters & {"v", "h"} and not letters & {"f", "w"}:
        found.update({word: None for word in found if word.casefold() in {"m", "v", "h"}})


def choices(shape: Shape, local: Local, column: Column, table: str) -> Fit:
    """Words of a list: on what share of the newborns with a word the meaning is known."""
    if not local.is_choice:
        return Fit(False if local.texts else None, "no list of words")
    words = shape.words_of(local)
    means = meanings(words, column, table)
    newborns = shape.newborns_with(local)
    total = sum(newborns.values())
    known = sum(newborns[word.casefold()] for word, code in means.items() if code)
    share = known / total if total else 0.0
    why = f"the words of {share:.0%} of its newborns are known"
    if share >= _ENOUGH:
        return Fit(True, why, words=means)
    return Fit(None if share >= 0.5 else False, why, words=means)


def _minutes(local: Local, is_clock: bool) -> Fit:
    if is_clock:
        if local.is_time:
            return Fit(True, "times")
        return Fit(False if local.texts else None, "no times")
    if local.is_number and local.is_whole:
        return Fit(True, f"whole numbers, {_range_words(local)}")
    return Fit(False if local.texts else None, "no minutes")


_WHOLE: Final[Mapping[str, tuple[float, float]]] = {
    "birth_weekday": (1, 7), "birth_hour": (0, 23), "birth_order": (1, 1e7), "plurality": (1, 8),
    "apgar_1": (0, 10), "apgar_5": (0, 10), "apgar_10": (0, 10), "apgar_15": (0, 10),
    "apgar_20": (0, 10),
}  # fmt: skip


def fit(shape: Shape, local: Local, column: Column, table: str, *, is_clock: bool) -> Fit:
    """Say whether a column of an export can be a canonical column of ``table``."""
    if column.name == "gestational_age_days":
        return gestation(local)
    if column.name in _WHOLE:
        return whole(local, *_WHOLE[column.name])
    if column.name in RANGES:
        return measured(local, column.name, column.unit or "")
    if column.type in {"code", "boolean"}:
        return choices(shape, local, column, table)
    return _of_type(local, column.type, is_clock=is_clock)


def _of_type(local: Local, type_: str, *, is_clock: bool) -> Fit:
    if type_ == "minutes":
        return _minutes(local, is_clock)
    listed = local.is_choice and not local.identifies
    found = {
        "instant": Fit(local.is_time, "times"),
        "month": Fit(local.is_month, "months"),
        "decimal": Fit(local.is_number, "numbers"),
        "integer": Fit(local.is_number, "numbers"),
        # Nothing in the words of a category says that they are of it.
        "category": Fit(True if listed else None, "words of a list"),
    }
    return found.get(type_, Fit(None, "texts"))


def dated(words: tuple[str, ...]) -> tuple[str, ...]:
    """Return the words of a name without those that only say that it is a date or a time.

    >>> dated(("entlassung", "datum")), dated(("geburtsdatum",))
    (('entlassung',), ('geburt',))
    """
    rest = without(words, "date", "clock")
    return rest if rest != words or len(words) != 1 else (_stem(words[0]),)


def _stem(word: str) -> str:
    for ending in ("datum", "uhrzeit", "zeit", "date", "time", "tag"):
        if word.endswith(ending) and len(word) > len(ending) + 2:
            return word.removesuffix(ending).removesuffix("s")
    return word

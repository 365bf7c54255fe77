"""Heaping: how often the last digit of a reading is each of 0 to 9, against what is expected.

Where a sign varies over many tens the ten digits are alike. Temperatures do not: they keep within
a degree, so their digits are held against what neighbouring readings suggest.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from pipelines.base.frames import checked
from pipelines.pages.quality.frames import DigitRow
from pipelines.pages.quality.read import QualityData

AT_LEAST: Final = 200  # fewer readings say little about ten digits
# A digit that stands out: by five points, far beyond chance in as many readings.
EXCESS: Final = 0.05
Z_BEYOND_CHANCE: Final = 3.72  # one-sided p < 1e-4 (standard normal)
_FAR_ABOVE: Final = 1.5  # times what the neighbours suggest
# Weights of the points one to four steps away for the height of a parabola in the middle:
# 1/4 - 7.5 (x^2 - 7.5) / 129, from the normal equations for x^2 = 1, 4, 9, 16.
_PARABOLA: Final = tuple(0.25 - 7.5 * (x**2 - 7.5) / 129 for x in (1, 2, 3, 4))


@dataclass(frozen=True)
class Heap:
    """The digits of one kind of reading.

    ``digits``: digit (text), observed, expected (shares of 1), stands_out. ``extra``: (words,
    observed share, expected share) of a further pattern such as multiples of 4.
    """

    title: str
    what: str
    readings: int
    digits: pd.DataFrame
    extra: tuple[str, float, float]
    meaning: str

    @property
    def heaped(self) -> pd.DataFrame:
        """The digits that stand out beyond chance and by five points."""
        return self.digits[self.digits["stands_out"]]

    @property
    def extra_stands_out(self) -> bool:
        return stands_out(self.extra[1], self.extra[2], self.readings)


def stands_out(observed: float, expected: float, number: int) -> bool:
    """Return whether a share lies above the expected one by five points and beyond chance."""
    spread = np.sqrt(max(expected * (1 - expected), 1e-9) / number)
    return bool(observed - expected >= EXCESS and (observed - expected) / spread > Z_BEYOND_CHANCE)


def _by_digit(steps: pd.Series, expected: pd.Series | None = None) -> pd.DataFrame:
    """Return the digits of a heap; ``steps`` and ``expected``: counts by whole number."""
    every = pd.Index(range(10))
    observed = steps.groupby(steps.index % 10).sum().reindex(every, fill_value=0) / steps.sum()
    if expected is None:
        even = pd.Series(0.1, index=every)
    else:
        even = expected.groupby(expected.index % 10).sum().reindex(every, fill_value=0)
        even = even / expected.sum()
    digits = pd.DataFrame({"digit": every.astype(str), "observed": observed, "expected": even})
    shares = zip(observed, even, strict=True)
    digits["stands_out"] = [stands_out(*pair, int(steps.sum())) for pair in shares]
    return checked(digits.reset_index(drop=True), DigitRow)


def _expected(steps: pd.Series) -> pd.Series:
    """Return the counts that the shape of the readings suggests for each step.

    Twice: a step far above its neighbours would lift what is expected of them, so it is first
    brought down to what they suggest of it.
    """
    first = _neighbours(steps)
    return _neighbours(steps.where(steps < _FAR_ABOVE * first, first))


def _neighbours(steps: pd.Series) -> pd.Series:
    """Return the count that the four steps on either side suggest for each step.

    Least squares of a parabola through the logarithms of the counts (exact for a bell), without
    the step itself: a favoured digit stands above it, the bell of the readings does not.
    """
    span = range(int(steps.index.min()) - 4, int(steps.index.max()) + 5)
    logs = np.log(steps.reindex(span, fill_value=0) + 0.5)
    sides = sum(
        (
            weight / 2 * (logs.shift(by) + logs.shift(-by))
            for by, weight in enumerate(_PARABOLA, start=1)
        ),
        start=pd.Series(0.0, logs.index),
    )
    return pd.Series(np.exp(sides.reindex(steps.index)))


def _multiples(steps: pd.Series, of: int) -> float:
    return float(steps[steps.index % of == 0].sum() / steps.sum())


def _counts(frame: pd.DataFrame, step: float, shift: float = 0.0) -> pd.Series:
    """Return counts by whole number of steps; ``frame``: value, readings."""
    whole = ((frame["value"] - shift) / step).round().astype(int)
    return frame["readings"].groupby(whole).sum()


def _is_fahrenheit(frame: pd.DataFrame) -> bool:
    """Whether the readings were taken to a tenth of a degree Fahrenheit.

    A device that measures in tenths Celsius and shows Fahrenheit leaves nearly every second
    tenth unused; such readings are judged in Celsius.
    """
    tenths = np.isclose(frame["value"] * 10, (frame["value"] * 10).round(), atol=1e-6)
    if frame.loc[tenths, "readings"].sum() >= 0.5 * frame["readings"].sum():
        return False
    steps = _counts(frame.assign(value=frame["value"] * 1.8 + 32), 0.1)
    share = steps.cumsum() / steps.sum()
    middle = steps.index[(share > 0.1) & (share < 0.9)]
    return len(middle) > 0.8 * (middle.max() - middle.min() + 1) if len(middle) else False


def _temperature(frame: pd.DataFrame) -> Heap:
    fahrenheit = _is_fahrenheit(frame)
    degrees = frame.assign(value=frame["value"] * 1.8 + 32) if fahrenheit else frame
    steps = _counts(degrees, 0.1)
    expected = _expected(steps)
    number = 977 if fahrenheit else 365
    unit = "\N{DEGREE SIGN}F" if fahrenheit else "\N{DEGREE SIGN}C"
    exact = float(steps.get(number, 0) / steps.sum())
    near = float(expected.get(number, 0) / steps.sum())
    return Heap(
        "Temperature",
        f"tenths of a degree ({unit}, as recorded)",
        int(steps.sum()),
        _by_digit(steps, expected),
        (f"exactly {number / 10:g} {unit}", exact, near),
        "A favoured tenth can mean readings rounded, or copied from a usual value; then small "
        "changes, and the edge of a target range, cannot be trusted to a tenth.",
    )


def _respiratory_rate(frame: pd.DataFrame) -> Heap:
    steps = _counts(frame, 1)
    return Heap(
        "Respiratory rate",
        "breaths a minute",
        int(steps.sum()),
        _by_digit(steps),
        ("multiples of 4", _multiples(steps, 4), 0.25),
        "Even numbers and multiples of 4 can mean a count over 15 or 30 seconds, multiplied, "
        "where a full minute is asked for.",
    )


def _heart_rate(frame: pd.DataFrame) -> Heap:
    steps = _counts(frame, 1)
    return Heap(
        "Heart rate",
        "beats a minute",
        int(steps.sum()),
        _by_digit(steps),
        ("multiples of 4", _multiples(steps, 4), 0.25),
        "Tens and fives can mean an estimate; multiples of 4 a count over 15 seconds.",
    )


def _minutes(frame: pd.DataFrame) -> Heap:
    steps = _counts(frame.rename(columns={"entries": "readings"}), 1)
    return Heap(
        "Time of an entry",
        "minutes after birth, from the second hour on",
        int(steps.sum()),
        _by_digit(steps),
        ("whole quarters of an hour", _multiples(steps, 15), 1 / 15),
        "Fives and tens can mean times estimated afterwards; then a window of an hour is right "
        "to about five minutes only.",
    )


_MAKERS: Final[Mapping[str, object]] = {
    "temperature": _temperature,
    "respiratory_rate": _respiratory_rate,
    "heart_rate": _heart_rate,
}


def heaps(data: QualityData) -> list[Heap]:
    """Return the heaps with enough readings, in the order of the page."""
    frames = {kind: data.values[data.values["kind"] == kind] for kind in _MAKERS}
    found = [
        maker(frames[kind])  # type: ignore[operator]
        for kind, maker in _MAKERS.items()
        if frames[kind]["readings"].sum() >= AT_LEAST
    ]
    if data.minutes["entries"].sum() >= AT_LEAST:
        found.append(_minutes(data.minutes))
    return found

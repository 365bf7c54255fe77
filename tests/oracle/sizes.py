"""Centiles of birth weight from 34+0 on, in plain arithmetic from the published check values.

The numbers have their home in ``sizes.toml``; a cubic is laid through the five check values of
each line by least squares (normal equations), here in exact fractions.
"""

import tomllib
from fractions import Fraction
from functools import cache
from math import isnan
from statistics import NormalDist

from .reader import PIPELINES, Newborn

Z_OF_97TH = NormalDist().inv_cdf(0.97)
FIRST_DAY, LAST_DAY, LAST_ASKED = 34 * 7, 42 * 7 + 6, 46 * 7
LINES = ("low", "middle", "high")  # the 3rd, 50th and 97th centile


def _solved(matrix: list[list[Fraction]], right: list[Fraction]) -> list[Fraction]:
    """Solve a small system of equations by elimination."""
    rows = [[*line, value] for line, value in zip(matrix, right, strict=True)]
    for place in range(len(rows)):
        pivot = next(row for row in rows[place:] if row[place] != 0)
        rows.remove(pivot)
        rows.insert(place, [cell / pivot[place] for cell in pivot])
        for other, row in enumerate(rows):
            if other != place:
                rows[other] = [
                    cell - row[place] * top for cell, top in zip(row, rows[place], strict=True)
                ]
    return [row[-1] for row in rows]


@cache
def _cubic(sex: str, line: str) -> tuple[Fraction, ...]:
    said = tomllib.loads((PIPELINES / "definitions" / "sizes.toml").read_text(encoding="utf-8"))
    weeks = [Fraction(str(week)) for week in said["from_33"]["weeks"]]
    sizes = [Fraction(str(size)) for size in said["from_33"]["weight_g"][sex][line]]
    powers = range(4)
    matrix = [[sum(w ** (a + b) for w in weeks) for b in powers] for a in powers]
    right = [sum(s * w**a for s, w in zip(sizes, weeks, strict=True)) for a in powers]
    return tuple(_solved(matrix, right))


@cache
def _at(sex: str, line: str, days: int) -> float:
    weeks = Fraction(min(days, LAST_DAY), 7)
    return float(sum(part * weeks**power for power, part in enumerate(_cubic(sex, line))))


def _centile_as(sex: str, days: int, weight_g: float) -> int:
    """The highest whole centile that the weight reaches; two half-normals about the middle."""
    low, middle, high = (_at(sex, line, days) for line in LINES)
    side = (middle - low) if weight_g < middle else (high - middle)
    z = (weight_g - middle) / side * Z_OF_97TH
    return min(99, int(100 * NormalDist().cdf(z)))


def weight_centile(sex: str | None, days: float | None, weight_g: float | None) -> int | None:
    """Of a newborn whose sex is not known, of the two the one nearer to the middle."""
    if days is None or weight_g is None or isnan(days) or isnan(weight_g):
        return None
    if not FIRST_DAY <= days <= LAST_ASKED:
        return None
    either = [sex] if sex in {"male", "female"} else ["male", "female"]
    found = [_centile_as(one, int(days), float(weight_g)) for one in either]
    if max(found) < 50:
        return max(found)
    return min(found) if min(found) >= 50 else 50


def centile_of(newborn: Newborn) -> int | None:
    """The centile of a newborn's weight, None where it cannot be read."""
    return weight_centile(*map(newborn.get, ("sex", "gestational_age_days", "weight_g")))

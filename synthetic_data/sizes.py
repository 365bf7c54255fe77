"""Weight, length and head circumference: correlated z-scores around medians by gestation."""

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from synthetic_data.scenario import Bools, Floats, Scenario

SIZES_FILE = Path(__file__).parent / "sizes.toml"
SIZE_COLUMNS = ("weight_g", "length_cm", "head_circumference_cm")
Z_OF_97TH = 1.880794  # standard normal quantile of 0.97
SEAM_DAYS = 33 * 7
CURVE_DEGREE = 3  # five check values leave one degree of freedom for smoothing


@cache
def _numbers() -> Mapping[str, Any]:
    return tomllib.loads(SIZES_FILE.read_text(encoding="utf-8"))


def _very_preterm(column: str, weeks: Floats, male: Bools, z: Floats) -> Floats:
    """Closed form below 33 weeks; weight is log-normal, the others normal."""
    spec = _numbers()["before_33"][column]
    sd = np.sqrt(spec["variance"])
    if column == "weight_g":
        middle = spec["intercept"] + spec["slope"] * np.sqrt(weeks) + spec["male"] * male
        return np.asarray(1000.0 * np.exp(middle + sd * z))
    middle = spec["intercept"] + spec["slope"] * weeks + spec["male"] * male
    return np.asarray(middle + sd * z)


def _curve(column: str, sex: str, line: str, weeks: Floats) -> Floats:
    """Evaluate the cubic through the check values of one centile."""
    spec = _numbers()["from_33"]
    knots = np.asarray(spec["weeks"])
    fitted = np.polynomial.Polynomial.fit(knots, spec[column][sex][line], CURVE_DEGREE)
    return np.asarray(fitted(np.clip(weeks, knots[0], knots[-1])))


def _from_33(column: str, sex: str, weeks: Floats, z: Floats) -> Floats:
    """Two half-normals: the lower and the upper spread differ."""
    middle = _curve(column, sex, "middle", weeks)
    low = (middle - _curve(column, sex, "low", weeks)) / Z_OF_97TH
    high = (_curve(column, sex, "high", weeks) - middle) / Z_OF_97TH
    return np.asarray(middle + np.where(z < 0, low, high) * z)


def size_at(column: str, gestation_days: Floats, male: Bools, z: Floats) -> Floats:
    """Return the size (g or cm) that has the z-score at that gestation (days) and sex."""
    weeks = gestation_days / 7.0
    term = np.where(male, _from_33(column, "male", weeks, z), _from_33(column, "female", weeks, z))
    early = _very_preterm(column, weeks, male, z)
    return np.asarray(np.where(gestation_days < SEAM_DAYS, early, term))


def correlated_z(rng: np.random.Generator, scenario: Scenario, n: int) -> Floats:
    """Draw ``n`` rows of z-scores: weight, length, head."""
    size = scenario["size"]
    wl, wh, lh = size["weight_length"], size["weight_head"], size["length_head"]
    covariance = np.array([[1.0, wl, wh], [wl, 1.0, lh], [wh, lh, 1.0]])
    return np.asarray(rng.normal(size=(n, 3)) @ np.linalg.cholesky(covariance).T)

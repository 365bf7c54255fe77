"""Weight, length and head circumference: correlated z-scores around medians by gestation."""

import numpy as np

from pipelines.definitions.size_curves import SEAM_DAY, SIZE_COLUMNS, from_33, very_preterm
from synthetic_data.scenario import Bools, Floats, Scenario

__all__ = ["SIZE_COLUMNS", "correlated_z", "size_at"]


def size_at(column: str, gestation_days: Floats, male: Bools, z: Floats) -> Floats:
    """Return the size (g or cm) that has the z-score at that gestation (days) and sex."""
    days = np.asarray(gestation_days, dtype=float)
    of_sex = {}
    for sex in ("male", "female"):
        late = from_33(column, sex, np.maximum(days, SEAM_DAY)).size(z)
        early = very_preterm(column, sex, days).size(z)
        of_sex[sex] = np.where(days < SEAM_DAY, early, late)
    return np.asarray(np.where(male, of_sex["male"], of_sex["female"]))


def correlated_z(rng: np.random.Generator, scenario: Scenario, n: int) -> Floats:
    """Draw ``n`` rows of z-scores: weight, length, head."""
    size = scenario["size"]
    wl, wh, lh = size["weight_length"], size["weight_head"], size["length_head"]
    covariance = np.array([[1.0, wl, wh], [wl, 1.0, lh], [wh, lh, 1.0]])
    return np.asarray(rng.normal(size=(n, 3)) @ np.linalg.cholesky(covariance).T)

"""Birth weight for gestation and sex, as whole centiles of the size curves that the rules read.

For screening data, not for assessing a child's growth: see ``size_curves``.
"""

from collections.abc import Sequence
from functools import cache
from pathlib import Path
from statistics import NormalDist
from typing import Final

import duckdb
import numpy as np
import pandas as pd

from pipelines.definitions.read_units import Unit
from pipelines.definitions.size_curves import Curve, read_reference, screening_envelope

FIRST_DAY: Final = 34 * 7  # before, two published parts overlap, and no measure asks
CENTILES: Final = range(1, 100)
_SHAPE: Final = ("m", "l", "s", "sd_low", "sd_high")


def _limits(curves: pd.DataFrame) -> pd.DataFrame:
    """Return sex, gestational_age_days, centile, weight_g: where each centile begins."""
    is_weight = (curves["column_name"] == "weight_g") & (
        curves["gestational_age_days"] >= FIRST_DAY
    )
    rows = curves[is_weight]
    curve = Curve(**{name: rows[name].to_numpy(dtype=float) for name in _SHAPE})
    normal, keys = NormalDist(), rows[["sex", "gestational_age_days"]].reset_index(drop=True)
    frames = [
        keys.assign(centile=centile, weight_g=np.asarray(curve.size(normal.inv_cdf(centile / 100))))
        for centile in CENTILES
    ]
    return pd.concat(frames, ignore_index=True)


@cache
def _shipped() -> pd.DataFrame:
    return _limits(screening_envelope())


@cache
def _own(path: Path) -> pd.DataFrame:
    return _limits(read_reference(path))


def fill_weight_centiles(connection: duckdb.DuckDBPyConnection, units: Sequence[Unit]) -> None:
    """Create ``typed.weight_centile``: unit, sex, gestational_age_days, centile, weight_g.

    One row per unit, sex, day from 34+0 on and centile from 1 to 99: the least weight of it. A
    unit's own size reference goes before the shipped curves.
    Raises DeclarationError where that reference cannot be used.
    """
    frames = []
    for unit in units:
        own = unit.checks.get("size_reference")
        limits = _own(unit.path.parent / own) if own and unit.path else _shipped()
        frames.append(limits.assign(unit=unit.id))
    connection.register("weight_limit", pd.concat(frames, ignore_index=True))
    connection.execute(
        "create table typed.weight_centile as select unit::varchar as unit, sex::varchar as sex, "
        "gestational_age_days::integer as gestational_age_days, centile::integer as centile, "
        "weight_g::double as weight_g from weight_limit"
    )
    connection.unregister("weight_limit")

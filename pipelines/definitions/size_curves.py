"""Birth size by gestation and sex: the screening envelope, or a unit's own reference file.

For screening data, not for assessing a child's growth. Sources: very preterm reference (Villar
2016, Lancet 387:844-5) in closed form below 33 weeks; from 33 weeks our own smooth curves through
check values of the newborn size standard (Villar 2014, Lancet 384:857-68), whose longer upper
tail of weight is said in ``sizes.toml``. The z-score is restricted as in the WHO Child Growth
Standards 2006: beyond 3 it goes on in steps of SD3 - SD2.
"""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipelines.base.errors import DeclarationError, nearest

Floats = npt.NDArray[np.float64]
SIZES_FILE = Path(__file__).parent / "sizes.toml"
SIZE_COLUMNS = ("weight_g", "length_cm", "head_circumference_cm")
SEXES = ("male", "female")
CAUTION = "For screening data, not for assessing a child's growth."
Z_OF_97TH = 1.880794  # standard normal quantile of 0.97
CURVE_DEGREE = 3  # five check values leave one degree of freedom for smoothing
FIRST_DAY = 24 * 7  # below, only the absolute limits hold
SEAM_DAY = 33 * 7  # the very preterm part ends the day before
SEAM_MARGIN_DAYS = 7
LAST_DAY = 42 * 7 + 6  # later newborns are read at this day
LAST_DAY_ASKED = 46 * 7  # the contract's last believable gestation
FROM_33 = "from 33 weeks"  # the part of the envelope that is the project's own curves
_KEY = ["sex", "gestational_age_days", "column_name"]
_CURVE_NAMES = ("m", "l", "s", "sd_low", "sd_high")
_SHAPES = (("l", "m", "s"), ("median", "sd_low", "sd_high"))


@dataclass(frozen=True)
class Curve:
    """Median and spread of one size by day, as arrays of one length, in g or cm.

    Either ``l`` and ``s`` (Box-Cox power and coefficient of variation; ``l`` nil is log-normal)
    or ``sd_low`` and ``sd_high`` (two half-normals) are numbers; the other two are nan.
    """

    m: Floats
    l: Floats  # noqa: E741  # L, M, S is how the trade writes it
    s: Floats
    sd_low: Floats
    sd_high: Floats

    def size(self, z: Floats | float) -> Floats:
        """Return the size that has the z-score, without the restriction beyond 3."""
        split = self.m + np.where(np.asarray(z) < 0, self.sd_low, self.sd_high) * z
        power = np.where(self.l == 0, 1.0, self.l)
        bent = np.maximum(1 + self.l * self.s * z, 1e-12) ** (1 / power)
        lms = self.m * np.where(self.l == 0, np.exp(self.s * z), bent)
        return np.asarray(np.where(np.isnan(self.l), split, lms))


@cache
def _numbers() -> Mapping[str, Any]:
    return tomllib.loads(SIZES_FILE.read_text(encoding="utf-8"))


def very_preterm(column: str, sex: str, days: Floats) -> Curve:
    """Closed form below 33 weeks; weight is log-normal, the others normal."""
    spec, weeks = _numbers()["before_33"][column], days / 7.0
    sd, gone = np.full(len(days), np.sqrt(spec["variance"])), np.full(len(days), np.nan)
    by = np.sqrt(weeks) if column == "weight_g" else weeks
    middle = spec["intercept"] + spec["slope"] * by + spec["male"] * (sex == "male")
    if column == "weight_g":
        return Curve(1000.0 * np.exp(middle), np.zeros(len(days)), sd, gone, gone)
    return Curve(middle, gone, gone, sd, sd)


def from_33(column: str, sex: str, days: Floats) -> Curve:
    """Our own cubics through the check values of three centiles; two half-normals."""
    spec, gone = _numbers()["from_33"], np.full(len(days), np.nan)
    knots, weeks = np.asarray(spec["weeks"]), np.minimum(days, LAST_DAY) / 7.0
    low, middle, high = (
        np.polynomial.Polynomial.fit(knots, spec[column][sex][line], CURVE_DEGREE)(weeks)
        for line in ("low", "middle", "high")
    )
    return Curve(middle, gone, gone, (middle - low) / Z_OF_97TH, (high - middle) / Z_OF_97TH)


def _rows(part: str, sex: str, column: str, days: Floats, curve: Curve) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "part": part,
            "sex": sex,
            "gestational_age_days": days.astype(int),
            "column_name": column,
            **vars(curve),
        }
    )


def screening_envelope() -> pd.DataFrame:
    """Return the envelope: part, sex, gestational_age_days, column_name, m, l, s, sd_low, sd_high.

    The published parts do not join at 32+6/33+0: within a week of the seam a day has both, and
    the milder z is taken.
    """
    parts = (
        ("very preterm", very_preterm, FIRST_DAY, SEAM_DAY + SEAM_MARGIN_DAYS),
        (FROM_33, from_33, SEAM_DAY - SEAM_MARGIN_DAYS, LAST_DAY_ASKED + 1),
    )
    frames = []
    for name, curve, first, end in parts:
        days = np.arange(first, end, dtype=float)
        frames += [
            _rows(name, sex, column, days, curve(column, sex, days))
            for sex in SEXES
            for column in SIZE_COLUMNS
        ]
    return pd.concat(frames, ignore_index=True)


def read_reference(path: Path) -> pd.DataFrame:
    """Read a unit's own reference file: one row per sex, day and size, in g and cm.

    Columns: sex (male, female), gestational_age_days, column_name, then l, m, s or median,
    sd_low, sd_high. Returns the columns of ``screening_envelope``. The last day stands for all
    later ones; before the first day only the absolute limits hold.
    Raises DeclarationError naming the file and what was found.
    """
    where = path.name
    if not path.is_file():
        raise DeclarationError(
            f"{path}: there is no such size reference file; correct size_reference under [checks]."
        )
    try:
        frame = pd.read_csv(path)
    except (pd.errors.ParserError, pd.errors.EmptyDataError, UnicodeDecodeError):
        raise DeclarationError(f"{where}: cannot be read as a comma-separated table.") from None
    shape = _shape_of(where, [str(name) for name in frame.columns])
    _refuse_bad_cells(where, frame, shape)
    _refuse_gaps(where, frame)
    named = frame.rename(columns={"median": "m"}).reindex(
        columns=[*_KEY, "m", "l", "s", "sd_low", "sd_high"]
    )
    return _to_the_last_day(named).assign(part="own reference")


def _shape_of(where: str, columns: Iterable[str]) -> tuple[str, ...]:
    for name in _KEY:
        if name not in columns:
            raise DeclarationError(f"{where}: column '{name}' is missing.{nearest(name, columns)}")
    for shape in _SHAPES:
        if set(shape) <= set(columns):
            return shape
    raise DeclarationError(
        f"{where}: needs the columns l, m, s or the columns median, sd_low, sd_high beside "
        f"{', '.join(_KEY)}."
    )


def _refuse_bad_cells(where: str, frame: pd.DataFrame, shape: tuple[str, ...]) -> None:
    """Refuse, by line (the header is line 1), what is no sex, no size or no positive number."""
    if frame.empty:
        raise DeclarationError(f"{where}: has no rows.")
    for column, known in (("sex", SEXES), ("column_name", SIZE_COLUMNS)):
        for place, found in enumerate(frame[column], start=2):
            if found not in known:
                raise DeclarationError(
                    f"{where} line {place}: {column} '{found}' is not known."
                    f"{nearest(str(found), known)}"
                )
    for column in ("gestational_age_days", *shape):
        numbers = pd.to_numeric(frame[column], errors="coerce")
        wrong = numbers.isna() | ((numbers <= 0) if column != "l" else False)
        wrong |= (numbers % 1 != 0) if column == "gestational_age_days" else False
        if wrong.any():
            line = int(np.flatnonzero(wrong)[0]) + 2
            wanted = "a whole number of days" if column == "gestational_age_days" else "a number"
            above = "" if column == "l" else " above 0"
            raise DeclarationError(f"{where} line {line}: {column} must be {wanted}{above}.")


def _refuse_gaps(where: str, frame: pd.DataFrame) -> None:
    for (sex, column), rows in frame.groupby(["sex", "column_name"]):
        days = rows["gestational_age_days"].sort_values()
        if days.duplicated().any():
            twice = int(days[days.duplicated()].iloc[0])
            raise DeclarationError(f"{where}: day {twice} of {column}, {sex}, stands twice.")
        missing = set(range(int(days.min()), int(days.max()) + 1)) - set(days)
        if missing:
            raise DeclarationError(
                f"{where}: day {min(missing)} of {column}, {sex}, is missing; give every day from "
                "the first to the last."
            )
    for name, rows in frame.groupby("column_name"):
        for sex in SEXES:
            if sex not in set(rows["sex"]):
                raise DeclarationError(f"{where}: {name!s} has no row for {sex}; give both sexes.")


def _to_the_last_day(frame: pd.DataFrame) -> pd.DataFrame:
    frames = [frame]
    for _, rows in frame.groupby(["sex", "column_name"]):
        last = rows.sort_values("gestational_age_days").tail(1)
        days = np.arange(int(last["gestational_age_days"].iloc[0]) + 1, LAST_DAY_ASKED + 1)
        frames.append(last.loc[last.index.repeat(len(days))].assign(gestational_age_days=days))
    return pd.concat(frames, ignore_index=True)


def with_tails(curves: pd.DataFrame) -> pd.DataFrame:
    """Add low_3, low_step, high_from, high_from_z and high_step: the straight tails, their steps.

    WHO Child Growth Standards 2006: beyond 3 a z-score grows by one for each SD3 - SD2, so that
    it never saturates. Where a reference's own upper tail is longer (``sizes.toml``), the straight
    part begins at the 97th centile and each step is that much longer.
    """
    curve = Curve(**{name: curves[name].to_numpy(dtype=float) for name in _CURVE_NAMES})
    low_3, low_2, high_2, high_3 = (curve.size(z) for z in (-3.0, -2.0, 2.0, 3.0))
    longer = _longer_tails(curves)
    is_longer = longer > 1
    return curves.assign(
        low_3=low_3,
        low_step=low_2 - low_3,
        high_from=np.where(is_longer, curve.size(Z_OF_97TH), high_3),
        high_from_z=np.where(is_longer, Z_OF_97TH, 3.0),
        high_step=longer * (high_3 - high_2),
    )


def _longer_tails(curves: pd.DataFrame) -> Floats:
    """Return, of each curve, how many steps its upper tail takes for one z; 1 as a rule."""
    by_column = curves["column_name"].map(_numbers()["from_33"]["longer_tail"])
    is_standard = curves["part"] == FROM_33
    return by_column.where(is_standard).fillna(1.0).to_numpy(dtype=float)

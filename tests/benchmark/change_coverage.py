"""How often the interval of a change's effect holds the truth, on series whose truth is known.

    python tests/benchmark/change_coverage.py --write

Not a test (tests/statistics/test_interrupted_coverage.py holds a smaller part to its numbers): it
prints a table and, with ``--write``, keeps it in pipelines/statistics/change_coverage.toml, which
the page cites. Series are drawn here: births from Poisson, a share in points that moves with a
trend and a season, a step of known size, counts binomial or beta-binomial. The season and the step
act in points while the model thinks in odds, so the model is not handed its own truth.
"""

import argparse
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from pipelines.statistics import effects, interrupted  # noqa: E402
from pipelines.statistics.interrupted import NotFittedError, Series, Split  # noqa: E402

HOME = ROOT / "pipelines" / "statistics" / "change_coverage.toml"
SEED = 20260911
LIKE_SD = 0.5  # standard deviation, in binomial ones, of what makes neighbouring months alike


@dataclass(frozen=True)
class Setting:
    """One kind of series. Shares of 1; ``dispersion``: variance over the binomial one."""

    name: str
    effect: float
    months: int = 24
    before: int = 12
    births: int = 240
    base: float = 0.72
    dispersion: float = 1.0
    season: float = 0.0
    trend: float = 0.0  # a month
    alike: float = 0.0  # correlation of neighbouring months
    missing: int = 0  # months without newborns
    is_main: bool = True


def settings() -> list[Setting]:
    """Return the settings of the table: the main ones, then harder ones."""
    main = [
        Setting(f"{months} months", effect, months, months // 2, dispersion=over, season=wave)
        for months in (24, 36)
        for effect in (0.0, 0.05, 0.10, 0.15)
        for over in (1.0, 2.0)
        for wave in (0.0, 0.04)
    ]
    hard = Setting("", 0.0, is_main=False)
    kinds = [
        replace(hard, name="10 months before, 14 after", before=10, season=0.04),
        replace(hard, name="6 months before, 6 after", months=12, before=6, dispersion=2.0),
        replace(hard, name="24 months before, 12 after", months=36, before=24, season=0.04),
        replace(hard, name="18 months and a season: a first look", months=18, season=0.04),
        replace(hard, name="40 births a month", births=40),
        replace(hard, name="a rare event, 2 %", base=0.02),
        replace(hard, name="a rise before, half a point a month", trend=0.005, base=0.65),
        replace(hard, name="3 months without newborns", missing=3),
        replace(hard, name="neighbours alike, 0.3", alike=0.3),
        replace(hard, name="neighbours alike, 0.6", alike=0.6),
    ]
    moved = {"a rare event, 2 %": 0.03}
    return main + [
        replace(kind, effect=effect)
        for kind in kinds
        for effect in (0.0, moved.get(kind.name, 0.10))
    ]


def draw(setting: Setting, rng: np.random.Generator) -> tuple[Series, Split, float]:
    """Return one series, its split and the true effect over the months the method counts."""
    month = np.arange(setting.months)
    after = month >= setting.before
    without = (
        setting.base
        + setting.trend * (month - setting.before)
        + setting.season * np.sin(2 * np.pi * (month + 2) / 12)
    )
    share = np.clip(without + setting.effect * after, 0.001, 0.999)
    without = np.clip(without, 0.001, 0.999)
    total = rng.poisson(setting.births, setting.months)
    total[rng.choice(setting.months, setting.missing, replace=False)] = 0
    counted = after & (month < setting.before + effects.MONTHS)
    truth = float(((share - without) * total)[counted].sum() / total[counted].sum())
    events = rng.binomial(total, _shaken(setting, share, rng))
    split = Split(setting.before, setting.before)
    return Series(month, events.astype(float), total.astype(float)), split, truth


def _shaken(setting: Setting, share: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    if setting.alike:
        step = rng.standard_normal(setting.months)
        for place in range(1, setting.months):
            step[place] = (
                setting.alike * step[place - 1] + np.sqrt(1 - setting.alike**2) * step[place]
            )
        spread = np.sqrt(share * (1 - share) / setting.births)
        return np.clip(share + 2 * LIKE_SD * spread * step, 0.001, 0.999)
    if setting.dispersion > 1:
        weight = (setting.births - 1) / (setting.dispersion - 1) - 1
        return rng.beta(share * weight, (1 - share) * weight)
    return share


@dataclass(frozen=True)
class Row:
    """What one setting gave. ``worked``: the share in which the page would say improvement."""

    setting: Setting
    series: int
    fitted: int
    held: float
    worked: float
    worsened: float
    half_width: float


def measure(setting: Setting, series: int, seed: int = SEED) -> Row:
    """Draw and analyse so many series of one setting; not fitted ones are counted, not hidden."""
    rng = np.random.default_rng([seed, *map(ord, repr(setting))])
    spans, truths, settled = [], [], []
    for _ in range(series):
        drawn, split, truth = draw(setting, rng)
        try:
            fit = interrupted.fit(drawn, split)
        except NotFittedError:
            continue
        spans.append(effects.effect(fit).points)
        settled.append(effects.is_settled(fit, spans[-1], effects.with_season(fit)))
        truths.append(truth)
    lower, upper = (np.array([getattr(one, end) for one in spans]) for end in ("lower", "upper"))
    truth = np.array(truths)
    return Row(
        setting=setting,
        series=series,
        fitted=len(spans),
        held=float(((lower <= truth) & (truth <= upper)).mean()),
        worked=float(((lower > 0) & settled).mean()),
        worsened=float(((upper < 0) & settled).mean()),
        half_width=float((upper - lower).mean() / 2),
    )


def _measure(task: tuple[Setting, int]) -> Row:
    return measure(*task)


def table(rows: Sequence[Row]) -> pd.DataFrame:
    """Return the rows as the page shows them: shares in percent, effects in points."""
    return pd.DataFrame(
        {
            "name": [row.setting.name for row in rows],
            "is_main": [row.setting.is_main for row in rows],
            "effect_points": [round(100 * row.setting.effect, 1) for row in rows],
            "dispersion": [row.setting.dispersion for row in rows],
            "season_points": [round(100 * row.setting.season, 1) for row in rows],
            "series": [row.series for row in rows],
            "fitted": [row.fitted for row in rows],
            "held_percent": [round(100 * row.held, 1) for row in rows],
            "worked_percent": [round(100 * row.worked, 1) for row in rows],
            "worsened_percent": [round(100 * row.worsened, 1) for row in rows],
            "half_width_points": [round(100 * row.half_width, 1) for row in rows],
        }
    )


def _toml(value: object) -> str:
    if isinstance(value, bool | np.bool_):
        return str(bool(value)).lower()
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"


def write(frame: pd.DataFrame) -> None:
    """Keep the table where the page reads it."""
    lines = [
        "# Written by tests/benchmark/change_coverage.py --write, never by hand. Series with a",
        "# known effect: how often the 95 % interval held it, how often it lay wholly above 0.",
        f"seed = {SEED}",
    ]
    for row in frame.to_dict("records"):
        lines += ["", "[[settings]]", *(f"{name} = {_toml(value)}" for name, value in row.items())]
    HOME.write_text("\n".join(lines) + "\n", encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--series", type=int, default=500)
    parser.add_argument("--write", action="store_true")
    args = parser.parse_args()
    with ProcessPoolExecutor(max_workers=2) as pool:
        rows = list(pool.map(_measure, [(setting, args.series) for setting in settings()]))
    frame = table(rows)
    print(frame.to_string(index=False))
    main_rows = frame[frame["is_main"]]
    print(
        f"\nMain settings: held {main_rows['held_percent'].min()} to "
        f"{main_rows['held_percent'].max()} %; with no effect, 'it worked' in at most "
        f"{main_rows.loc[main_rows['effect_points'] == 0, 'worked_percent'].max()} %."
    )
    if args.write:
        write(frame)


if __name__ == "__main__":
    main()

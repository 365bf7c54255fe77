"""One verdict on a change: did it work, did it harm. Every page reads it here.

Two methods look at a change. The chart over time says whether a rule speaks, by limits from
before it; the interrupted series (:mod:`before_after`) whether level and trend moved beyond the
course before. The first to say that something got worse is believed; that it got better needs
one of them and no word against it. Neither may say better where what is written down moved and
could have done it alone.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.definitions.read_measures import UNKNOWN_LEFT_OUT
from pipelines.definitions.signal_lines import OPENED
from pipelines.reading.around import Around
from pipelines.reading.before_after import (
    AFTER,
    BEFORE,
    CHARTING,
    MOST_AFTER,
    MOST_BEFORE,
    NOT_ANALYSED,
    Study,
    place,
    split_at,
)
from pipelines.reading.frames import InfoRow, LogRow
from pipelines.reading.judged import Judged
from pipelines.reading.life import LifeRow, LineRow
from pipelines.reading.measured import ValueStudy, value_study
from pipelines.reading.signals import SAME
from pipelines.statistics.interrupted import PRIORS
from pipelines.statistics.over_time import BETTER, MOVED, WORSE

# What carries the verdict, the firmest first.
BY_COURSE: Final = "course"  # beyond the course before: level, trend, season
BY_CHART: Final = "chart"  # a rule speaks on the chart
BY_SUM: Final = "sum"  # of what is rare and unwanted, newborn by newborn; no rule of the chart
BY_PLAIN: Final = "plain"  # before and after alone differ; the course before could explain it
BY_NOTHING: Final = "nothing"
StudyOf = Callable[[InfoRow], Study]


@dataclass(frozen=True)
class MeasureVerdict:
    """What became of one measure around one change; shares of 1 over the months compared.

    ``life``: its worst signal since the change began, None without one. ``months_before``: with
    newborns that count.
    """

    row: InfoRow
    state: str  # worse, better, moved, charting, same or not_analysed
    because: str
    before: float | None
    after: float | None
    months_before: int
    months_after: int
    study: Study
    life: LifeRow | None
    line: LineRow | None  # the latest line that answers it where no rule speaks
    care: tuple[float, float] | None  # before and after, among those documented
    known: tuple[float, float] | None  # share documented, before and after

    @property
    def measure_id(self) -> str:
        return str(self.row["measure_id"])

    @property
    def is_answered(self) -> bool:
        """Whether someone has answered the signal, or the harm where no rule speaks of it."""
        if self.life is None:
            return self.line is not None
        return not (self.life["is_urgent"] or self.life["is_left"])


@dataclass(frozen=True)
class ChangeVerdict:
    """One change of the log with the measures it was meant to move and those it could harm."""

    change_id: str
    title: str
    start_on: pd.Timestamp
    meant: tuple[MeasureVerdict, ...]
    balancing: tuple[MeasureVerdict, ...]
    process: tuple[ValueStudy | MeasureVerdict, ...] = ()  # was it carried out

    @property
    def main(self) -> MeasureVerdict | None:
        """The first that it was meant to move and that can be judged."""
        return self.meant[0] if self.meant else None

    @property
    def worse(self) -> list[MeasureVerdict]:
        """Whatever got worse, balancing measures first; a difference that a course explains not."""
        every = [*self.balancing, *self.meant]
        return [one for one in every if one.state == WORSE and one.because != BY_PLAIN]

    @property
    def unanswered(self) -> list[MeasureVerdict]:
        """What got worse and nobody has answered."""
        return [one for one in self.worse if not one.is_answered]


def names(listed: object) -> list[str]:
    """Return a list of a store's column as text; nothing where it is missing."""
    return [str(name) for name in listed] if hasattr(listed, "__iter__") else []


def expand(named: Iterable[str], info: pd.DataFrame) -> pd.DataFrame:
    """Return the measures named; the name of a file of bands stands for all its bands."""
    kept = [
        info[(info["measure_id"] == name) | (info["parent_id"] == name)]
        for name in dict.fromkeys(named)
    ]
    rows = pd.concat([info.head(0), *kept])
    return rows.drop_duplicates("measure_id").reset_index(drop=True)


def balanced(log: LogRow, row: InfoRow | None, info: pd.DataFrame) -> pd.DataFrame:
    """Return what could get worse: named by the log, or by the header of the measure ``row``."""
    headed = names(row["balancing"]) if row is not None else []
    return expand([*names(log["balancing"]), *headed], info)


def concerned(log: LogRow, row: InfoRow, info: pd.DataFrame) -> set[str]:
    """Return the ids of every measure that a verdict on the change, or on ``row``, may speak of."""
    meant = rows_of(expand(names(log["measures"]), info), InfoRow)
    every = [row, *meant]
    beside = (balanced(log, one, info)["measure_id"] for one in every)
    return {*(one["measure_id"] for one in every), *(name for ids in beside for name in ids)}


def study_from(judged: Judged, start_on: pd.Timestamp) -> StudyOf:
    """Return the studies of one change by measure."""
    policy = judged.changes[judged.changes["kind"] == "policy"]
    return Around(start_on, judged.series, judged.info, policy, judged.values).study


def verdict(judged: Judged, log: LogRow, study_of: StudyOf | None = None) -> ChangeVerdict:
    """Return the verdict on one change of the log, as of the month that was judged."""
    start_on = pd.Timestamp(log["start_on"])
    of = study_of or study_from(judged, start_on)
    meant = _told(judged, expand(names(log["measures"]), judged.info), start_on, of)
    main = meant[0].row if meant else None
    weighed = balanced(log, main, judged.info)
    weighed = weighed[~weighed["measure_id"].isin([one.measure_id for one in meant])]
    return ChangeVerdict(
        change_id=str(log["change_id"]),
        title=str(log["title"]),
        start_on=start_on,
        meant=tuple(meant),
        balancing=tuple(_told(judged, weighed, start_on, of)),
        process=_process(judged, names(log["process"]), start_on, of),
    )


def _process(
    judged: Judged, named: list[str], start_on: pd.Timestamp, of: StudyOf
) -> tuple[ValueStudy | MeasureVerdict, ...]:
    """Return what shows whether the change was carried out: numbers of newborns, then measures."""
    values = judged.values[judged.values["measure_id"].isin(named)]
    known = {*judged.info["measure_id"], *judged.info["parent_id"]}
    found = []
    for name in named:
        if name not in known:
            own = values[values["measure_id"] == name]
            found.append(_column(own, start_on))
    shares = expand([one for one in named if one in known], judged.info)
    measures = _told(judged, shares, start_on, of)
    return (*(one for one in found if one is not None), *measures)


def _column(rows: pd.DataFrame, start_on: pd.Timestamp) -> ValueStudy | None:
    """Return the study of a number of newborns around a change, in the months of any study."""
    split = split_at(start_on)
    months = rows[["month"]].assign(place=place(rows["month"]))
    low, high = split.before_until - MOST_BEFORE, split.after_from + MOST_AFTER
    months = months[(months["place"] >= low) & (months["place"] < high)]
    return value_study(rows, months, split, PRIORS)


def verdicts(judged: Judged) -> list[ChangeVerdict]:
    """Return the verdict on every change of the log that had begun, the latest first."""
    end = judged.month + pd.DateOffset(months=1)
    begun = judged.log[judged.log["start_on"] < end]
    return [verdict(judged, one) for one in reversed(rows_of(begun, LogRow))]


def _told(
    judged: Judged, rows: pd.DataFrame, start_on: pd.Timestamp, of: StudyOf
) -> list[MeasureVerdict]:
    """Judge each measure of which the export has a record and newborns."""
    told = rows[rows["measure_id"].isin(judged.over_time)]
    silent = judged.series.loc[judged.series["is_silent"], "measure_id"]
    found = [
        of_measure(judged, row, of(row), start_on)
        for row in rows_of(told[~told["measure_id"].isin(silent)], InfoRow)
    ]
    return [one for one in found if one.study.months["counted"].sum() > 0]


def of_measure(
    judged: Judged, row: InfoRow, study: Study, start_on: pd.Timestamp
) -> MeasureVerdict:
    """Join chart and study of one measure around a change into one verdict."""
    life = _life(judged.lives, str(row["measure_id"]), start_on)
    (before, months_before), (after, months_after) = (
        _pooled(study, phase) for phase in (BEFORE, AFTER)
    )
    state, because = _state(study, life)
    line = _line(judged.lines, str(row["measure_id"]), start_on)
    return MeasureVerdict(
        row, state, because, before, after, months_before, months_after, study, life, line,
        *_side_by_side(study),
    )  # fmt: skip


Pair = tuple[float, float] | None


def _side_by_side(study: Study) -> tuple[Pair, Pair]:
    """Return the share among those documented, and the share documented, before and after."""
    both = [_documented(study.phase(phase), str(study.row["missing"])) for phase in (BEFORE, AFTER)]
    (met_1, known_1, all_1), (met_2, known_2, all_2) = both
    if not known_1 or not known_2:
        return None, None
    return (met_1 / known_1, met_2 / known_2), (known_1 / all_1, known_2 / all_2)


def _documented(rows: pd.DataFrame, missing: str) -> tuple[float, float, float]:
    """Return how many met it, how many are documented, of how many in all."""
    unknown = float((rows["not_documented"] + rows["unusable"]).sum())
    counted = float(rows["counted"].sum())
    of = counted + unknown if missing == UNKNOWN_LEFT_OUT else counted
    return float(rows["numerator"].sum()), max(of - unknown, 0.0), of


def _pooled(study: Study, phase: str) -> tuple[float | None, int]:
    """Return the share over one phase and how many of its months count."""
    rows = study.phase(phase)
    of = float(rows["counted"].sum())
    share = float(rows["numerator"].sum()) / of if of else None
    return share, int((rows["counted"] > 0).sum())


def _life(lives: pd.DataFrame, measure_id: str, start_on: pd.Timestamp) -> LifeRow | None:
    """Return the signal of a measure since the change began that is told first."""
    first = start_on.to_period("M").to_timestamp()
    # What spoke before and speaks again since the change is news of the change as well.
    since = lives["spoke_on"].fillna(lives["began_on"])
    own = lives[(lives["measure_id"] == measure_id) & ~(since < first)]
    order = own.assign(is_worse=own["sense"] == WORSE).sort_values(
        ["is_urgent", "is_left", "speaks", "is_worse"], ascending=False, kind="stable"
    )
    return rows_of(order.head(1), LifeRow)[0] if len(order) else None


def _line(lines: pd.DataFrame, measure_id: str, start_on: pd.Timestamp) -> LineRow | None:
    """Return the latest line since the change began that answers something."""
    own = lines[(lines["measure_id"] == measure_id) & (lines["said_on"] >= start_on)]
    found = rows_of(own[own["step"] != OPENED].tail(1), LineRow)
    return found[0] if found else None


def _state(study: Study, life: LifeRow | None) -> tuple[str, str]:
    """Return the verdict's state and what carries it."""
    if study.verdict == CHARTING:
        return CHARTING, BY_COURSE
    said = life["sense"] if life is not None and _agrees(study, life) else None
    if said == BETTER and not _care_agrees(study):
        said = None
    for state in (WORSE, BETTER, MOVED):
        if study.verdict == state:
            return state, BY_COURSE
        if said == state:
            return state, BY_SUM if life is not None and life["by_sum"] else BY_CHART
    if study.plain_verdict in {WORSE, BETTER, MOVED, CHARTING}:
        return study.plain_verdict, BY_PLAIN
    if study.effect is None:
        return NOT_ANALYSED, BY_NOTHING
    return SAME, BY_NOTHING


def _care_agrees(study: Study) -> bool:
    """Return whether what a chart calls better holds among the documented, as far as can be told.

    By what before and after alone say where the months could be analysed, else by the shares.
    """
    if study.plain is not None:
        return study.care is None or study.plain_verdict == BETTER
    care, _ = _side_by_side(study)
    is_up = care is not None and care[1] > care[0]
    return care is not None and is_up == (study.row["direction"] == "higher")


def _agrees(study: Study, life: LifeRow) -> bool:
    """Return whether the months compared went the way of the signal: one month may go another."""
    (before, _), (after, _) = (_pooled(study, phase) for phase in (BEFORE, AFTER))
    is_sideless = study.row["direction"] == "neither"
    if before is None or after is None or is_sideless or life["sense"] == MOVED:
        return is_sideless and life["sense"] == MOVED
    rose = after > before
    return rose == ((life["sense"] == BETTER) == (study.row["direction"] == "higher"))

"""How a state is derived from facts, as SQL: of one measure, or of several in one select.

Only here is it said, so that nulls and the order of exclusion, exception and missing are right
once, for all measures. ``engine`` runs what is made here.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from pipelines.base.sql import quote
from pipelines.definitions.owners import When, exceptions, exclusions
from pipelines.definitions.policy import Periods
from pipelines.definitions.read_measures import Band, Measure
from pipelines.stages.measure.settings import is_for_all, number_of, setting

FACTS: Final = {
    "newborn_id": None,
    "item": "cast(1 as integer)",
    "exclusion": "cast(null as varchar)",
    "exception": "cast(null as varchar)",
    "not_done_reason": "cast(null as varchar)",
    "is_documented": None,
    "is_usable": None,
    "minutes": "cast(null as double)",
    "due_minutes": "cast(null as double)",
    "closes_minutes": "cast(null as double)",
    # When the record had settled it either way: a later move, death or cooling changes nothing.
    "judged_minutes": "cast(null as double)",
    "is_met": "cast(null as boolean)",
    "value": "cast(null as double)",
    # For the worklist, which says how far out a reading is: when it was read and what it was held
    # against; what the row is of; and the grade by which the header's gravity tells rows apart.
    "value_minutes": "cast(null as double)",
    "edge": "cast(null as double)",
    "grade": "cast(null as varchar)",
    "detail": "cast(null as varchar)",
}
_NEVER: Final = 1e12
_NOT_APPLICABLE: Final = "not applicable by policy"


def _first_of(whens: Sequence[When]) -> str:
    """Return the reason of the first that holds, in SQL."""
    cases = " ".join(f"when {holds} then {quote(reason)}" for holds, reason in whens)
    return f"case {cases} end" if whens else "cast(null as varchar)"


def _set_apart(measure: Measure) -> str:
    """Return why the newborn is none of this measure's, in SQL: by its owner and its way."""
    has_arrival = "arrived_before" in measure.numbers
    return _first_of(exclusions(measure.text("owner"), measure.exclude, has_arrival))


def _ended(measure: Measure) -> str:
    """Return what ended an event that was not met, in SQL."""
    return _first_of(exceptions(measure.text("owner"), measure.going_home))


_IN_WINDOW: Final = (
    "case when says_met then coalesce(is_met, false) "
    "else coalesce(minutes >= coalesce(at_least, 0) and minutes <= due, false) end"
)


def _met(measure: Measure, band: Band | None) -> str:
    if measure.kind == "minutes":
        return "minutes is not null"
    if band is None:
        return _IN_WINDOW
    low = f"value >= {band.at_least!r}" if band.at_least is not None else "true"
    high = f"value < {band.below!r}" if band.below is not None else "true"
    return f"coalesce({low} and {high}, false)"


def _edge(measure: Measure) -> float | None:
    """Return the edge that a value is held against where bands say it: the last of them ends."""
    ends = [band.below for band in measure.bands]
    known = [end for end in ends if end is not None]
    return max(known) if known and len(known) == len(ends) else None


def _state(measure_id: str, *, met: str, apart: str, ended: str, applies: str, edge: str) -> str:
    """Return the select that derives one state a row from ``known``. The only place it is done.

    What measures differ in is given as SQL; it may read ``known``, ``newborn`` and ``way``.
    """
    return f"""
    placed as (
        select
            {measure_id} as measure_id,
            newborn.newborn_id,
            known.item,
            known.minutes,
            if(known.says_met, null, known.due) as due_minutes,
            known.not_done_reason,
            coalesce(known.is_documented, false) as has_row,
            coalesce(known.is_usable, false) as can_be_used,
            {met} as in_numerator,
            coalesce(
                known.judged_minutes,
                if(has_row and can_be_used and in_numerator, coalesce(known.minutes, 0), null)
            ) as judged,
            if(
                {applies},
                coalesce(known.exclusion, {apart}),
                {quote(_NOT_APPLICABLE)}
            ) as exclusion,
            coalesce(known.exception, {ended}) as exception,
            known.minutes > known.due and not known.says_met as is_late,
            known.grade,
            known.detail,
            known.value,
            coalesce(known.value_minutes, known.minutes) as value_minutes,
            {edge} as edge,
        from known
        inner join mart.newborn as newborn using (newborn_id)
        inner join mart.way as way using (newborn_id)
    )
    select
        measure_id,
        newborn_id,
        item,
        cast(case
            when exclusion is not null then 'exclusion'
            when has_row and can_be_used and in_numerator then 'met'
            when exception is not null then 'exception'
            when not_done_reason is not null then 'not_done'
            when not has_row then 'not_documented'
            when not can_be_used then 'unusable'
            when is_late then 'late'
            else 'not_met'
        end as measure.state_name) as state,
        if(state = 'exclusion', null, minutes) as minutes,
        due_minutes,
        case state
            when 'exclusion' then exclusion
            when 'exception' then exception
            when 'not_done' then not_done_reason
        end as reason,
        grade,
        if(state = 'exclusion', null, value) as value,
        if(state = 'exclusion' or value is null, null, value_minutes) as value_minutes,
        if(state = 'exclusion' or value is null, null, edge) as edge,
        if(state in ('met', 'exclusion'), null, detail) as detail,
    from placed
    """


_DUE: Final = "coalesce(due_minutes, at_most) as due"
_CLOSES: Final = f"coalesce(closes_minutes, due_minutes, at_most, {_NEVER}) as closes"


def states_of_one(measure: Measure, measure_id: str, band: Band | None) -> str:
    """Return the query that derives one state per newborn and item of one measure (of a band).

    It reads ``facts`` and ``setting``, and goes on with what stands after ``with``.
    """
    edge = _edge(measure)
    state = _state(
        quote(measure_id),
        met=_met(measure, band),
        apart=_set_apart(measure),
        ended=_ended(measure),
        applies="known.applies",
        edge="known.edge" if edge is None else repr(edge),
    )
    return f"""
    known as (
        select
            facts.*,
            setting.at_least,
            setting.applies,
            {"setting.arrived_before," if "arrived_before" in measure.numbers else ""}
            {_DUE},
            {_CLOSES},
        from facts
        inner join setting using (newborn_id)
    ),
    {state}
    """


@dataclass
class Together:
    """Several measures in one select, which a small store is planned for once, not once each.

    ``_numbers``: of each thing in which measures differ, its texts of SQL, and the number by which
    a row says which of them is its own.
    """

    pieces: list[str] = field(default_factory=list)
    _numbers: dict[str, dict[str, int]] = field(default_factory=dict)

    def add(self, measure: Measure, policies: Mapping[str, Periods], given: Sequence[str]) -> None:
        """Add a measure whose select gives the facts ``given``; ``policies`` by unit id."""
        says_met = "true" if "is_met" in given else "false"
        facts = ", ".join(
            f"facts.{name}" if name in given else f"{default} as {name}"
            for name, default in FACTS.items()
        )
        numbers = {
            name: number_of(policies, name) if name in measure.numbers else _number(None)
            for name in _SETTINGS
        }
        # What is everybody's needs no join, nor does who is asked where every unit is.
        joins = not is_for_all(policies) or any(map(_varies, numbers.values()))
        told = ", ".join(
            f"{f'setting.{name}' if _varies(sql) else sql} as {name}"
            for name, sql in numbers.items()
        )
        edge = _edge(measure)
        self.pieces.append(
            f"(with setting as not materialized ({setting(policies, measure)}) "
            f"select {_bands(measure)}, "
            f"{says_met} as says_met, "
            f"{'true' if measure.kind == 'minutes' else 'false'} as by_minutes, "
            f"{_number(edge)} as band_edge, "
            f"{self._of('apart', _set_apart(measure))} as apart, "
            f"{self._of('ended', _ended(measure))} as ended, "
            f"{self._of('applying', number_of(policies, 'applies'))} as applying, {facts}, {told} "
            f"from ({measure.sql}) as facts"
            f"{' inner join setting using (newborn_id)' if joins else ''}{_each_band(measure)})"
        )

    def _of(self, what: str, sql: str) -> int:
        known = self._numbers.setdefault(what, {})
        return known.setdefault(sql, len(known))

    def _case(self, what: str) -> str:
        whens = " ".join(f"when {n} then {sql}" for sql, n in self._numbers[what].items())
        return f"case known.{what} {whens} end"

    def states(self) -> str:
        """Return the query that derives every state of the measures added."""
        state = _state(
            "known.measure_id",
            met="case when by_minutes then minutes is not null when by_band then coalesce("
            "(low is null or value >= low) and (below is null or value < below), false) "
            f"else {_IN_WINDOW} end",
            apart=self._case("apart"),
            ended=self._case("ended"),
            applies=self._case("applying"),
            edge="coalesce(known.band_edge, known.edge)",
        )
        return f"""
        with raw as not materialized ({" union all ".join(self.pieces)}),
        known as (select raw.*, {_DUE}, {_CLOSES}, from raw),
        {state}
        """


# What the derivation reads of a measure's settings, beside whether it applies.
_SETTINGS: Final = ("at_least", "at_most", "arrived_before")


def _varies(number: str) -> bool:
    return number.startswith("case ")


def _number(value: float | None) -> str:
    return "cast(null as double)" if value is None else repr(float(value))


def _bands(measure: Measure) -> str:
    """Return the columns that say which result a row is of, and between which edges it is met."""
    if measure.bands:
        return "band.measure_id, true as by_band, band.low, band.below"
    none = _number(None)
    return f"{quote(measure.id)} as measure_id, false as by_band, {none} as low, {none} as below"


def _each_band(measure: Measure) -> str:
    """Return the join that gives each fact once for every band."""
    if not measure.bands:
        return ""
    rows = ", ".join(
        f"({quote(name)}, {_number(band.at_least)}, {_number(band.below)})"
        for name, band in zip(measure.result_ids, measure.bands, strict=True)
    )
    return f" cross join (values {rows}) as band (measure_id, low, below)"

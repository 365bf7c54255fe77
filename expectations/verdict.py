"""What the checks said: per check how many were judged and flagged, or why it could not be."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass

import duckdb
import pandas as pd

from expectations.check import Check
from pipelines.base.insert_rows import insert_rows


@dataclass(frozen=True)
class Outcome:
    """The result of one check.

    ``rows_judged`` and ``flagged`` are counts of values (or of rows, for a rule across
    columns). Where ``could_not_be_judged`` gives a reason, both are 0 and say nothing about
    the data: neither that it passed nor that it is bad.
    """

    rule_id: str
    table_name: str
    column_name: str | None
    kind: str | None
    title: str
    severity: str
    rows_judged: int
    flagged: int
    could_not_be_judged: str | None

    @property
    def success(self) -> bool:
        return self.could_not_be_judged is None and self.flagged == 0


def outcome(check: Check, judged: int, flagged: int, reason: str | None) -> Outcome:
    """Return the outcome of ``check`` from its two counts or its reason."""
    if reason is not None:
        judged, flagged = 0, 0
    return Outcome(
        check.rule_id,
        check.table,
        check.column,
        check.kind,
        check.title,
        check.severity,
        judged,
        flagged,
        reason,
    )


@dataclass(frozen=True)
class Verdict:
    """Every outcome, in the order in which the checks ran."""

    outcomes: tuple[Outcome, ...]

    @property
    def not_judged(self) -> tuple[Outcome, ...]:
        return tuple(each for each in self.outcomes if each.could_not_be_judged is not None)

    @property
    def is_trustworthy(self) -> bool:
        """Whether every check could be judged; flags do not make a verdict untrustworthy."""
        return bool(self.outcomes) and not self.not_judged

    @property
    def in_words(self) -> str:
        """One sentence for the build log: counts and rule names, no values."""
        if not self.outcomes:
            return "Nothing was judged: there are no checks."
        if self.not_judged:
            named = "; ".join(
                f"{each.rule_id} on {each.table_name} ({each.could_not_be_judged})"
                for each in self.not_judged
            )
            counts = f"{len(self.not_judged)} of {len(self.outcomes)} checks"
            return f"{counts} could not be judged: {named}"
        return f"All {len(self.outcomes)} checks were judged; {self.flagged} flags."

    @property
    def flagged(self) -> int:
        return sum(each.flagged for each in self.outcomes)

    def to_frame(self) -> pd.DataFrame:
        """Return one row per check, with the fields of ``Outcome`` and ``success``."""
        rows = [{**asdict(each), "success": each.success} for each in self.outcomes]
        return pd.DataFrame(rows)


def store_verdict(connection: duckdb.DuckDBPyConnection, outcomes: Sequence[Outcome]) -> None:
    """Keep the verdict as the table ``judged.verdict``."""
    connection.execute(
        """
        create or replace table judged.verdict (
            rule_id varchar, table_name varchar, column_name varchar, kind varchar,
            title varchar, severity varchar, rows_judged bigint, flagged bigint,
            could_not_be_judged varchar
        )
        """
    )
    insert_rows(connection, "judged.verdict", [tuple(vars(each).values()) for each in outcomes])

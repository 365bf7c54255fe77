"""The great-expectations suites: the only module that imports great_expectations.

Each check is an expectation of our own that runs SQL on the project's DuckDB connection and
hands back two counts: great_expectations never sees a newborn's row. Suite, expectation and
result are its own. The batch it insists on is a frame of one empty row.

Importing this module takes seconds; import it where checks run, nowhere else.
"""

import logging
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from functools import cache
from typing import Any, ClassVar

import duckdb
import pandas as pd

# Read at import, so it must be said first: nothing about a run leaves the machine.
os.environ["GX_ANALYTICS_ENABLED"] = "false"

import great_expectations as gx
from great_expectations.data_context.types.base import (
    DataContextConfig,
    InMemoryStoreBackendDefaults,
    ProgressBarsConfig,
)
from great_expectations.expectations.expectation import BatchExpectation
from great_expectations.expectations.expectation_configuration import parse_result_format
from great_expectations.validator.validator import ValidationDependencies

from expectations.check import Check, RowCounts, find, find_together, lot_of
from expectations.verdict import Outcome, outcome
from pipelines.definitions.read_contract import Contract, read_contract

_GX_SEVERITY = {"error": "critical", "query": "warning", "note": "info"}
# Errors about the SQL itself; the first line of their message names tables and columns only.
_ABOUT_SQL = (duckdb.CatalogException, duckdb.BinderException, duckdb.ParserException)
_OWN_WORDS = "rule_id "


class CouldNotBeJudgedError(Exception):
    """A check raised; the message says why without repeating a value."""


# Planning is most of the time that a rule takes over few newborns: so many are planned together.
# Over more newborns memory counts, and they go one by one.
_RULES_AT_ONCE = 12
_FEW_NEWBORNS = 20_000


def _is_small(connection: duckdb.DuckDBPyConnection) -> bool:
    row = connection.execute("select count(*) from typed.admission").fetchone()
    return row is not None and int(row[0]) <= _FEW_NEWBORNS


class _Run:
    """The checks of one run, in lots that are found in one statement each."""

    def __init__(
        self, connection: duckdb.DuckDBPyConnection, checks: Sequence[Check], contract: Contract
    ) -> None:
        self.connection, self.contract = connection, contract
        self.checks = {check.id: check for check in checks}
        self.rows = RowCounts(connection, contract)
        self._found: dict[str, int] = {}
        # A lot stands under the id of each of its checks until the turn of its first has come.
        self._lots: dict[str, list[Check]] = {}
        joins_rules = _is_small(connection)
        last: dict[tuple[object, ...], list[Check]] = {}
        for check in checks:
            key = lot_of(check, joins_rules)
            if check.parameters is not None and len(last.get(key, ())) >= _RULES_AT_ONCE:
                del last[key]
            self._lots[check.id] = last.setdefault(key, [])
            self._lots[check.id].append(check)

    def found(self, check: Check) -> int:
        """Return how many cells a check found, now that its turn has come.

        Raises whatever DuckDB raises where its own select is wrong: a lot in which one select
        is wrong is run again, check by check.
        """
        lot = list(self._lots[check.id])
        self._lots[check.id].clear()
        if len(lot) > 1:
            with suppress(duckdb.Error):
                self._found |= find_together(self.connection, lot, self.contract)
        if check.id not in self._found:
            self._found[check.id] = find(self.connection, check, self.contract)
        return self._found[check.id]


# Expectations are copied and rebuilt from plain values inside great_expectations, so they
# cannot carry a connection; they look up the run they belong to.
_RUN: ContextVar[_Run] = ContextVar("run")


class ExpectNothingFound(BatchExpectation):  # type: ignore[misc]  # gx is untyped
    """Expect that the check named by ``check_id`` finds no cell."""

    check_id: str

    metric_dependencies: ClassVar[tuple[str, ...]] = ()
    success_keys: ClassVar[tuple[str, ...]] = ("check_id",)
    domain_keys: ClassVar[tuple[str, ...]] = ("batch_id",)

    def get_validation_dependencies(
        self, execution_engine: Any = None, runtime_configuration: Any = None
    ) -> Any:
        """Say that no metric is needed; asking each field for it takes longer than most checks."""
        given = (runtime_configuration or {}).get("result_format", "BASIC")
        return ValidationDependencies(
            metric_configurations={}, result_format=parse_result_format(given)
        )

    def _validate(
        self, metrics: Any, runtime_configuration: Any = None, execution_engine: Any = None
    ) -> dict[str, Any]:
        run = _RUN.get()
        check = run.checks[self.check_id]
        try:
            judged = run.rows.judged(check)
            found = run.found(check)
        except Exception as error:
            raise CouldNotBeJudgedError(reason_in_words(error)) from None
        return {
            "success": found == 0,
            "result": {"element_count": judged, "unexpected_count": found},
        }


def reason_in_words(error: Exception) -> str:
    """Return why a check raised, without a value of the data.

    A message about the SQL names tables and columns and is kept; any other message may
    repeat the cell it failed on, so only the kind of error is said.
    """
    name = type(error).__name__
    line = str(error).splitlines()[0] if str(error) else ""
    own = line.find(_OWN_WORDS)
    if isinstance(error, duckdb.InvalidInputException) and own >= 0:
        return line[own:]
    if isinstance(error, _ABOUT_SQL):
        return f"{name}: {line}"
    return f"{name} (its message may hold a value and is left out)"


def run_checks(
    connection: duckdb.DuckDBPyConnection,
    checks: Sequence[Check],
    contract: Contract | None = None,
) -> tuple[Outcome, ...]:
    """Run the checks, one suite per canonical table, in the order given within a table.

    Findings go to the temporary table ``found``. A check that raises becomes an outcome that
    could not be judged; the others still run.
    """
    by_id = {check.id: check for check in checks}
    if len(by_id) < len(checks):
        raise ValueError("two checks have one id")
    token = _RUN.set(_Run(connection, checks, contract or read_contract()))
    try:
        results = _validate_suites(list(by_id.values()))
    finally:
        _RUN.reset(token)
    # A check without a result was not judged, whatever the reason.
    return tuple(_outcome(check, results.get(check.id)) for check in by_id.values())


def _validate_suites(checks: Sequence[Check]) -> dict[str, Any]:
    """Return each expectation's validation result by check id."""
    results: dict[str, Any] = {}
    with _quiet():
        for table in dict.fromkeys(check.table for check in checks):
            suite = _suite(table, [check for check in checks if check.table == table])
            # The batch judges the suite itself: a checkpoint would write down and read again
            # every expectation several times, and nothing of it is kept.
            done = _batch().validate(suite, result_format="BASIC")
            results |= {
                result.expectation_config.kwargs["check_id"]: result for result in done.results
            }
    return results


@cache
def _batch() -> Any:
    """Return the frame of one empty row, in a context that makes no folder, file or bar."""
    context = gx.get_context(
        mode="ephemeral",
        project_config=DataContextConfig(
            store_backend_defaults=InMemoryStoreBackendDefaults(init_temp_docs_sites=False),
            progress_bars=ProgressBarsConfig(globally=False),
            analytics_enabled=False,
        ),
    )
    definition = (
        context.data_sources.add_pandas("run")
        .add_dataframe_asset("connection")
        .add_batch_definition_whole_dataframe("whole")
    )
    return definition.get_batch(batch_parameters={"dataframe": pd.DataFrame({"row": [None]})})


def _suite(table: str, checks: Sequence[Check]) -> Any:
    return gx.ExpectationSuite(
        name=table,
        expectations=[
            ExpectNothingFound(
                check_id=check.id,
                severity=_GX_SEVERITY[check.severity],
                description=check.title,
            )
            for check in checks
        ],
    )


@contextmanager
def _quiet() -> Iterator[None]:
    """great_expectations logs what it rebuilds and the tracebacks of checks; keep both out."""
    logger = logging.getLogger("great_expectations")
    before = logger.level
    logger.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        logger.setLevel(before)


def _outcome(check: Check, result: Any) -> Outcome:
    if result is None:
        return outcome(check, 0, 0, "great_expectations gave no result")
    raised = result.exception_info or {}
    if raised.get("raised_exception"):
        return outcome(check, 0, 0, str(raised.get("exception_message")))
    counts = result.result
    if "element_count" not in counts or "unexpected_count" not in counts:
        return outcome(check, 0, 0, "great_expectations gave no counts")
    return outcome(check, counts["element_count"], counts["unexpected_count"], None)

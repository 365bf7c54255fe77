"""Judging: suites from the contract and from ``rules/*.sql``, run by great-expectations.

Importing this package is quick; great_expectations is imported when ``judge`` runs.
"""

from expectations.judging import judge
from expectations.verdict import Outcome, Verdict

__all__ = ["Outcome", "Verdict", "judge"]

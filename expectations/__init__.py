"""Rules of values and of columns, and the great-expectations suites that run them.

May use: base, definitions, stages/raw, stages/typed, stages/judged.
Edited by: analyst the .sql, developer the .py.
"""

from expectations.judging import judge
from expectations.verdict import Outcome, Verdict

__all__ = ["Outcome", "Verdict", "judge"]

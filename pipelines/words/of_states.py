"""The words of states, severities and rules."""

from typing import Final

from pipelines.statistics import rules

STATE_WORDS: Final = {
    "met": "Happened",
    "not_done": "Recorded as not done",
    "not_met": "Not met",
    "not_documented": "Not documented",
    "late": "Late",
    "unusable": "Recorded, but cannot be used",
}


SEVERITY_WORDS: Final = {
    "error": "cannot be right",
    "query": "unlikely",
    "note": "worth knowing",
}


SEVERITY_MEANING: Final = {
    "error": "the value is left out of every figure",
    "query": "the value counts; please look at the record",
    "note": "the value counts; for information",
}


RULE_WORDS: Final = {
    rules.OUTSIDE: "outside the limits of chance",
    rules.TOGETHER: "six together outside the limits of chance",
    rules.SHIFT: "a run on one side of the middle",
    rules.TREND: "seven in a row one way",
    rules.LONGEST_RUN: "a long run on one side of the median",
    rules.CROSSINGS: "few crossings of the median",
}


# The same where room is scarce: inside a picture.
SHORT_RULE: Final = {
    rules.OUTSIDE: "outside limits",
    rules.TOGETHER: "six together outside",
    rules.SHIFT: "run on one side",
    rules.TREND: "seven one way",
    rules.LONGEST_RUN: "long run",
    rules.CROSSINGS: "few crossings",
}

"""The words of states, severities and rules."""

from typing import Final

from pipelines.definitions.states import severity_words, state_words
from pipelines.statistics import rules

STATE_WORDS: Final = state_words("title")
SEVERITY_WORDS: Final = severity_words("title")
SEVERITY_MEANING: Final = severity_words("meaning")
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

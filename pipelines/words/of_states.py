"""The words of states, severities and rules."""

from typing import Final

from pipelines.definitions.states import severity_words, state_words
from pipelines.statistics import rules

STATE_WORDS: Final = state_words("title")
SEVERITY_WORDS: Final = severity_words("title")
SEVERITY_MEANING: Final = severity_words("meaning")
WORD_NOT_KNOWN: Final = "word not known"
# What a flag on a value can be, in order: its meaning for the figures.
FLAG_KINDS: Final = {
    **{words: SEVERITY_MEANING[severity] for severity, words in SEVERITY_WORDS.items()},
    WORD_NOT_KNOWN: "not usable until the unit file knows it",
}
RULE_WORDS: Final = {
    rules.OUTSIDE: "outside the limits of chance",
    rules.TOGETHER: "six in a row, added up, outside the limits of chance",
    rules.SHIFT: "a run on one side of the middle",
    rules.TREND: "eight in a row one way",
    rules.LONGEST_RUN: "a long run on one side of the median",
    rules.CROSSINGS: "few crossings of the median",
}


# The same where room is scarce: inside a picture.
SHORT_RULE: Final = {
    rules.OUTSIDE: "outside limits",
    rules.TOGETHER: "six added up, outside",
    rules.SHIFT: "run on one side",
    rules.TREND: "eight one way",
    rules.LONGEST_RUN: "long run",
    rules.CROSSINGS: "few crossings",
}


def flag_kind(severity: str, rule_id: str) -> str:
    """Name the kind of a flag on a value; a word on no list is kept, yet not usable.

    >>> flag_kind("query", "not_on_list"), flag_kind("query", "apgar_order")
    ('word not known', 'unlikely')
    """
    return WORD_NOT_KNOWN if rule_id == "not_on_list" else SEVERITY_WORDS[severity]

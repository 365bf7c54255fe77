"""Which charts are carried into a meeting: those of the measures that the first lines name."""

from itertools import chain, zip_longest

from pipelines.pages.meeting.read import told_first
from pipelines.pages.review.read import ReviewData
from pipelines.pages.review.sections import RECORDS


def named(data: ReviewData) -> list[str]:
    """Return the measures that the first lines name, in the order in which their charts matter.

    First what a change made worse and nobody answered, then of each line its first measure, of
    each its second, and so on. What should never happen comes last: single events say little in
    months, and their records stand beside the charts.
    """
    lines = told_first(data)
    moved = [one.about for one in lines if one.place != RECORDS.id]
    events = [one.about for one in lines if one.place == RECORDS.id]
    unanswered = [name for one in lines for name in one.about if name in one.unanswered]
    in_turn = chain.from_iterable(zip_longest(*moved))
    every = [*unanswered, *in_turn, *chain.from_iterable(events)]
    return list(dict.fromkeys(name for name in every if name is not None))

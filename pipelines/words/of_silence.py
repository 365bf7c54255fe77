"""What pages say of a measure of which the whole export has no usable record: one wording."""

from collections.abc import Sequence
from typing import Final, NotRequired, TypedDict

NOT_IN_EXPORT: Final = "cannot be judged from this export"
# No figure must not read as no harm, nor as leave to stop looking.
CAUTION: Final = "Nothing here says whether it was done."
SWITCH_OFF: Final = "only where local policy does not ask for it"


class ReadRow(TypedDict):
    """What ``finding`` asks of a row: counts of the month, and what the measure reads."""

    unusable: int
    not_documented: int
    look_at: NotRequired[list[str] | None]
    missing_column: str | None


def left_out(titles: Sequence[str]) -> str:
    """Name every measure that a page leaves out for it; empty where there is none.

    >>> left_out(["First feed"])
    'Left out, since it cannot be judged from this export: First feed.'
    >>> left_out([])
    ''
    """
    it = "it" if len(titles) == 1 else "they"
    head = f"Left out, since {it} {NOT_IN_EXPORT}"
    return f"{head}: {'; '.join(titles)}." if titles else ""


def finding(row: ReadRow, noun: str) -> str:
    """Say why there is no figure, and what the measure reads.

    ``row``: unusable and not_documented of the month; missing_column; look_at may be missing.
    ``noun``: what its rows are, such as newborns. Where the column is missing that says whom the
    measure is about, that is why.

    >>> row = {"unusable": 0, "not_documented": 9, "missing_column": "admission.weight_g"}
    >>> finding(row, "newborns").split(": ")[1].split(". ")[0]
    'whom it is about stands in the column admission.weight_g, and nobody here has it'
    """
    missing = row["missing_column"]
    if isinstance(missing, str):
        return (
            f"It {NOT_IN_EXPORT}: whom it is about stands in the column {missing}, and nobody here "
            "has it. Map the column where the export has one, or write the one value that holds "
            f"for all; without it the measure would be about everybody, or nobody. {CAUTION}"
        )
    reads = row.get("look_at") or []
    looked = f" It reads {'; '.join(reads)}." if reads else ""
    why = (
        "It is recorded, but never with all that is needed."
        if row["unusable"] > row["not_documented"]
        else "Either the export lacks it, or it is not written down."
    )
    return (
        f"It {NOT_IN_EXPORT}: no month of it has a usable record that it was done, for any of the "
        f"{noun}. {why}{looked} {CAUTION}"
    )

"""Errors that tell a person what was found, where, and what to do next.

None of them carries a newborn's values: file, line, key and names only.
"""

from collections.abc import Iterable
from difflib import get_close_matches

EXIT_CODES = {
    "usage": 2,  # the command was not understood
    "declaration": 3,  # a contract, unit, measure or rule file is wrong
    "export": 4,  # an export cannot be read
    "store": 5,  # the built store is missing or does not fit
    "verdict": 6,  # the build ran, but a check could not be judged
    "release": 7,  # a release was refused, for small numbers could be derived
}


class LanugoError(Exception):
    """A mistake in the input, said in words; ``kind`` selects the exit code."""

    kind = "usage"

    @property
    def exit_code(self) -> int:
        return EXIT_CODES[self.kind]


class DeclarationError(LanugoError):
    """A contract, unit, measure or rule file says something that cannot be meant."""

    kind = "declaration"


class ExportError(LanugoError):
    """An export file is missing, empty or cannot be read."""

    kind = "export"


class StoreError(LanugoError):
    """The store is missing, held by another program or of another version."""

    kind = "store"


def nearest(name: str, choices: Iterable[str]) -> str:
    """Return " Did you mean 'x'?" for the closest choice, or the choices in full.

    >>> nearest("wieght_g", ["weight_g", "length_cm"])
    " Did you mean 'weight_g'?"
    >>> nearest("zzz", ["a", "b"])
    ' Known names: a, b.'
    """
    known = list(choices)
    by_fold = {choice.casefold(): choice for choice in known}
    close = get_close_matches(name.casefold(), by_fold, n=1, cutoff=0.6)
    if close:
        return f" Did you mean '{by_fold[close[0]]}'?"
    return f" Known names: {', '.join(known)}." if known else ""

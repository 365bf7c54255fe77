"""Below which number a figure is called small, and at which level two groups are told apart."""

from typing import Final

# The level of a single comparison of two groups or two spans of time, two-sided.
CHANGE_LEVEL: Final = 0.01


SMALL: Final = 20  # below this the pages draw open marks and say "small number"

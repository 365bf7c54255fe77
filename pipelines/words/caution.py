"""The sentence that every page and the command line end with."""

from typing import Final

CLOSING: Final = (
    "These figures screen records of care; they do not guide the care of one newborn; "
    "local policy, law and licensed practice decide."
)


PAGE_KIND: Final = "Internal page: it shows single records and stays inside the unit"


UNMASKED: Final = "Internal: nothing here is masked, so it stays inside the unit."


CAUTIONS: Final = (
    "Not documented is not the same as not done. A low figure can mean care that did not "
    "happen or care that was not written down; the count of not documented stands beside it.",
    "Small numbers move a lot by chance. The bar beside each percent shows the range that fits "
    "the newborns of this month (95 % interval); below 20 newborns the mark is open.",
    "An export may lack a shift, a room or a kind of record. Look at data quality before care.",
)

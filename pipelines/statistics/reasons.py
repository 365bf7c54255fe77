"""Why a chart is what it is, for a program to read: a name, where, what was found and needed."""

from dataclasses import dataclass
from typing import Final

import pandas as pd

NO_DATA: Final = "no_data"  # no period has a denominator
TOO_FEW_POINTS: Final = "too_few_points"  # a run chart only: found points, needed 12
TOO_FEW_OFF_THE_LINE: Final = "too_few_off_the_line"  # run rules not applied: found, needed 10
LINE_DOES_NOT_DIVIDE: Final = "line_does_not_divide"  # run rules not applied: uneven sides
CONSTANT: Final = "constant"  # every value is the same (found); see all_met, none_met
NONE_MET: Final = "none_met"
ALL_MET: Final = "all_met"
NO_VARIATION: Final = "no_variation"  # measured values without spread give no limits
EMPTY_PERIODS: Final = "empty_periods"  # found: months without denominator, or missing
SHORT_BASELINE: Final = "short_baseline"  # limits from fewer than 12 periods: found, needed
OVERDISPERSED: Final = "overdispersed"  # limits widened: found sigma of z
QUARTERS: Final = "quarters_for_small_numbers"  # found: births in a usual month, needed 10
BLOCKS: Final = "blocks_for_small_numbers"
BLOCKS_WITHOUT_MONTHS: Final = "blocks_without_months"
OPEN_BLOCK: Final = "open_block"  # found: births waiting for a full block, needed its size
RARE: Final = "rare_events"  # found: events in a usual month, needed 1
TOO_FEW_EVENTS: Final = "too_few_events"  # no chart from event to event: found, needed
CHANGE_IN_BASELINE: Final = "change_in_baseline"  # found: of its periods (needed) before it
LEVEL_TOO_SHORT: Final = "level_too_short"  # accepted, not drawn yet: found periods, needed 6
CHANGES_CANNOT_BE_PLACED: Final = "changes_cannot_be_placed"  # births without months


@dataclass(frozen=True)
class Reason:
    """One fact about how a chart was made."""

    name: str
    start_on: pd.Timestamp | None = None
    found: float | None = None
    needed: float | None = None

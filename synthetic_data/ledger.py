"""The ledger: every planted fault, the true text and the text as written, and where it stands."""

import numpy as np
import pandas as pd

from synthetic_data.chances import Objects

LEDGER_COLUMNS = (
    "unit",
    "record_id",
    "table_name",
    "row",
    "column_name",
    "fault",
    "true_value",
    "recorded_value",
    "source_file",
    "source_line",
    "local_column",
)


class Ledger:
    """Gathers faults while they are planted."""

    def __init__(self, unit_id: str) -> None:
        self.unit_id = unit_id
        self.blocks: list[pd.DataFrame] = []

    def add(
        self,
        *,
        table_name: str,
        rows: pd.DataFrame,
        column_name: str,
        fault: str,
        true: Objects,
        recorded: Objects,
    ) -> None:
        """Add one fault per row; the index of ``rows`` is the place in the recorded table."""
        block = pd.DataFrame(
            {
                "unit": self.unit_id,
                "record_id": rows["record_id"].astype(object).to_numpy(),
                "table_name": table_name,
                "row": rows.index.to_numpy(dtype=np.int64),
                "column_name": column_name,
                "fault": fault,
                "true_value": true,
                "recorded_value": recorded,
            }
        )
        self.blocks.append(block)

    def frame(self) -> pd.DataFrame:
        """Return the ledger; places are blank until the exports are written."""
        if not self.blocks:
            return pd.DataFrame(columns=list(LEDGER_COLUMNS))
        whole = pd.concat(self.blocks, ignore_index=True)
        whole["source_file"] = pd.Series(None, index=whole.index, dtype=object)
        whole["source_line"] = pd.Series(pd.NA, index=whole.index, dtype="Int64")
        whole["local_column"] = pd.Series(None, index=whole.index, dtype=object)
        return whole[list(LEDGER_COLUMNS)]

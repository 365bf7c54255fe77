"""A table with its masks laid on: null where a count is masked, and the words that stand there.

Frame in, frame out. Every consumer (file, page, chart, tooltip, alternative text) asks is_hidden.
"""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
import pandas as pd

from pipelines.definitions.states import COUNTS
from pipelines.release.masking import Rule, hidden_words
from pipelines.release.sums import COLUMN, LEVEL_OF, Bools

NO_NEWBORNS: Final = "no eligible newborns"

_RATES: Final[Mapping[str, tuple[str, ...]]] = {
    "rate": ("numerator", "not_in_numerator"),
    "lower": ("numerator", "not_in_numerator"),
    "upper": ("numerator", "not_in_numerator"),
    "if_none_met": ("numerator", "not_in_numerator", "not_documented", "unusable"),
    "if_all_met": ("numerator", "not_in_numerator", "not_documented", "unusable"),
}


def _any_of(hidden: Bools, names: Sequence[str]) -> Bools:
    return np.asarray(hidden[:, [COLUMN[name] for name in names]].any(axis=1), bool)


def conceal(rows: pd.DataFrame, hidden: Bools, rule: Rule) -> pd.DataFrame:
    """Return the rows with masked counts null and every figure that rests on one null.

    Adds is_hidden (bool: the rate is masked; what every consumer asks before it shows one),
    hidden_counts (list of the masked counts) and words: what to say where there is no rate. A
    rate is shown only where the counts it is made of are, so it tells nothing beyond them.
    """
    shown = rows.reset_index(drop=True).copy()
    for name, needed in _RATES.items():
        shown[name] = shown[name].astype(float).mask(_any_of(hidden, needed))
    is_hidden = _any_of(hidden, _RATES["rate"])
    nobody = (rows["numerator"] + rows["not_in_numerator"] == 0).to_numpy()
    for place, name in enumerate(COUNTS):
        shown[name] = shown[name].astype("Int64").mask(hidden[:, place])
    shown["is_hidden"] = is_hidden
    shown["hidden_counts"] = [
        [name for name, masked in zip(COUNTS, row, strict=True) if masked] for row in hidden
    ]
    words = np.where(nobody, NO_NEWBORNS, "")
    shown["words"] = np.where(is_hidden, hidden_words(rule.threshold), words)
    return shown


def cell_words(shown: pd.DataFrame, rule: Rule) -> pd.DataFrame:
    """Return the frame of ``conceal`` as text for a file or table: masks and gaps in words.

    A count that rows of this level do not tell is left blank.
    """
    texts: dict[str, Any] = {}
    said = hidden_words(rule.threshold)
    for name in shown.columns.drop("hidden_counts"):
        column = shown[name]
        if name in COUNTS:
            words = np.where(shown["level"] >= LEVEL_OF[name], said, "")
            texts[name] = column.astype("str").where(column.notna(), words)
        elif name in _RATES:
            known = column.round(4).astype("str")
            texts[name] = known.where(column.notna(), _gap(shown, name, said))
        else:
            texts[name] = column
    return pd.DataFrame(texts)


def _gap(shown: pd.DataFrame, name: str, said: str) -> pd.Series:
    """Say why a figure is not there: not told, masked, or nobody to count."""
    needed = _RATES[name]
    is_told = shown["level"] >= max(LEVEL_OF[one] for one in needed)
    masked = pd.Series([bool({*needed} & {*names}) for names in shown["hidden_counts"]])
    words = np.where(masked, np.where(is_told, said, ""), NO_NEWBORNS)
    return pd.Series(words, index=shown.index)

"""Which month of a store is shown: the one asked for, or the last that looks complete."""

import datetime as dt

import pandas as pd

from pipelines.base.errors import LanugoError


def parse_month(text: str) -> dt.date:
    """Return the first of the month written as 2026-04.

    >>> parse_month("2026-04")
    datetime.date(2026, 4, 1)
    """
    try:
        return dt.datetime.strptime(text, "%Y-%m").date()
    except ValueError:
        raise LanugoError(f"month '{text}': write it as 2026-04.") from None


def last_full_month(months: pd.DataFrame, loaded_at: pd.Timestamp | None) -> pd.Timestamp:
    """Return the latest month of birth that looks complete.

    A month counts as complete if it had ended when the exports were loaded and has at least
    half the usual births (median of the six months before); a shorter one is a part of a
    month. Needs: month, births, in order.
    """
    ended = months
    if loaded_at is not None and not pd.isna(loaded_at):
        ended = months[months["month"] + pd.DateOffset(months=1) <= loaded_at]
    usual = ended["births"].shift().rolling(6, min_periods=3).median()
    full = ended[usual.isna() | (ended["births"] >= usual / 2)]
    chosen = full if len(full) else months
    return pd.Timestamp(chosen["month"].iloc[-1])

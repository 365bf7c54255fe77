"""How many planted faults the rules catch: ``python tests/ledger/report.py --newborns 100000``.

Prints, by kind of fault and gestation, caught / planted; by column and by rule, false
positives per 10,000 clean cells; by kind of slip, how often the suggestion is the planted truth.
Exports are synthetic and thrown away.
"""

import argparse
import sys
import tempfile
from pathlib import Path

import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.ledger.score import BANDS, Score, needed_share, run


def _caught_lines(score: Score) -> list[str]:
    frame = score.caught()
    lines = [f"{'fault':<42}" + "".join(f"{band + ' weeks':>20}" for band in BANDS)]
    for fault, row in frame.iterrows():
        cells = ""
        for band in BANDS:
            caught, planted = int(row[band, "caught"]), int(row[band, "planted"])
            needed = needed_share(str(fault), band)
            short = "" if needed is None or caught >= needed * planted else " <"
            share = f"{100 * caught / planted:.1f} %" if planted else ""
            cells += f"{f'{caught}/{planted} {share}{short}':>20}"
        lines.append(f"{fault:<42}{cells}")
    return lines


def _false_positive_lines(score: Score) -> list[str]:
    lines = [
        f"{'column':<42}{'clean cells':>14}{'errors per 10,000':>20}{'queries per 10,000':>20}"
    ]
    for (table, column), row in score.false_positives().iterrows():
        lines.append(
            f"{table + '.' + column:<42}{int(row['cells']):>14,}"
            f"{row['error_per_10_000']:>20.2f}{row['query_per_10_000']:>20.2f}"
        )
    return lines


def _rule_lines(score: Score) -> list[str]:
    """Rules that flagged a clean cell; every other rule flagged none."""
    lines = [f"{'rule':<42}{'cells':>14}{'errors per 10,000':>20}{'queries per 10,000':>20}"]
    for (rule, table), row in score.false_positives_by_rule().iterrows():
        lines.append(
            f"{table + '.' + rule:<42}{int(row['cells']):>14,}"
            f"{row['error_per_10_000']:>20.2f}{row['query_per_10_000']:>20.2f}"
        )
    return lines


def _shares(row: pd.Series) -> str:
    return "".join(f"{100 * row[name] / row['caught']:>12.1f} %" for name in ("first", "named"))


def _suggestion_lines(score: Score) -> list[str]:
    frame = score.suggestions()
    lines = [f"{'caught slip':<42}{'caught':>10}{'truth first':>14}{'truth named':>14}"]
    for fault, row in frame.iterrows():
        lines.append(f"{fault:<42}{int(row['caught']):>10}{_shares(row)}")
    whole = frame.sum()
    return [*lines, f"{'all slips':<42}{int(whole['caught']):>10}{_shares(whole)}"]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--newborns", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=3)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="lanugo-report-") as name:
        score = run(Path(name), args.newborns, args.seed)
        for lines in (
            _caught_lines(score),
            _false_positive_lines(score),
            _rule_lines(score),
            _suggestion_lines(score),
        ):
            print("\n".join(lines), end="\n\n")


if __name__ == "__main__":
    main()

"""What a small build costs: ``python -m tests.benchmark.small_build``.

Not a test: it prints and judges nothing. A test that makes its own export pays this price each
time. Processor seconds, DuckDB's threads counted, after everything is imported and once warm;
beside them a plain loop, for machines, and hours on one machine, differ.
"""

import argparse
import tempfile
import time
from pathlib import Path

import expectations.rules_of_columns
import expectations.suites  # noqa: F401  # great_expectations: seconds to import, not to build
from pipelines.build.every_stage import build_store
from pipelines.definitions.read_units import find_unit
from synthetic_data import write_demo


def _loop() -> float:
    """Return the processor seconds of 10 million additions."""
    began = time.process_time()
    total = 0
    for number in range(10_000_000):
        total += number
    return time.process_time() - began


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--newborns", type=int, default=21)
    parser.add_argument("--unit", default="quillmere")
    parser.add_argument("--times", type=int, default=5)
    args = parser.parse_args()
    unit = find_unit(args.unit)
    with tempfile.TemporaryDirectory(prefix="lanugo-benchmark-") as name:
        folder = Path(name)
        exports = write_demo(
            folder, units=[unit], n_months=1, births_per_month=args.newborns
        ).exports[unit.id]
        for time_no in range(args.times + 1):
            began = time.process_time()
            summary = build_store([(unit, exports)], folder / f"{time_no}.duckdb")
            seconds = time.process_time() - began
            named = "first" if time_no == 0 else "warm"
            print(
                f"{summary.newborns} newborns, {named} {seconds:6.2f} s; loop {_loop():5.2f} s",
                flush=True,
            )


if __name__ == "__main__":
    main()

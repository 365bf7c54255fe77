"""How long each stage takes, side by side in one run: ``python tests/benchmark/run.py``.

Not a test: it prints a table and judges nothing. Exports are synthetic and thrown away.
"""

import argparse
import resource
import tempfile
import time
from pathlib import Path

from pipelines.base.store_file import open_store
from pipelines.build.every_stage import build_store
from pipelines.definitions.read_units import find_unit
from synthetic_data import write_demo


class StageClock:
    """Adds the seconds between progress lines to the stage that the earlier line began."""

    STAGES = ("reading", "typing", "judging", "mart", "again", "comparing", "closing")

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self.now = "reading"
        self.since = time.perf_counter()

    def __call__(self, words: str) -> None:
        later = time.perf_counter()
        self.seconds[self.now] = self.seconds.get(self.now, 0.0) + later - self.since
        first = words.split(maxsplit=1)[0].rstrip(":")
        self.now = first if first in self.STAGES else "measures"
        self.since = later


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--newborns", type=int, default=100_000)
    parser.add_argument("--unit", default="quillmere")
    args = parser.parse_args()
    months = 24
    with tempfile.TemporaryDirectory(prefix="lanugo-benchmark-") as name:
        folder = Path(name)
        began = time.perf_counter()
        written = write_demo(
            folder, units=[args.unit], n_months=months, births_per_month=args.newborns / months
        )
        exports = written.exports[args.unit]
        size = sum(path.stat().st_size for path in exports.iterdir()) / 1e6
        print(f"writing synthetic exports {time.perf_counter() - began:8.1f} s {size:9.0f} MB")
        clock = StageClock()
        summary = build_store([(find_unit(args.unit), exports)], folder / "s.duckdb", clock)
        clock("end")
        with open_store(summary.store) as store:
            counted = store.execute(
                "select (select count(*) from newborn), (select count(*) from event), "
                "(select count(*) from membership), (select count(*) from flag)"
            ).fetchone()
        assert counted is not None
        print("{:,} newborns, {:,} events, {:,} memberships, {:,} flags".format(*counted))
        for stage, seconds in clock.seconds.items():
            print(f"{stage:<12} {seconds:8.1f} s")
        loading = clock.seconds["reading"] + clock.seconds["typing"]
        print(f"judging / loading  {clock.seconds['judging'] / loading:6.2f}")
        print(f"measures / loading {clock.seconds['measures'] / loading:6.2f}")
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"peak memory {peak:,.0f} MB, store {summary.store.stat().st_size / 1e6:,.0f} MB")


if __name__ == "__main__":
    main()

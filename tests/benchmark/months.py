"""What a new month costs after a long history: ``python -m tests.benchmark.months``.

Not a test: it prints processor seconds of the 2nd and of the last month of a store that grows a
delivery a month, and their ratio (wanted: at most 1.5). The months between are kept and read, but
not judged, for no later step reads what judging writes.
"""

import argparse
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import expectations.rules_of_columns
import expectations.suites  # noqa: F401  # great_expectations: seconds to import, not to build
from pipelines.build import deliver
from pipelines.build.deliver import Order, take_step
from pipelines.build.every_stage import BuildSummary
from pipelines.definitions.read_units import find_unit
from tests.memory.months import UNIT, months_of, unjudged


def _alone(judge: Callable[..., BuildSummary], *given: object, is_compared: bool) -> BuildSummary:
    return judge(*given, is_compared=False)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--months", type=int, default=60)
    parser.add_argument("--newborns", type=int, default=30, help="a month")
    args = parser.parse_args()
    judge, unit = deliver.judge_and_measure, find_unit(UNIT)
    seconds: dict[int, float] = {}
    with tempfile.TemporaryDirectory(prefix="lanugo-benchmark-") as name:
        folder = Path(name)
        months = months_of(folder / "drawn", args.months, args.newborns)
        for number, month in enumerate(months, start=1):
            # The last but one is judged for the last to be compared with, and not compared itself.
            is_timed = number in {1, 2, len(months) - 1, len(months)}
            if number == len(months) - 1:
                vars(deliver)["judge_and_measure"] = partial(_alone, judge)
            else:
                vars(deliver)["judge_and_measure"] = judge if is_timed else unjudged
            order = Order("add", unit=unit, exports=month.write(folder / "in"))
            began = time.process_time()
            take_step(folder / "store.duckdb", order)
            seconds[number] = time.process_time() - began
            if is_timed:
                print(f"month {number:3}: {seconds[number]:6.2f} processor seconds", flush=True)
    print(f"ratio of the last to the 2nd: {seconds[len(months)] / seconds[2]:.2f}")


if __name__ == "__main__":
    main()

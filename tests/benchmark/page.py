"""How long a review of five years takes to write and to open: ``python -m tests.benchmark.page``.

Not a test: it prints a table and judges nothing. Exports are synthetic and thrown away. Painted
and drawn are the browser's own times after it began to load the file, with the network off.
"""

import argparse
import tempfile
import time
from pathlib import Path
from typing import Any

from pipelines.build.every_stage import build_store
from pipelines.definitions.read_units import find_unit
from pipelines.pages.review.page import render_review
from synthetic_data import write_demo
from tests.pages.conftest import CHROMIUM, DRIVER, SWITCHES

SECONDS = 120


def _browser(profile: str) -> Any:
    from selenium import webdriver
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    options = Options()
    options.binary_location = str(CHROMIUM)
    for switch in (*SWITCHES, f"--user-data-dir={profile}", "--window-size=1280,800"):
        options.add_argument(switch)
    return webdriver.Chrome(options=options, service=Service(str(DRIVER)))


def _loop() -> float:
    """Return the seconds a plain loop takes: machines, and hours on one machine, differ."""
    began = time.perf_counter()
    total = 0
    for number in range(20_000_000):
        total += number
    return time.perf_counter() - began


def _opened(page: Path) -> tuple[float, float, float, float, int]:
    """Return first paint, ready for a reader's click, all charts drawn, the longest wait (ms).

    The longest wait is the longest task after the page was ready, in which a click would not
    be heard. Last comes how many charts were drawn.
    """
    with tempfile.TemporaryDirectory(prefix="lanugo-browser-") as profile:
        driver = _browser(profile)
        driver.get(page.as_uri())
        end = time.monotonic() + SECONDS
        waiting = "return document.querySelectorAll('.chart:not([data-drawn])').length"
        while driver.execute_script(waiting) and time.monotonic() < end:
            time.sleep(0.02)
        told = driver.execute_async_script(
            """
            const done = arguments[0];
            const drawn = performance.now();
            const [paint] = performance.getEntriesByName('first-contentful-paint');
            const [page] = performance.getEntriesByType('navigation');
            const ready = page.domContentLoadedEventEnd;
            let longest = 0; // nothing is observed where no task was long
            new PerformanceObserver((list) => list.getEntries().forEach((one) => {
                if (one.startTime >= ready) longest = Math.max(longest, one.duration);
            })).observe({ type: 'longtask', buffered: true });
            setTimeout(() => done([paint ? paint.startTime : NaN, ready, drawn, longest,
                document.querySelectorAll('.chart svg.marks').length]), 200);
            """
        )
        driver.quit()
    return told[0], told[1], told[2], told[3], int(told[4])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--months", type=int, default=60)
    parser.add_argument("--births", type=float, default=250, help="births a month")
    parser.add_argument("--unit", default="quillmere")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="lanugo-benchmark-") as name:
        folder = Path(name)
        written = write_demo(
            folder,
            units=[args.unit],
            start=f"{2026 - args.months // 12}-11",
            n_months=args.months,
            births_per_month=args.births,
        )
        store = folder / "s.duckdb"
        build_store([(find_unit(args.unit), written.exports[args.unit])], store)
        began = time.perf_counter()
        page = render_review(store, args.unit, None, folder / "review.html")
        seconds = time.perf_counter() - began
        print(f"a plain loop      {_loop():6.1f} s  (20 million turns)")
        print(f"{args.months} months of {args.births:g} births, one unit")
        print(f"writing the page  {seconds:6.1f} s  {page.stat().st_size / 1e6:.1f} MB")
        painted, ready, drawn, longest, charts = _opened(page)
        print(f"first screen painted {painted / 1000:6.2f} s")
        print(f"ready for a click    {ready / 1000:6.2f} s")
        print(f"{charts} charts drawn      {drawn / 1000:6.2f} s")
        print(f"longest wait after   {longest / 1000:6.2f} s")


if __name__ == "__main__":
    main()

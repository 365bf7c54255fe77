"""What the markers of speed mean, and the hooks that hold every test to them.

``build``    a store is built or judged for it, or a notebook run; for it alone or for the whole run
``browser``  needs headless Chromium
``slow``     takes more than five processor seconds, in its call or in a setup of its own
``long``     takes minutes: 20,000 newborns, false alarms, coverage

Without any of them a test is in the quick loop. Who asks for a fixture of ``GIVEN`` is marked by
that; any other test that should carry a marker and does not fails with the marker's name.
Processor time, not the clock's: others may use the machine.
"""

import functools
import os
import time
from collections import defaultdict
from collections.abc import Callable, Generator
from dataclasses import dataclass, field
from typing import Any

import pytest

import expectations
from pipelines.build import every_stage
from pipelines.pages.shell import render

from .once import ONCE, processor_seconds

SECONDS = 5.0
# Processor seconds differ from machine to machine and with what else runs: a test counts in
# those of a machine that adds ten million numbers in one second.
ADDITIONS, SECONDS_OF_ADDITIONS = 2_000_000, 0.2
PAGES = {
    *("fake_page", "fake_quality", "fake_fair", "fake_change", "released", "change_study"),
    *("whole_review", "whole_quality", "whole_fair", "messy_review", "messy_change"),
    *("fake_meeting", "whole_meeting"),
}
GIVEN = {
    "browser": {"browser", "has_browser", "visited"},
    "build": {
        *("synthetic", "clean", "two", "loads", "hostile_store", "out", "with_records"),
        *("every_page", "any_page", "told_demo", *PAGES),
    },
}
# What builds, judges or runs: the function by its module.
DEAR = ((every_stage, "build_store"), (expectations, "judge"), (render, "run"))
POINTS = {"long": 8, "slow": 4, "browser": 2, "build": 1}


@dataclass
class Watch:
    """Which test and which fixtures are running, and what the fixtures have cost."""

    item: pytest.Item | None = None
    fixtures: list[pytest.FixtureDef[Any]] = field(default_factory=list)
    inner: list[float] = field(default_factory=list)  # spent by fixtures within each fixture
    dear: dict[pytest.FixtureDef[Any], float] = field(default_factory=dict)
    called: dict[str, float] = field(default_factory=dict)  # node id -> seconds of its call


WATCH = Watch()


def own_seconds(config: pytest.Config) -> float:
    """Return the processor seconds so far, without those for what the whole run shares."""
    once = config.stash.get(ONCE, None)
    return processor_seconds() - (once.spent if once else 0.0)


def pace() -> float:
    """Return by how much this machine is slower at the moment than the one that is meant.

    Where more wants to run than there are cores, processes also push each other out of the
    caches, which a loop of additions does not feel: half as much again.
    """
    start, total = time.process_time(), 0
    for number in range(ADDITIONS):
        total += number
    slower = max(1.0, (time.process_time() - start) / SECONDS_OF_ADDITIONS)
    waiting = os.getloadavg()[0] if hasattr(os, "getloadavg") else 0.0
    return slower * (1.5 if waiting > 2 * (os.cpu_count() or 1) else 1.0)


def is_marked(item: pytest.Item, *names: str) -> bool:
    return any(item.get_closest_marker(name) for name in names)


# ---- given by themselves ------------------------------------------------------------------


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark who asks for what is dear; where processes share the tests, the longest comes first."""
    for item in items:
        for name, fixtures in GIVEN.items():
            if fixtures & set(getattr(item, "fixturenames", ())):
                item.add_marker(name)
    if os.environ.get("PYTEST_XDIST_WORKER"):
        points: dict[str, int] = defaultdict(int)
        for item in items:
            group = group_of(item.nodeid)
            points[group] = max(points[group], _points(item))
        items.sort(key=lambda item: -points[group_of(item.nodeid)])


def group_of(nodeid: str) -> str:
    """Return what one process runs: what is said of one page in the browser, else a file."""
    file, _, name = nodeid.partition("::")
    _, _, parameters = name.rstrip("]").partition("[")
    return next((one for one in parameters.split("-") if one in PAGES), file)


def _points(item: pytest.Item) -> int:
    return sum(points for name, points in POINTS.items() if is_marked(item, name))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Share out groups where files are asked for, in the order above: the longest come first."""
    if config.getvalue("dist") != "loadfile":
        return None
    from xdist.scheduler import LoadFileScheduling

    class ByGroup(LoadFileScheduling):
        def _split_scope(self, nodeid: str) -> str:
            return group_of(nodeid)

    config.option.loadscopereorder = False
    return ByGroup(config, log)


# ---- build --------------------------------------------------------------------------------


def _watched(work: Callable[..., Any]) -> Callable[..., Any]:
    @functools.wraps(work)
    def watched(*given: Any, **named: Any) -> Any:
        done = work(*given, **named)
        if WATCH.item is not None:
            hold_to_build(WATCH.item)
        return done

    return watched


def hold_to_build(item: pytest.Item) -> None:
    """Fail where a store was built or a notebook run for a test that is not marked so."""
    users = _users(item.session, WATCH.fixtures[-1]) if WATCH.fixtures else []
    for user in (item, *users):  # who asked for the fixture on the way is not among its users
        if not is_marked(user, "build", "browser"):
            pytest.fail(
                f"{user.nodeid}: a store is built or a notebook run for it. Add "
                "@pytest.mark.build (or, for a fixture of many files, its name to GIVEN in "
                "tests/speed.py).",
                pytrace=False,
            )


def _users(session: pytest.Session, fixture: pytest.FixtureDef[Any]) -> list[pytest.Item]:
    return [
        item
        for item in session.items
        if fixture.argname in getattr(item, "fixturenames", ())
        and item.nodeid.startswith(fixture.baseid)
    ]


# Before any test, or any module that they use, takes it by its name.
for _module, _name in DEAR:
    setattr(_module, _name, _watched(getattr(_module, _name)))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    WATCH.item = item
    try:
        return (yield)
    finally:
        WATCH.item = None


# ---- slow ---------------------------------------------------------------------------------


@pytest.hookimpl(wrapper=True)
def pytest_fixture_setup(
    fixturedef: pytest.FixtureDef[Any], request: pytest.FixtureRequest
) -> Generator[None, object, object]:
    WATCH.fixtures.append(fixturedef)
    WATCH.inner.append(0.0)
    start = own_seconds(request.config)
    try:
        return (yield)
    finally:
        WATCH.fixtures.pop()
        spent = own_seconds(request.config) - start
        own = spent - WATCH.inner.pop()
        if WATCH.inner:
            WATCH.inner[-1] += spent
        if fixturedef.scope != "session" and own > SECONDS:
            WATCH.dear[fixturedef] = own / pace()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Generator[None, object, object]:
    start = own_seconds(item.config)
    try:
        return (yield)
    finally:
        spent = own_seconds(item.config) - start
        WATCH.called[item.nodeid] = spent if spent <= SECONDS else spent / pace()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    if call.when == "call" and report.passed and not is_marked(item, *POINTS):
        spent = max([WATCH.called.pop(item.nodeid, 0.0), *_setups(item)])
        if spent > SECONDS:
            report.outcome = "failed"
            report.longrepr = (
                f"{item.nodeid} took {spent:.0f} processor seconds, more than {SECONDS:.0f}, in "
                "its call or in a setup of its own: make it quicker, or add @pytest.mark.slow."
            )
    return report


def _setups(item: pytest.Item) -> list[float]:
    """Return what the dear fixtures of a test have cost, whoever of several had them made."""
    return [spent for fixture, spent in WATCH.dear.items() if item in _users(item.session, fixture)]

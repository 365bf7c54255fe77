"""Each planted story of the demo is told by a page, in its first screen or the right section.

The truth of each is counted from the generator's own tables (``tests/synthetic/true_events.py``);
what was planted and in whom stands in ``synthetic_data/stories.toml`` and the demo's truth files.
The counter-tests ask the pages' own rules of the same months drawn without any story.
"""

import re
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pytest

from pipelines.definitions.read_units import find_unit
from pipelines.pages.fair.compare import read as compare
from pipelines.pages.fair.compare import words as compare_words
from pipelines.pages.fair.compare.frames import TitledRow
from pipelines.pages.fair.read import read_fair
from pipelines.pages.review import discuss, head
from pipelines.pages.review.read import ReviewData, read_review
from pipelines.pages.review.record_list import record_list
from pipelines.pages.review.records import records_to_read
from pipelines.pages.review.sections import measure_table
from pipelines.pages.shell.page import Line
from pipelines.reading import before_after, signals
from pipelines.reading.thinner import thinner
from pipelines.statistics.over_time import BETTER, WORSE, over_time
from synthetic_data import Truth, generate, read_scenario
from synthetic_data.demo import DEMO_MONTHS, DEMO_START, DEMO_UNITS
from synthetic_data.stories import Story, read_stories, without_changes
from tests.conftest import DEMO_SEED, Demo
from tests.synthetic.true_events import TRUE, Events, by_month

STORIES = {one.id: one for one in read_stories()}
ANY_COLD = "Cold on arrival, any band"
SCREEN: TitledRow = {
    "measure_id": "heart_screen",
    "title": "Pulse-oximetry heart screen",
    "group_name": "screening",
}


def plain(text: str) -> str:
    """Return text as it is searched: no markup, one kind of space."""
    bare = re.sub(r"<[^>]+>", " ", text).replace("\xa0", " ").replace("\u202f", " ")
    return re.sub(r"\s+", " ", bare)


def said(line: Line) -> str:
    return plain(f"{line.subject}: {line.fact} {line.sure} Next: {line.step}")


@dataclass(frozen=True)
class Told:
    """Both units' reviews of the demo's last month, and the truth behind them."""

    reviews: dict[str, ReviewData]
    events: dict[str, Events]
    truths: dict[str, pd.DataFrame]
    store: Path

    def first_screen(self, unit: str) -> list[str]:
        return [said(line) for line in head.lines(self.reviews[unit])]


def true_of(unit: str, is_told: bool) -> Truth:
    """Draw a unit as the demo does, with every story or with none."""
    stories = read_stories() if is_told else ()
    silent = [] if is_told else [one.change for one in read_stories()]
    scenario = without_changes(read_scenario(), silent)
    return generate(
        find_unit(unit), scenario, start=DEMO_START, n_months=DEMO_MONTHS, seed=DEMO_SEED,
        stories=stories,
    )  # fmt: skip


@pytest.fixture(scope="module")
def planted() -> dict[str, Truth]:
    return {unit: true_of(unit, is_told=True) for unit in DEMO_UNITS}


@pytest.fixture(scope="module")
def told(told_demo: Demo, planted: dict[str, Truth]) -> Told:
    return Told(
        {unit: read_review(told_demo.store, unit) for unit in DEMO_UNITS},
        {unit: Events(truth) for unit, truth in planted.items()},
        {unit: pd.read_csv(path) for unit, path in told_demo.truths.items()},
        told_demo.store,
    )


@pytest.fixture(scope="module")
def untold() -> dict[str, Events]:
    """The same months without a story: neither changes nor single newborns."""
    return {unit: Events(true_of(unit, is_told=False)) for unit in DEMO_UNITS}


def around(events: Events, story: Story) -> list[int]:
    """Return the true percents of a story's measure before its month and from then on."""
    months = by_month(events, TRUE[story.measure](events))
    is_after = months["month"] >= pd.Timestamp(story.month)
    sums = months.groupby(is_after)[["numerator", "counted"]].sum()
    return [round(100 * share) for share in sums["numerator"] / sums["counted"]]


def told_percents(text: str, title: str) -> list[int]:
    found = re.search(rf"{title} rose from (\d+) to (\d+) %", text)
    assert found, text
    return [int(number) for number in found.groups()]


@pytest.mark.build
@pytest.mark.slow
def test_the_last_month_is_shown_first_and_each_story_has_a_unit(told: Told) -> None:
    for unit, review in told.reviews.items():
        assert review.month == pd.Timestamp(DEMO_START) + pd.DateOffset(months=DEMO_MONTHS - 1)
        assert review.series["month"].nunique() == DEMO_MONTHS
        assert {one.kind for one in STORIES.values() if one.unit == unit}
    kinds = {one.kind for one in STORIES.values()}
    assert kinds == {"change", "harm", "sentinel", "silent_gap", "outlier"}


@pytest.mark.build
@pytest.mark.slow
def test_the_change_is_seen_and_its_harm_beside_it(told: Told) -> None:
    (line,) = [one for one in told.first_screen("quillmere") if one.startswith("Did it work")]
    assert "more than its course before explains" in line
    assert "too few" not in line and "could explain it" not in line
    assert "not explained yet" in line
    for story, title in (
        (STORIES["warm_room"], "Arrival temperature in range"),
        (STORIES["too_warm"], "Too warm in the first hours"),
    ):
        true, shown = around(told.events["quillmere"], story), told_percents(line, title)
        assert true[1] > true[0]
        assert all(abs(one - other) <= 1 for one, other in zip(true, shown, strict=True)), line


@pytest.mark.build
@pytest.mark.slow
def test_the_sentinel_event_is_named_first_and_its_record_is_read(told: Told) -> None:
    story, review = STORIES["unprotected"], told.reviews["quillmere"]
    (key,) = told.truths["quillmere"].query("story == 'unprotected'")["record_id"]
    first = told.first_screen("quillmere")[0]
    assert first.startswith("What should never happen")
    assert "Hepatitis B protection, mother positive" in first
    lines = records_to_read(review)
    now = lines[lines["tier"] == "read_now"]
    assert key in set(now["record_id"])
    section = plain(record_list(review).html)
    assert re.search(rf"{key}.{{0,120}}Hepatitis B protection, mother positive", section)
    assert f"at {story.minutes:.0f} min" in section
    for one in told.reviews.values():
        read = records_to_read(one)
        assert (read["tier"] == "read_now").sum() <= 10


@pytest.mark.build
@pytest.mark.slow
def test_thinner_documentation_is_not_called_better_care(told: Told) -> None:
    story, review = STORIES["cold_left_blank"], told.reviews["tansy_ridge"]
    (line,) = [one for one in told.first_screen("tansy_ridge") if ANY_COLD in one]
    assert line.startswith("Better on paper")
    less = r"less is written down since \w+ \d\d: \d+ % not documented, \d+ % before"
    assert re.search(less, line)
    assert "the charting that moved and not the care" in line
    assert "Tell the team" not in line
    points = [plain(f"{one.subject}: {one.fact}") for one in discuss.points(review)]
    assert sum(ANY_COLD in one or "Mildly cold on arrival" in one for one in points) == 1
    row = re.search(rf"{ANY_COLD}.{{0,400}}", plain(measure_table(review).html))
    assert row and "less is written down" in row.group()
    # The truth: as many are cold as before, once those who were left blank are counted too.
    months = by_month(
        told.events["tansy_ridge"], TRUE[story.measure](told.events["tansy_ridge"])
    ).set_index("month")
    blank = told.truths["tansy_ridge"].query("story == @story.id")["record_id"]
    after = months.index >= pd.Timestamp(story.month)
    sums = months.groupby(after)[["numerator", "counted"]].sum()
    naive = sums["numerator"] / sums["counted"]
    hidden = len(blank)
    true = (sums.loc[True, "numerator"] + hidden) / (sums.loc[True, "counted"] + hidden)
    assert naive[True] < 0.6 * naive[False]
    assert abs(true - naive[False]) < 0.02


@pytest.mark.build
@pytest.mark.slow
def test_the_outlier_is_said_plainly_and_nobody_is_ranked(told: Told) -> None:
    data = compare.read_compare(told.store, read_fair(told.store, "quillmere"))
    said_here = plain(" ".join(compare_words.intro(data)))
    assert f"{SCREEN['title']}, Vaginal, assisted: " in said_here
    assert not re.search(r"\brank(?!ed)|league|best|worst", said_here)
    (one,) = [each for each in data.funnels if each.measure_id == SCREEN["measure_id"]]
    (point,) = compare.alone(one)
    assert (point["name"], point["lies"]) == ("assisted_vaginal", "below")
    assert "Vaginal, assisted below" in plain(compare_words.finding(data, one))
    known = TRUE[SCREEN["measure_id"]](told.events["quillmere"])
    assisted = told.events["quillmere"].babies["mode_of_birth"] == "assisted_vaginal"
    met = known[known["in_rate"]].groupby(assisted)["met"].mean()
    assert point["rate"] == pytest.approx(met[True], abs=0.05)
    assert met[False] - met[True] > 0.12


# Without the stories -----------------------------------------------------------------------------


def study(events: Events, story: Story, direction: str) -> str:
    """Return what the page's own study of a change says of true counts."""
    months = by_month(events, TRUE[story.measure](events))
    row = {"measure_id": story.measure, "missing": "not_met", "direction": direction}
    start_on, no_breaks = pd.Timestamp(story.month), pd.Series([], dtype="datetime64[ns]")
    return before_after.study(row, months, start_on, no_breaks).verdict  # type: ignore[arg-type]


def test_without_the_change_neither_effect_nor_harm_is_seen(
    planted: dict[str, Truth], untold: dict[str, Events]
) -> None:
    here, with_it = untold["quillmere"], Events(planted["quillmere"])
    for name, direction, verdict in (
        ("warm_room", "higher", BETTER),
        ("too_warm", "lower", WORSE),
    ):
        assert study(with_it, STORIES[name], direction) == verdict
        assert study(here, STORIES[name], direction) != verdict


def test_without_the_story_no_newborn_was_left_unprotected_by_it(
    planted: dict[str, Truth], untold: dict[str, Events]
) -> None:
    truth = planted["quillmere"]
    (newborn,) = truth.told.query("story == 'unprotected'")["newborn"]
    measure = TRUE[STORIES["unprotected"].measure]
    assert dict(measure(Events(truth)).loc[newborn, ["in_rate", "met"]]) == {
        "in_rate": True,
        "met": False,
    }
    assert not measure(untold["quillmere"]).loc[newborn, "in_rate"]


def thinner_of(events: Events, story: Story) -> pd.Series:
    """Return what the review's own rule says of a measure's documentation."""
    months = by_month(events, TRUE[story.measure](events)).assign(measure_id=story.measure)
    over = {story.measure: over_time(months, kind="bands", direction="lower")}
    moved = signals.moved(over).assign(missing="left_out", direction="lower")
    return thinner(months, over, moved).iloc[0]


def test_without_the_story_documentation_is_not_thinner(
    planted: dict[str, Truth], untold: dict[str, Events]
) -> None:
    story = STORIES["cold_left_blank"]
    with_it = thinner_of(Events(planted["tansy_ridge"]), story)
    assert with_it["unknown_since"] > with_it["unknown_before"]
    assert pd.isna(thinner_of(untold["tansy_ridge"], story)["unknown_since"])


def alone_in(events: Events) -> list[str]:
    """Return which group of births alone lies outside the page's limits, from true counts."""
    known, babies = TRUE[SCREEN["measure_id"]](events), events.babies
    cells = (
        babies[["mode_of_birth"]]
        .astype(str)
        .assign(
            unit="quillmere",
            gestation_band="37 weeks or more",
            shift=babies["birth_hour"].between(7, 18).map({True: "day", False: "night"}),
            counted=known["in_rate"].astype(int),
            numerator=(known["in_rate"] & known["met"]).astype(int),
        )
    )
    by = ["unit", "gestation_band", "mode_of_birth", "shift"]
    summed = cells.groupby(by)[["counted", "numerator"]].sum().reset_index()
    one = compare.funnel_of(summed, SCREEN, "quillmere", ["quillmere"])
    assert one is not None
    return [str(row["name"]) for row in compare.alone(one)]


def test_without_the_story_no_group_lies_outside_alone(
    planted: dict[str, Truth], untold: dict[str, Events]
) -> None:
    assert alone_in(Events(planted["quillmere"])) == ["assisted_vaginal"]
    assert "assisted_vaginal" not in alone_in(untold["quillmere"])


@pytest.mark.build
def test_pages_of_a_store_without_stories_tell_none(whole_review: Path, whole_fair: Path) -> None:
    assert "Better on paper" not in whole_review.read_text(encoding="utf-8")
    assert f"{SCREEN['title']}, Vaginal, assisted" not in plain(
        whole_fair.read_text(encoding="utf-8")
    )

"""Units and groups side by side: funnels, standardised rates, and what is not judged."""

import json
import re
from pathlib import Path
from typing import Any, TypedDict, cast

import numpy as np
import pandas as pd
import pytest

from pipelines.base.frames import rows_of
from pipelines.base.store_file import open_store
from pipelines.pages.fair.compare import charts as compare_charts
from pipelines.pages.fair.compare import read as compare
from pipelines.pages.fair.compare import sections as compare_tables
from pipelines.pages.fair.compare import words as compare_words
from pipelines.pages.fair.compare.frames import PointRow
from pipelines.pages.fair.compare.read import UNIT, CompareData, Funnel
from pipelines.pages.fair.read import read_fair
from pipelines.pages.shell import markup as shell_parts
from pipelines.statistics import standardise
from pipelines.words import of_numbers
from tests.conftest import Built

from .make_fair import UNIT as FAKE_UNIT
from .make_fair import make_fair_store
from .make_store import HOSTILE

MEASURE = {"measure_id": "x", "title": "A measure", "group_name": "warmth"}
TERM, EARLY = "37 weeks or more", "34 to 36 weeks"


def cells(*rows: tuple[str, str, str, str, int, int]) -> pd.DataFrame:
    """Return counts of (unit, gestation, mode, shift, met, newborns)."""
    names = ["unit", "gestation_band", "mode_of_birth", "shift", "numerator", "counted"]
    return pd.DataFrame(rows, columns=names)


def funnel_of(frame: pd.DataFrame, unit: str = "a") -> Funnel:
    units = sorted(frame["unit"].unique())
    found = compare.funnel_of(frame, MEASURE, unit, units)
    assert found is not None
    return found


def data_of(*funnels: Funnel) -> CompareData:
    day = pd.Timestamp("2026-01-01")
    names = funnels[0].points.loc[funnels[0].points["kind"] == UNIT, "name"]
    return CompareData("a", day, day, {name: f"Unit {name}" for name in names}, funnels)


def units_of(one: Funnel) -> pd.DataFrame:
    return one.points[one.points["kind"] == UNIT].set_index("name")


def drawn(data: CompareData, one: Funnel) -> str:
    import vl_convert

    spec = compare_charts.funnel_chart(data, one).to_dict()
    assert not re.search(r"\bNaN\b|\bInfinity\b", json.dumps(spec))
    return str(vl_convert.vegalite_to_svg(spec))


def two_mixes() -> pd.DataFrame:
    """Two units with the same rates by gestation, 0.9 and 0.5, and another mix."""
    return cells(
        ("a", TERM, "vaginal", "day", 810, 900),
        ("a", EARLY, "vaginal", "day", 50, 100),
        ("b", TERM, "vaginal", "day", 180, 200),
        ("b", EARLY, "vaginal", "day", 400, 800),
    )


def test_a_difference_of_mix_alone_goes_away() -> None:
    found = units_of(funnel_of(two_mixes()))
    assert found["rate"].tolist() == [0.86, 0.58]
    expected = (0.9 * 1100 + 0.5 * 900) / 2000
    assert found["direct"].tolist() == pytest.approx([expected, expected])
    assert found["against"].tolist() == pytest.approx([1, 1])
    assert ((found["direct_lower"] < expected) & (expected < found["direct_upper"])).all()


def test_the_rarer_side_is_standardised_and_turned_back() -> None:
    """The interval of the missed, by the pure function, stands mirrored on the page."""
    one = funnel_of(two_mixes())
    assert one.counts_missed
    missed = standardise.direct([90, 50], [900, 100], [1100, 900])
    own = units_of(one).loc["a"]
    assert own["direct"] == pytest.approx(1 - (missed.rate or 0))
    assert own["direct_upper"] == pytest.approx(1 - (missed.lower or 0))
    assert (own["observed"], own["expected"]) == (140, pytest.approx(90 + 50))
    rare = two_mixes()
    rare["numerator"] = rare["counted"] - rare["numerator"]
    mirrored = units_of(funnel_of(rare)).loc["a"]
    assert mirrored["direct"] == pytest.approx(1 - own["direct"])
    assert mirrored["direct_lower"] == pytest.approx(1 - own["direct_upper"])


def test_a_group_is_standardised_for_the_mix_that_does_not_define_it() -> None:
    """By hand: the early ones of unit a, 50 of 60 vaginal and 10 of 40 caesarean, at 700 to 300."""
    frame = cells(
        ("a", EARLY, "vaginal", "day", 50, 60),
        ("a", EARLY, "caesarean_planned", "day", 10, 40),
        ("a", TERM, "vaginal", "day", 600, 640),
        ("a", TERM, "caesarean_planned", "day", 200, 260),
    )
    points = funnel_of(frame).points
    early = points[points["name"] == EARLY].iloc[0]
    assert early["direct"] == pytest.approx(0.7 * 50 / 60 + 0.3 * 10 / 40)


def test_parts_of_the_mix_without_anyone_are_left_out_up_to_one_in_twenty() -> None:
    frame = pd.concat([two_mixes(), cells(("a", "28 to 31 weeks", "vaginal", "day", 1, 4))])
    found = units_of(funnel_of(frame.reset_index(drop=True)))
    assert found["direct"].notna().all()
    many = pd.concat([two_mixes(), cells(("a", "28 to 31 weeks", "vaginal", "day", 50, 400))])
    shown = units_of(funnel_of(many.reset_index(drop=True)))
    assert shown.loc["b", "direct_reason"] == standardise.EMPTY_STRATUM
    (row,) = rows_of(shown.loc[["b"]].reset_index(), PointRow)
    assert compare_words.direct_words(row) == "no newborn in part of the mix"


def test_two_units_are_shown_and_not_judged_however_far_apart() -> None:
    one = funnel_of(two_mixes())
    assert units_of(one)["lies"].tolist() == ["not_judged", "not_judged"]
    said = compare_words.unit_words(data_of(one))
    assert "2 points with limits and not judged" in said
    assert "cannot be told from so few" in said
    third = pd.concat([two_mixes(), cells(("c", TERM, "vaginal", "day", 700, 1000))])
    judged = units_of(funnel_of(third.reset_index(drop=True)))
    assert judged["lies"].tolist() == ["above", "below", "within"]


def test_one_unit_is_no_point_of_its_own_funnel() -> None:
    one = funnel_of(two_mixes()[lambda rows: rows["unit"] == "a"].reset_index(drop=True))
    assert UNIT not in set(compare_charts.drawn(one)["kind"])
    assert "holds one unit" in compare_words.unit_words(data_of(one))


def test_points_stand_in_a_fixed_order_whatever_their_rates() -> None:
    up, down = two_mixes(), two_mixes()
    down["numerator"] = [100, 90, 20, 700]
    orders = [funnel_of(frame).points[["kind", "name"]].to_numpy().tolist() for frame in (up, down)]
    assert orders[0] == orders[1]
    names = funnel_of(up).points
    gestation = names.loc[names["kind"] == "gestation_band", "name"].tolist()
    assert gestation == [EARLY, TERM]


def test_a_small_group_is_judged_by_its_exact_probability() -> None:
    """All of 30 at a centre of 0.94 has probability 0.94**30 = 0.16, so it is not outside.

    The interpolated limit there lies just below 1, and would say otherwise.
    """
    frame = cells(("a", EARLY, "vaginal", "day", 30, 30), ("a", TERM, "vaginal", "day", 2790, 2970))
    points = funnel_of(frame).points.set_index("name")
    assert points.loc[EARLY, "limit_high"] < 1
    assert points.loc[EARLY, "lies"] == "within"


def alike(seed: int, units: int, between: float) -> pd.DataFrame:
    """Draw units that differ by chance, and by ``between`` (standard deviation of the rate)."""
    rng = np.random.default_rng(seed)
    rows = []
    for place in range(units):
        rate = float(np.clip(0.8 + between * rng.standard_normal(), 0.05, 0.95))
        number = int(rng.integers(300, 3000))
        rows.append((f"u{place:02}", TERM, "vaginal", "day", rng.binomial(number, rate), number))
    return cells(*rows)


def test_overdispersion_widens_the_limits_of_units_and_is_said() -> None:
    spread = funnel_of(alike(1, 20, 0.06), "u00")
    assert spread.spread is not None
    said = compare_words.spread_words(spread)
    assert "times as much as chance alone" in said
    assert 3 < 100 * spread.spread.tau2_winsor**0.5 < 9  # six points were planted
    outside = units_of(spread)["lies"].isin(["above", "below"]).sum()
    plain = compare.with_limits(spread.points, spread.centre, None)
    assert outside <= 2 < plain.loc[plain["kind"] == UNIT, "lies"].isin(["above", "below"]).sum()
    few = funnel_of(alike(1, 9, 0.06), "u00")
    assert few.spread is None
    assert "fewer than 10" in compare_words.unit_words(data_of(few))


@pytest.mark.slow
def test_where_nothing_differs_hardly_any_unit_lies_outside() -> None:
    """100 funnels of 20 units, seeded: at most 2 in 1,000 outside; 4 errors more are 6."""
    outside = 0
    for seed in range(100):
        one = funnel_of(alike(seed, 20, 0.0), "u00")
        outside += int(units_of(one)["lies"].isin(["above", "below"]).sum())
    assert outside / 2000 < 0.006


@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_none_all_nobody_and_nothing_recorded() -> None:
    none = two_mixes().assign(numerator=0)
    every = two_mixes().assign(numerator=lambda rows: rows["counted"])
    unknown = two_mixes().assign(mode_of_birth="not recorded")
    tiny = cells(("a", TERM, "vaginal", "day", 1, 1), ("a", EARLY, "vaginal", "night", 0, 2))
    for frame in (none, every, unknown, tiny):
        one = funnel_of(frame)
        data = data_of(one)
        lines = [compare_tables._line(data, row) for row in rows_of(one.points, PointRow)]
        said = " ".join([compare_words.finding(data, one), *compare_words.intro(data)])
        assert not re.search(r"\bnan\b|None|inf\b", said + str(lines))
    assert "Nothing can differ" in compare_words.finding(data_of(funnel_of(none)), funnel_of(none))
    assert compare.looked_at(data_of(funnel_of(none)))[0] == 0
    assert compare.funnel_of(two_mixes(), MEASURE, "z", ["a", "b"]) is None
    reasons = set(funnel_of(unknown).points["direct_reason"])
    assert reasons == {standardise.NOBODY}


def test_what_chance_alone_would_mark_is_said() -> None:
    frame = pd.concat([two_mixes(), cells(("c", TERM, "vaginal", "day", 700, 1000))])
    one = funnel_of(frame.reset_index(drop=True))
    number, expected, outside = compare.looked_at(data_of(one))
    assert number == len(one.points)
    assert expected == pytest.approx(0.002 * number)
    assert outside == one.points["lies"].isin(["above", "below"]).sum()
    assert f"{number} points are judged" in compare_words.intro(data_of(one))[1]


def test_a_group_that_lies_outside_alone_is_named_and_several_are_not() -> None:
    rows = [("a", TERM, mode, "day", 800, 1000) for mode in ("vaginal", "caesarean_planned")]
    alone = funnel_of(cells(*rows, ("a", TERM, "assisted_vaginal", "day", 50, 100)))
    (point,) = compare.alone(alone)
    assert (point["name"], point["lies"]) == ("assisted_vaginal", "below")
    said = compare_words.alone_words(data_of(alone))
    assert "Vaginal, assisted: 50" in said and "below the limits" in said
    assert said in compare_words.intro(data_of(alone))
    others = (("b", TERM, "vaginal", "day", 5, 100), ("a", TERM, "caesarean_planned", "day", 1, 90))
    several = funnel_of(cells(*rows, ("a", TERM, "assisted_vaginal", "day", 50, 100), *others))
    assert compare.alone(several) == []
    assert compare_words.alone_words(data_of(several)) == ""


def test_labels_never_cover_one_another_or_a_point() -> None:
    one = funnel_of(two_mixes())
    drawn = compare_charts.drawn(one)
    across = compare_charts._across(drawn)
    axis = compare_charts._axis(one, drawn, across)
    points = compare_charts._in_px(compare_charts._told(data_of(one), drawn), across, axis)
    same = pd.concat([points.head(1)] * 6, ignore_index=True).assign(label="A long name here")
    placed = compare_charts._places(same, same)
    assert 0 < len(placed) < 6
    assert len({(place.side, place.drop) for place in placed}) == len(placed)


@pytest.fixture(scope="module")
def data(clean: Built) -> CompareData:
    return compare.read_compare(clean.store, read_fair(clean.store, "quillmere"))


def test_units_are_counted_as_the_results_count_them(clean: Built, data: CompareData) -> None:
    """Numerator and counted of both units, summed over the months of the results."""
    with open_store(clean.store) as store:
        result = store.execute(
            "select measure_id, unit, sum(result.numerator) as met, sum(denominator - exception - "
            "if(missing = 'left_out', not_documented + unusable, 0)) as counted from result "
            "inner join measure_info using (measure_id) where period_kind = 'month' "
            "and stratifier = 'all newborns' and period_start between $1 and $2 group by all",
            [data.first.date(), data.last.date()],
        ).df()
    expected = result.set_index(["measure_id", "unit"])
    assert len(data.funnels) > 20
    for one in data.funnels:
        for name, row in units_of(one).iterrows():
            found = expected.loc[(one.measure_id, name)]
            assert (row["numerator"], row["counted"]) == (found["met"], found["counted"])
        parts = one.points[one.points["kind"] != UNIT].groupby("kind")["counted"].sum()
        assert (parts == units_of(one).loc["quillmere", "counted"]).all()


def test_no_measure_with_several_rows_to_a_newborn(clean: Built, data: CompareData) -> None:
    with open_store(clean.store) as store:
        kinds = dict(store.execute("select measure_id, kind from measure_info").fetchall())
    assert {kinds[one.measure_id] for one in data.funnels} <= {"proportion", "bands"}


def show(data: CompareData, monkeypatch: Any) -> list[Any]:
    shown: list[Any] = []
    monkeypatch.setattr(compare_tables, "show", lambda one, **_: shown.append(one))
    compare_tables.show_funnels(data)
    return shown


def test_the_section_is_closed_whole_and_ranks_nothing(data: CompareData, monkeypatch: Any) -> None:
    shown = show(data, monkeypatch)
    html = "".join(one.html for one in shown if isinstance(one, shell_parts.Part))
    assert html.count("<details") == html.count("</details>")
    assert html.count('<details class="funnels">') == len({one.group_name for one in data.funnels})
    assert " open>" not in html
    assert not re.search(r"\bnan\b|None|\brank|league|best|worst", html)
    pictures = [one for one in shown if not isinstance(one, shell_parts.Part)]
    assert len(pictures) == sum(not one.is_flat for one in data.funnels)
    one = next(one for one in data.funnels if one.measure_id == "first_temperature")
    assert "mark-symbol" in drawn(data, one)


@pytest.mark.slow
def test_text_of_an_export_is_never_markup(tmp_path: Path, monkeypatch: Any) -> None:
    store = make_fair_store(tmp_path / "fair.duckdb")
    data = compare.read_compare(store, read_fair(store, FAKE_UNIT))
    html = "".join(one.html for one in show(data, monkeypatch) if isinstance(one, shell_parts.Part))
    assert HOSTILE not in html + compare_tables.intro(data).html
    assert "<img" not in html
    assert len(data.funnels) > 5


class ShrunkRow(TypedDict):
    """What the words of a drawn share ask of a point."""

    shrunk: float | None
    shrunk_lower: float | None
    shrunk_upper: float | None
    borrowed: float | None


def test_a_small_group_is_drawn_towards_the_others_and_says_how_far() -> None:
    rows = pd.DataFrame(
        {
            "kind": "mode_of_birth",
            "name": ["a", "b", "c", "not recorded"],
            "numerator": [1.0, 1700.0, 1800.0, 0.0],
            "counted": [4.0, 2000.0, 2000.0, 5.0],
        }
    )
    found, apart = compare.with_pooled(rows)
    small, large = found.iloc[0], found.iloc[1]
    assert 0.25 < small["shrunk"] < 0.9 and small["borrowed"] > 0.5
    assert large["borrowed"] < 0.2 and abs(large["shrunk"] - 0.85) < 0.01
    assert found.iloc[3][list(compare.POOLED)].isna().all()
    assert apart["mode_of_birth"][1] <= apart["mode_of_birth"][0] <= apart["mode_of_birth"][2]
    (row,) = rows_of(found.head(1).astype({"shrunk": float}), ShrunkRow)
    said = compare_words.shrunk_words(cast(PointRow, row))
    assert said.endswith(f"{round(100 * small['borrowed'])} of 100 borrowed")


def test_two_units_are_never_drawn_together() -> None:
    one = funnel_of(two_mixes())
    units = one.points[one.points["kind"] == "unit"]
    assert units["shrunk"].isna().all() and "unit" not in one.apart
    (row,) = rows_of(units.head(1), PointRow)
    assert compare_words.shrunk_words(row) == of_numbers.NONE

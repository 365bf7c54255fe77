"""The screening envelope beside published numbers, and a unit's own reference in its place."""

import dataclasses
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pytest
from judged_store import flags, make_store

from expectations import judge
from expectations.prepare import prepare
from expectations.rules_of_values import read_rules
from pipelines.base.errors import DeclarationError
from pipelines.definitions.read_units import find_unit
from pipelines.definitions.size_curves import CAUTION, SIZE_COLUMNS, SIZES_FILE, screening_envelope
from pipelines.stages.judged import masks
from pipelines.stages.judged.masks import unit_settings

# Newborn size standard (Villar 2014, Lancet 384:857-68) and very preterm reference (Villar 2016,
# Lancet 387:844-5): 3rd, 10th, 50th, 90th, 97th centile of weight kg, length cm, head cm.
CENTILES = """
24+0|M|.44 .50 .64 .82 .92|27.3 28.9 32.2 35.5 37.1|19.4 20.3 22.3 24.3 25.3
24+0|F|.42 .47 .60 .77 .87|26.9 28.5 31.8 35.1 36.7|19.2 20.1 22.1 24.1 25.0
28+0|M|.75 .84 1.07 1.37 1.54|32.4 34.0 37.3 40.6 42.2|23.0 23.9 25.9 27.9 28.8
28+0|F|.70 .79 1.01 1.30 1.46|32.0 33.5 36.9 40.2 41.8|22.7 23.6 25.6 27.6 28.6
33+0|M|1.18 1.43 1.95 2.52 2.82|39.7 41.1 43.8 46.6 48.0|28.2 29.1 30.9 32.7 33.6
33+0|F|1.20 1.41 1.86 2.35 2.61|39.8 41.0 43.4 45.7 46.9|27.9 28.8 30.5 32.2 33.1
37+0|M|2.13 2.38 2.89 3.45 3.74|44.3 45.5 47.8 50.1 51.3|30.7 31.5 33.0 34.6 35.4
37+0|F|2.11 2.33 2.80 3.32 3.60|44.0 45.1 47.3 49.4 50.4|30.4 31.1 32.6 34.2 34.9
40+0|M|2.63 2.88 3.38 3.94 4.22|46.8 47.8 49.9 52.0 53.1|32.2 32.9 34.3 35.8 36.6
40+0|F|2.55 2.78 3.26 3.80 4.08|46.1 47.2 49.2 51.2 52.2|31.7 32.4 33.8 35.2 35.9
41+0|M|2.76 3.01 3.51 4.06 4.35|47.4 48.5 50.5 52.6 53.6|32.6 33.3 34.7 36.2 36.9
41+0|F|2.65 2.89 3.37 3.92 4.20|46.7 47.7 49.8 51.7 52.7|32.1 32.7 34.1 35.5 36.2
42+6|M|2.96 3.21 3.71 4.25 4.54|48.5 49.5 51.4 53.4 54.4|33.3 34.0 35.4 36.8 37.5
42+6|F|2.80 3.04 3.53 4.08 4.37|47.6 48.6 50.6 52.5 53.5|32.7 33.3 34.6 36.0 36.6
"""
# Standard normal quantiles of the five centiles.
Z = (-1.880794, -1.281552, 0.0, 1.281552, 1.880794)
# WHO Child Growth Standards 2006, day 0: median and coefficient of variation.
WHO = {
    "male": {
        "weight_g": (3346.4, 0.14602),
        "length_cm": (49.8842, 0.03795),
        "head_circumference_cm": (34.4618, 0.03686),
    },
    "female": {
        "weight_g": (3232.2, 0.14171),
        "length_cm": (49.1477, 0.0379),
        "head_circumference_cm": (33.8787, 0.03496),
    },
}


def z_scores(rows: list[dict[str, object]], **settings: object) -> pd.DataFrame:
    """Return weight_z, length_z, head_z of the rows, in their order, as judging computes them."""
    cells = [
        {"record_id": f"n{place:04d}", **{k: None if v is None else str(v) for k, v in row.items()}}
        for place, row in enumerate(rows)
    ]
    store = make_store({"admission": cells})
    masks.start(store)
    prepare(store, {"example_unit": settings} if settings else None)
    return store.execute(
        "select record_id, size_z.* from typed.admission left join size_z using (row_id) "
        "order by record_id"
    ).df()


def z_of(
    column: str, size: float, days: int, sex: str | None = "male", **settings: object
) -> float:
    name = {"weight_g": "weight_z", "length_cm": "length_z"}.get(column, "head_z")
    row = {"gestational_age_days": days, "sex": sex, column: size}
    return float(z_scores([row], **settings)[name].iloc[0])


def published() -> list[tuple[int, str, str, float, float]]:
    """(day, sex, column, size in g or cm, z) of every number in the table above."""
    found = []
    for line in CENTILES.strip().splitlines():
        week, sex, *texts = line.split("|")
        day = int(week[:2]) * 7 + int(week[3])
        for column, text in zip(SIZE_COLUMNS, texts, strict=True):
            scale = 1000 if column == "weight_g" else 1
            found += [
                (day, {"M": "male", "F": "female"}[sex], column, float(size) * scale, z)
                for size, z in zip(text.split(), Z, strict=True)
            ]
    return found


def test_every_published_centile_is_met_within_015() -> None:
    table = published()
    assert len(table) == 14 * 3 * 5
    rows = [{"gestational_age_days": d, "sex": s, c: size} for d, s, c, size, _ in table]
    found = z_scores(rows)
    names = {"weight_g": "weight_z", "length_cm": "length_z", "head_circumference_cm": "head_z"}
    # At 33+0 the milder of the two published parts counts: never further out than published.
    for place, (day, sex, column, size, z) in enumerate(table):
        got = found[names[column]].iloc[place]
        if day == 231:
            assert abs(got) < abs(z) + 0.15, (day, sex, column, size)
        else:
            assert got == pytest.approx(z, abs=0.15), (day, sex, column, size)


@pytest.mark.parametrize("sex", ["male", "female"])
def test_the_part_from_33_weeks_meets_its_first_centiles(sex: str) -> None:
    envelope = screening_envelope()
    part = envelope[(envelope["part"] == "from 33 weeks") & (envelope["sex"] == sex)]
    day = part[part["gestational_age_days"] == 231].set_index("column_name")
    for _, of_sex, column, size, z in [row for row in published() if row[0] == 231]:
        if of_sex == sex:
            curve = day.loc[column]
            spread = curve["sd_low"] if size < curve["m"] else curve["sd_high"]
            assert (size - curve["m"]) / spread == pytest.approx(z, abs=0.15)


def test_closed_form_below_33_weeks() -> None:
    """Villar 2016: published centiles at 24+0 and 28+0, to 0.015 kg and 0.056 cm."""
    envelope = screening_envelope()
    early = envelope[envelope["part"] == "very preterm"].set_index(
        ["gestational_age_days", "sex", "column_name"]
    )
    for day, sex, column, size, z in published():
        if day < 231:
            curve = early.loc[(day, sex, column)]
            if column == "weight_g":
                assert curve["m"] * np.exp(z * curve["s"]) == pytest.approx(size, abs=15)
            else:
                assert curve["m"] + z * curve["sd_high"] == pytest.approx(size, abs=0.056)


@pytest.mark.parametrize("sex", ["male", "female"])
def test_who_medians_of_day_0_lie_near_the_middle_at_40_weeks(sex: str) -> None:
    """WHO Child Growth Standards 2006: medians at z -0.09 to +0.13, so within 0.2 here."""
    for column, (median, variation) in WHO[sex].items():
        assert abs(z_of(column, median, 280, sex)) < 0.2
        # And one WHO standard deviation is about one here: term spreads differ little.
        assert z_of(column, median * (1 + variation), 280, sex) == pytest.approx(1.1, abs=0.35)


def test_far_tails_go_on_in_equal_steps() -> None:
    """WHO 2006: beyond 3, steps of SD3 - SD2. At 28+0 a boy's weight is log-normal."""
    m, s = 1000 * np.exp(-7.00303 + 1.325911 * np.sqrt(28) + 0.0571937), np.sqrt(0.0373218)
    sd_2, sd_3 = m * np.exp(2 * s), m * np.exp(3 * s)
    for beyond in (0.5, 1, 5, 20):
        size = round(sd_3 + beyond * (sd_3 - sd_2), 1)
        assert z_of("weight_g", size, 196) == pytest.approx(3 + beyond, abs=0.01)
    low_2, low_3 = m * np.exp(-2 * s), m * np.exp(-3 * s)
    assert z_of("weight_g", round(low_3 - 2 * (low_2 - low_3), 1), 196) == pytest.approx(
        -5, abs=0.01
    )
    assert z_of("weight_g", 0, 196) < -7


def test_the_upper_tail_of_weight_is_as_long_as_the_standards() -> None:
    """At term the standard's exact +3, +4 and +5 lie 3.3, 4.6 and 5.9 spreads above the middle.

    Read off the equations of the newborn size standard (Villar 2014); the spread is that of the
    published 97th centile. On two half-normals, real newborns of 5 to 6 kg were masked.
    """
    for sex, middle, top in (("male", 3380, 4220), ("female", 3260, 4080)):
        spread = (top - middle) / Z[-1]
        for z, spreads in ((3, 3.3), (4, 4.6), (5, 5.9)):
            assert z_of("weight_g", middle + spreads * spread, 280, sex) == pytest.approx(
                z, abs=0.1
            )


# Correlations of z at birth (published cohorts: .66 to .76, .58 to .77, .43 to .66).
LIKE = np.array([[1.0, 0.70, 0.65], [0.70, 1.0, 0.50], [0.65, 0.50, 1.0]])


def drawn_at_term(n: int, seed: int) -> list[dict[str, object]]:
    """Newborns at 40+0 drawn from the published centiles, by no code of the project."""
    line = next(row for row in CENTILES.splitlines() if row.startswith("40+0|M"))
    published = [[float(one) for one in part.split()] for part in line.split("|")[2:]]
    drawn = np.random.default_rng(seed).multivariate_normal(np.zeros(3), LIKE, n)
    sizes = []
    for z, (low, _, middle, _, high) in zip(drawn.T, published, strict=True):
        spread = np.where(z < 0, middle - low, high - middle) / Z[-1]
        sizes.append(middle + z * spread)
    weight, length, head = sizes[0] * 1000, np.round(sizes[1], 1), np.round(sizes[2], 1)
    rows = zip(weight.round(), length, head, strict=True)
    return [dict(zip(SIZE_COLUMNS, row, strict=True)) for row in rows]


def errors_among(rows: list[dict[str, object]]) -> tuple[float, float, float]:
    """Return the share of newborns whose length, whose head is masked, who have any flag."""
    cells = [
        {
            "record_id": f"n{place:05d}",
            "sex": "male",
            "gestational_age_days": "280",
            **{name: str(value) for name, value in row.items()},
        }
        for place, row in enumerate(rows)
    ]
    store = make_store({"admission": cells})
    judge(store)
    found = flags(store)
    masked = [
        len(
            {
                record
                for record, column, _, severity in found
                if column == name and severity == "error"
            }
        )
        for name in SIZE_COLUMNS[1:]
    ]
    sizes = {record for record, column, _, _ in found if column in SIZE_COLUMNS}
    return masked[0] / len(rows), masked[1] / len(rows), len(sizes) / len(rows)


@pytest.mark.build
@pytest.mark.slow
def test_of_a_short_length_and_a_right_head_the_length_is_masked() -> None:
    """A length 10 cm short at term: by the reference of limits 85 in 100 can be told."""
    short = [{**row, "length_cm": round(row["length_cm"] - 10, 1)} for row in drawn_at_term(800, 1)]
    length, head, seen = errors_among(short)
    assert length > 0.85
    assert head < 0.01
    assert seen > 0.95


@pytest.mark.build
@pytest.mark.slow
def test_of_true_newborns_next_to_none_is_asked_about() -> None:
    length, head, seen = errors_among(drawn_at_term(2000, 2))
    assert (length, head) == (0, 0)
    assert seen <= 0.001


@pytest.mark.slow
def test_within_a_week_of_the_seam_the_milder_z_counts() -> None:
    """Boys' -3 SD weight falls by 0.445 kg between the two published parts."""
    outside, inside = z_of("weight_g", 900, 223), z_of("weight_g", 900, 224)
    assert outside < -3 < inside
    assert z_of("weight_g", 900, 231) == pytest.approx(z_of("weight_g", 900, 237), abs=1)
    for day in range(224, 238):
        for column, size in (("weight_g", 3000.0), ("length_cm", 36.0)):
            parts = screening_envelope()
            both = parts[(parts["gestational_age_days"] == day) & (parts["sex"] == "male")]
            assert both.groupby("column_name").size().eq(2).all()
            assert np.isfinite(z_of(column, size, day))


def test_unknown_sex_takes_the_milder_of_both() -> None:
    boy, girl = z_of("weight_g", 4800, 280, "male"), z_of("weight_g", 4800, 280, "female")
    assert boy < girl
    for sex in ("unknown", "other", None):
        assert z_of("weight_g", 4800, 280, sex) == boy
        assert z_of("weight_g", 2200, 280, sex) == z_of("weight_g", 2200, 280, "female")


def test_late_newborns_are_read_at_42_6_and_the_earliest_not_at_all() -> None:
    for day in (301, 310, 322):
        assert z_of("weight_g", 4000, day) == z_of("weight_g", 4000, 300)
    assert np.isnan(z_of("weight_g", 600, 167))
    assert z_of("weight_g", 640, 168) == pytest.approx(0, abs=0.1)


def test_wherever_the_curves_are_named_it_says_what_they_are_for() -> None:
    named = [rule for rule in read_rules().values() if any("sizes.toml" in s for s in rule.sources)]
    assert len(named) >= 6
    for rule in named:
        assert any(CAUTION in source for source in rule.sources), rule.id
    for path in (SIZES_FILE, SIZES_FILE.with_name("size_curves.py")):
        text = " ".join(path.read_text(encoding="utf-8").replace("#", " ").split())
        assert CAUTION in text, path.name


# --- a unit's own reference --------------------------------------------------------------------


def own_reference(folder: Path, change: str = "", by: str = "", lms: bool = False) -> Path:
    lines = [
        "sex,gestational_age_days,column_name," + ("l,m,s" if lms else "median,sd_low,sd_high")
    ]
    for sex in ("male", "female"):
        for day in range(259, 295):
            spread = "0.5,4000,0.1" if lms else "4000,400,500"
            lines.append(f"{sex},{day},weight_g,{spread}")
    path = folder / "own.csv"
    path.write_text("\n".join(lines).replace(change, by, 1) + "\n", encoding="utf-8")
    return path


def test_an_own_reference_replaces_the_envelope(tmp_path: Path) -> None:
    path = own_reference(tmp_path)
    for size, z in ((4000, 0), (4500, 1), (3200, -2), (6500, 5)):
        assert z_of("weight_g", size, 280, size_reference=path) == pytest.approx(z)
    assert z_of("weight_g", 4500, 310, size_reference=path) == pytest.approx(1)
    assert np.isnan(z_of("weight_g", 4000, 250, size_reference=path))
    assert np.isnan(z_of("length_cm", 50, 280, size_reference=path))  # the file has no length


def test_an_own_reference_may_give_l_m_s(tmp_path: Path) -> None:
    path = own_reference(tmp_path, lms=True)
    size = 4000 * (1 + 0.5 * 0.1 * 2) ** 2  # Cole's LMS: M (1 + L S z)^(1 / L)
    assert z_of("weight_g", round(size, 1), 280, size_reference=path) == pytest.approx(2, abs=0.001)


@pytest.mark.build
def test_an_own_reference_changes_the_flags(tmp_path: Path) -> None:
    rows = "record_id | gestational_age_days | sex | weight_g\na | 280 | male | 6100\n"
    store = make_store({"admission": rows})
    judge(store)
    assert flags(store) == {("a", "weight_g", "weight_unit_slip", "error")}
    store = make_store({"admission": rows})
    judge(store, {"example_unit": {"size_reference": own_reference(tmp_path)}})
    # z 4.2 by the own reference; 6,100 pounds entered as kilograms would be z -3.1 by it.
    assert flags(store) == {("a", "weight_g", "size_against_gestation", "query")}


@pytest.mark.parametrize(
    ("change", "by", "words"),
    [
        ("gestational_age_days", "days", "column 'gestational_age_days' is missing"),
        ("median,sd_low,sd_high", "median,sd", "needs the columns l, m, s or"),
        ("male,259", "boy,259", "line 2: sex 'boy' is not known"),
        ("weight_g,4000", "weigth_g,4000", "Did you mean 'weight_g'"),
        ("4000,400", "4000,0", "line 2: sd_low must be a number above 0"),
        ("4000,400", "x,400", "line 2: median must be a number above 0"),
        ("male,260", "male,259", "day 259 of weight_g, male, stands twice"),
        ("male,270,weight_g,4000,400,500\n", "", "day 270 of weight_g, male, is missing"),
    ],
)
def test_a_bad_reference_is_refused_in_words(
    change: str, by: str, words: str, tmp_path: Path
) -> None:
    path = own_reference(tmp_path, change, by)
    with pytest.raises(DeclarationError, match=r"own\.csv") as caught:
        judge(
            make_store({"admission": "record_id\na\n"}), {"example_unit": {"size_reference": path}}
        )
    assert words in str(caught.value)


def test_a_missing_reference_names_the_key(tmp_path: Path) -> None:
    with pytest.raises(DeclarationError, match="size_reference"):
        judge(
            make_store({"admission": "record_id\na\n"}),
            {"example_unit": {"size_reference": tmp_path / "none.csv"}},
        )


def test_a_reference_stands_beside_the_unit_file() -> None:
    unit = find_unit("quillmere")
    assert unit_settings(unit) == {"zone": "America/Chicago"}
    own = dataclasses.replace(
        unit, checks={"off": ["apgar_order"], "size_reference": "own.csv"}, path=Path("/u/q.toml")
    )
    assert unit_settings(own) == {
        "off": ["apgar_order"],
        "size_reference": Path("/u/own.csv"),
        "zone": "America/Chicago",
    }


@pytest.mark.build
def test_the_clock_put_back_explains_a_time_before_birth() -> None:
    """Clocks went back at 02:00 on 2 November 2025 in Chicago (07:00 UTC; time zone database)."""
    rows = "record_id | kind | minutes\na | bath | -30\nb | bath | -30\nc | bath | -61\n"
    said = {}
    for record, born in (("a", "06:20"), ("b", "10:20"), ("c", "06:20")):
        store = make_store({"care": rows})
        _born(store, born)
        judge(store, {"example_unit": {"zone": "America/Chicago"}})
        (said[record],) = store.execute(
            "select suggestion from judged.flag where rule_id = 'before_birth' and record_id = ?",
            [record],
        ).fetchall()[0]
    assert said["a"].startswith("The clock was put back that night: if this is the later")
    assert "30 min after birth" in said["a"]
    assert not said["b"].startswith("The clock")
    assert not said["c"].startswith("The clock")


def _born(store: duckdb.DuckDBPyConnection, clock: str) -> None:
    store.execute(
        "create table raw.birth as select distinct newborn_id, unit, "
        f"timestamptz '2025-11-02 {clock}:00+00' as born_at from typed.care"
    )

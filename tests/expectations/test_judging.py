"""The stage judged: flags, counts, masks, what a flag may repeat, and what a broken rule does."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from judged_store import flags, make_store, misfit, sourced

from expectations import from_contract, judge
from expectations.check import Check
from expectations.rules_of_values import RULES_DIR, read_rules
from pipelines.base.errors import DeclarationError
from pipelines.definitions.read_contract import Table

ADMISSION = """
record_id | weight_g | gestational_age_days | apgar_5 | discharge_minutes | arrival_minutes
a         | 3400     | 280                  | 9       | 2880              | 90
b         | 9000     | 280                  | 11      | 2880              |
c         | 5600     | 120                  |         | -725              | 0
d         | 3.4      | 280                  | 9       |                   |
"""
OBSERVATION = """
record_id | kind             | minutes | value
a         | temperature      | 30      | 36.8
a         | temperature      | -30     | 31
b         | temperature      | 45      | 97.7
b         | temperature      | 60      | 50
b         | heart_rate       | 60      | 50
c         | glucose          | -1500   | 40
"""


@pytest.mark.build
def test_limits_flag_error_and_query_and_give_way_to_a_named_cause() -> None:
    store = make_store({"admission": ADMISSION, "observation": OBSERVATION})
    judge(store)
    assert flags(store) == {
        ("b", "weight_g", "weight_unit_slip", "error"),  # 9,000 / 2.2046 fits: cause is named
        ("b", "apgar_5", "outside_limits", "error"),
        ("c", "weight_g", "weight_unit_slip", "query"),
        ("c", "gestational_age_days", "outside_limits", "error"),
        ("c", "discharge_minutes", "before_birth", "error"),
        ("d", "weight_g", "weight_unit_slip", "error"),
        ("a", "minutes", "before_birth", "error"),
        ("a", "value", "unusual", "query"),
        ("b", "value", "temperature_slip", "error"),
        ("b", "value", "outside_limits", "error"),
        ("b", "value", "unusual", "query"),
        ("c", "minutes", "before_birth", "error"),
    }


@pytest.mark.build
def test_a_value_equal_to_a_bound_is_inside() -> None:
    rows = "record_id | weight_g\nlow | 200\nhigh | 8200\nq_low | 400\nq_high | 5500\n"
    store = make_store({"admission": rows})
    judge(store)
    assert ("low", "weight_g", "outside_limits", "error") not in flags(store)
    assert not {flag for flag in flags(store) if flag[0] in {"q_low", "q_high"}}
    assert {flag[3] for flag in flags(store)} == {"query"}


@pytest.mark.build
def test_counts_of_the_verdict_equal_the_flags_stored() -> None:
    store = make_store({"admission": ADMISSION, "observation": OBSERVATION})
    verdict = judge(store)
    assert verdict.is_trustworthy
    assert verdict.flagged == store.execute("select count(*) from judged.flag").fetchall()[0][0]
    by_check = {
        (each.table_name, each.rule_id, each.column_name, each.kind): each
        for each in verdict.outcomes
    }
    limit = by_check["admission", "outside_limits", "apgar_5", None]
    assert (limit.rows_judged, limit.flagged, limit.success) == (3, 1, False)
    kind = by_check["observation", "unusual", "value", "temperature"]
    assert (kind.rows_judged, kind.flagged) == (4, 1)
    rule = by_check["admission", "weight_unit_slip", None, None]
    assert (rule.rows_judged, rule.flagged, rule.severity) == (4, 3, "error")
    frame = verdict.to_frame()
    assert len(frame) == len(verdict.outcomes)
    stored = store.execute(
        "select rule_id, table_name, rows_judged, flagged from judged.verdict"
    ).fetchall()
    assert stored == [(o.rule_id, o.table_name, o.rows_judged, o.flagged) for o in verdict.outcomes]


@pytest.mark.build
def test_error_flags_mask_and_name_the_cell_and_query_flags_do_not() -> None:
    store = make_store({"admission": ADMISSION, "observation": OBSERVATION})
    judge(store)
    rows = store.execute(
        "select record_id, weight_g, apgar_5, gestational_age_days, discharge_minutes, unusable "
        "from judged.admission order by record_id"
    ).fetchall()
    assert rows == [
        ("a", 3400.0, 9, 280, 2880.0, []),
        ("b", None, None, 280, 2880.0, ["apgar_5", "weight_g"]),
        ("c", 5600.0, None, None, None, ["discharge_minutes", "gestational_age_days"]),
        ("d", None, 9, 280, None, ["weight_g"]),
    ]
    assert store.execute("select count(*) from judged.observation").fetchall() == [(6,)]
    readings = store.execute(
        "select minutes, value, unusable from judged.observation where record_id = 'a' "
        "order by row_id"
    ).fetchall()
    assert readings == [(30.0, 36.8, []), (None, 31.0, ["minutes"])]


@pytest.mark.build
def test_judged_tables_have_the_columns_of_typed_less_its_lists() -> None:
    store = make_store({"admission": ADMISSION})
    judge(store)
    for table in ("admission", "observation", "dose", "care", "finding"):
        typed = [row[:2] for row in store.execute(f"describe typed.{table}").fetchall()]
        judged = [row[:2] for row in store.execute(f"describe judged.{table}").fetchall()]
        kept = [row for row in typed if row[0] not in {"unreadable", "unmapped"}]
        assert judged == [*kept, ("unusable", "VARCHAR[]")]


@pytest.mark.build
def test_recorded_value_of_a_time_is_minutes_or_a_shape_never_the_time() -> None:
    store = make_store(
        {
            "admission": "record_id | weight_g | discharge_minutes\n"
            "a | 9999 | -725\nb | |\nc | |\n",
            "care": "record_id | kind | minutes\na | bath | -0.5\n",
        },
        raw={
            "admission": "row_id | weight_g | discharge_minutes | birth_time | apgar_1\n"
            "1 | 9999 | 03/04/2024 23:55 | | \n"
            "2 | 05/06/2024 14:05 | half past 3 | 31/31/2024 25:61 | seven\n"
            "3 | 1234567890 | 2024-03-04T10:05 | | 7.5\n",
            "care": "row_id | minutes\n1 | 03/04/2024 11:59\n",
        },
    )
    for row_id, column in (
        (2, "discharge_minutes"),
        (3, "discharge_minutes"),
        (3, "apgar_1"),
    ):
        misfit(store, "unreadable", "admission", row_id, column)
    store.execute(
        "update typed.admission set unreadable = ['discharge_minutes', 'weight_g', "
        "'birth_time', 'apgar_1'] where row_id = 2"
    )
    store.execute(
        "update typed.admission set unreadable = ['weight_g', 'apgar_1', "
        "'discharge_minutes'] where row_id = 3"
    )
    judge(store)
    recorded = {
        (table, record, column): value
        for table, record, column, value in store.execute(
            "select table_name, record_id, column_name, recorded_value from judged.flag"
        ).fetchall()
    }
    assert recorded == {
        ("admission", "a", "weight_g"): "9999",
        ("admission", "a", "discharge_minutes"): "-725 min",
        ("admission", "b", "discharge_minutes"): "xxxx xxxx 9",
        ("admission", "b", "birth_time"): "99/99/9999 99:99",
        # A date that slid into another column is still a date.
        ("admission", "b", "weight_g"): "99/99/9999 99:99",
        # Nor is a word that is not known repeated: it may be a name.
        ("admission", "b", "apgar_1"): "xxxxx",
        ("admission", "c", "discharge_minutes"): "9999-99-99x99:99",
        ("admission", "c", "weight_g"): "9999999999",
        ("admission", "c", "apgar_1"): "7.5",
        ("care", "a", "minutes"): "-0.5 min",
    }
    everything = str(store.execute("select * from judged.flag").fetchall())
    for time in ("23:55", "14:05", "10:05", "11:59", "2024"):
        assert time not in everything


@pytest.mark.build
def test_unreadable_is_an_error_and_a_code_on_no_list_a_query_and_both_are_unusable() -> None:
    store = make_store({"dose": "record_id | kind | minutes\na | vitamin_k |\n"})
    misfit(store, "unreadable", "dose", 1, "minutes")
    store.execute("update typed.dose set unmapped = ['status']")
    judge(store)
    assert flags(store) == {
        ("a", "minutes", "unreadable", "error"),
        ("a", "status", "not_on_list", "query"),
    }
    assert store.execute("select unusable from judged.dose").fetchall() == [
        (["minutes", "status"],)
    ]


@pytest.mark.build
def test_missing_and_empty_columns_are_flagged_without_a_record() -> None:
    store = make_store({"dose": "record_id | kind | minutes\na | vitamin_k |\nb | vitamin_k | 5\n"})
    sourced(store, "dose", "status", "Action", is_present=False)
    sourced(store, "dose", "site", "Site", is_present=False)
    sourced(store, "dose", "kind", "Medicine", is_present=True)
    sourced(store, "dose", "minutes", "Time", is_present=True)
    sourced(store, "dose", "route", "Route", is_present=True)
    sourced(store, "dose", "amount", "Amount", is_present=True)
    misfit(store, "unreadable", "dose", 1, "amount")  # read and not understood is not empty
    judge(store)
    assert {flag for flag in flags(store) if flag[0] is None} == {
        (None, "status", "missing_column", "error"),
        (None, "site", "missing_column", "query"),
        (None, "route", "empty_column", "note"),
    }
    assert store.execute("select status, unusable from judged.dose order by row_id").fetchall() == [
        (None, ["amount"]),
        (None, []),
    ]


@pytest.mark.build
def test_a_conflicting_duplicate_queries_the_kept_record() -> None:
    store = make_store({"admission": "record_id | weight_g\na | 3000\nb | 3000\n"})
    assert "conflicting_duplicate" not in {each.rule_id for each in judge(store).outcomes}
    store.execute(
        "create table typed.duplicate as select * from (values ('admission', 1::bigint, true), "
        "('admission', 2::bigint, false)) as d (table_name, row_id, is_conflicting)"
    )
    judge(store)
    assert flags(store) == {("a", "record_id", "conflicting_duplicate", "query")}
    assert store.execute("select count(record_id) from judged.admission").fetchall() == [(2,)]


@pytest.mark.build
@pytest.mark.parametrize(
    ("minutes", "suggestion"),
    [
        (-0.5, "1440 min after birth; if morning was charted for afternoon: 720 min"),
        (-720, "720 min after birth; if morning was charted for afternoon: 0 min"),
        (-721, "719 min after birth."),
        (-1440, "0 min after birth."),
        (-1441, "Check the date and the birth time."),
    ],
)
def test_before_birth_says_which_slip_fits(minutes: float, suggestion: str) -> None:
    rows = f"record_id | kind | minutes | end_minutes\na | bath | {minutes} |\n"
    store = make_store({"care": rows})
    judge(store)
    said = store.execute("select suggestion from judged.flag").fetchall()
    assert len(said) == 1
    assert suggestion in said[0][0]


TRUE_BEFORE_BIRTH = """
record_id | kind                 | minutes | end_minutes | status
stool720  | first_stool          | -720    |             | done
stool721  | first_stool          | -721    |             | done
skin10    | skin_contact         | -10     |             | done
skin11    | skin_contact         | -11     |             | done
talk30    | hepatitis_b_decision | -30     |             | done
talk_old  | hepatitis_b_decision | -30000  |             | done
bath      | bath                 | -5      |             | done
refused   | two_bands            | -5      |             | not_done
"""


@pytest.mark.build
def test_what_can_be_true_before_birth_is_asked_about_and_not_called_impossible() -> None:
    doses = "record_id | kind | minutes | status\n"
    doses += "declined | vitamin_k | -60 | refused\ngiven | vitamin_k | -60 | given\n"
    store = make_store({"care": TRUE_BEFORE_BIRTH, "dose": doses})
    judge(store)
    assert {
        (who, severity) for who, column, _, severity in flags(store) if column == "minutes"
    } == {
        ("stool720", "query"),
        ("stool721", "error"),
        ("skin10", "query"),
        ("skin11", "error"),
        ("talk30", "query"),
        ("bath", "error"),
        ("refused", "query"),
        ("declined", "query"),
        ("given", "error"),
    }


@pytest.mark.build
def test_a_status_known_before_birth_is_not_before_birth() -> None:
    rows = "record_id | maternal_hepatitis_b_minutes | arrival_minutes\na | -9000 | 0\n"
    store = make_store({"admission": rows})
    judge(store)
    assert flags(store) == set()


# --- a broken check -------------------------------------------------------------------------

BROKEN = {
    "no_such_table": ("select row_id, 'weight_g' as column_name from typed.nowhere", "nowhere"),
    "holds_a_value": (
        "select cast(record_id as integer) as row_id, 'sex' as column_name from typed.admission",
        "ConversionException",
    ),
    "bad_column": ("select row_id, 'wieght_g' as column_name from typed.admission", "column_name"),
    "bad_severity": (
        "select row_id, 'weight_g' as column_name, 'fatal' as severity from typed.admission",
        "severity",
    ),
}


@pytest.mark.build
@pytest.mark.parametrize("rule_id", list(BROKEN))
def test_a_rule_that_raises_could_not_be_judged(rule_id: str, tmp_path: Path) -> None:
    folder = tmp_path / "rules"
    shutil.copytree(RULES_DIR, folder)
    sql, word = BROKEN[rule_id]
    (folder / f"{rule_id}.sql").write_text(
        "/*\ntitle = 'broken'\ntable = 'admission'\nseverity = 'error'\nexplanation = 'x'\n"
        f"examples = []\n*/\n{sql}\n"
    )
    store = make_store({"admission": "record_id | weight_g\nsecret-key | 9000\n"})
    verdict = judge(store, rules_dir=folder)
    assert not verdict.is_trustworthy
    (broken,) = verdict.not_judged
    assert broken.rule_id == rule_id
    assert (broken.flagged, broken.rows_judged, broken.success) == (0, 0, False)
    assert word in str(broken.could_not_be_judged)
    assert rule_id in verdict.in_words
    assert "secret-key" not in verdict.in_words
    # The others were judged, and the broken one is no bad data.
    assert {flag[2] for flag in flags(store)} == {"weight_unit_slip"}
    stored = store.execute(
        "select rule_id from judged.verdict where could_not_be_judged is not null"
    ).fetchall()
    assert stored == [(rule_id,)]


@pytest.mark.build
def test_checks_found_together_are_found_one_by_one_where_one_of_them_is_wrong(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    whole = judge(make_store({"admission": ADMISSION, "observation": OBSERVATION}))
    rows = len(whole.outcomes)
    before = from_contract.limits

    def one_wrong(table: Table) -> Iterator[Check]:
        for check in before(table):
            is_it = check.id == "admission.outside_limits.apgar_5"
            yield replace(check, select="select row_id from typed.nowhere") if is_it else check

    monkeypatch.setattr(from_contract, "limits", one_wrong)
    verdict = judge(make_store({"admission": ADMISSION, "observation": OBSERVATION}))
    (broken,) = verdict.not_judged
    assert (broken.rule_id, broken.column_name) == ("outside_limits", "apgar_5")
    assert "nowhere" in str(broken.could_not_be_judged)
    others = [each for each in whole.outcomes if each.column_name != "apgar_5"]
    assert sum(each.flagged for each in others) > 3
    assert [each for each in verdict.outcomes if each.column_name != "apgar_5"] == others
    assert len(verdict.outcomes) == rows


def test_a_verdict_without_checks_is_not_trustworthy() -> None:
    from expectations import Verdict

    assert not Verdict(()).is_trustworthy


@pytest.mark.build
def test_a_rule_that_finds_a_cell_twice_flags_it_once(tmp_path: Path) -> None:
    (tmp_path / "twice.sql").write_text(
        "/*\ntitle = 't'\ntable = 'admission'\nseverity = 'note'\nexplanation = 'x'\n"
        "examples = []\n*/\nselect row_id, 'sex' as column_name from typed.admission, range(3)\n"
    )
    store = make_store({"admission": "record_id\na\nb\n"})
    judge(store, rules_dir=tmp_path)
    assert store.execute("select record_id from judged.flag order by all").fetchall() == [
        ("a",),
        ("b",),
    ]


# --- switches -------------------------------------------------------------------------------

TWO_UNITS = """
record_id | unit | weight_g | length_cm | head_circumference_cm | discharge_minutes
a         | one  | 9000     | 50        | 38                    | -5
b         | two  | 9000     | 50        | 38                    | -5
"""


@pytest.mark.build
def test_a_unit_may_switch_a_rule_off() -> None:
    store = make_store({"admission": TWO_UNITS})
    verdict = judge(store, {"one": {"off": ["weight_unit_slip", "before_birth"]}})
    assert flags(store) == {
        ("a", "weight_g", "outside_limits", "error"),
        ("b", "weight_g", "weight_unit_slip", "error"),
        ("b", "discharge_minutes", "before_birth", "error"),
    }
    judged = {
        each.rule_id: each.rows_judged for each in verdict.outcomes if each.column_name is None
    }
    assert judged["weight_unit_slip"] == 1


@pytest.mark.build
def test_a_unit_may_set_a_number_of_a_rule() -> None:
    store = make_store({"admission": TWO_UNITS.replace("9000", "3000").replace("-5", "")})
    judge(store, {"two": {"numbers": {"head_against_length": {"ratio_above": 0.75}}}})
    assert {flag[:2] for flag in flags(store)} == {
        ("b", "length_cm"),
        ("b", "head_circumference_cm"),
    }


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"one": {"off": ["weight_unit_slpi"]}}, "Did you mean 'weight_unit_slip'?"),
        ({"one": {"numbers": {"head_against_length": {"ratio": 1}}}}, "ratio_above"),
        ({"one": {"numbers": {"head_against_length": {"ratio_above": "x"}}}}, "must be a number"),
        ({"one": {"of": []}}, "Did you mean 'off'?"),
    ],
)
def test_a_switch_that_names_nothing_known_is_refused(settings: dict, words: str) -> None:  # type: ignore[type-arg]
    with pytest.raises(DeclarationError, match="unit 'one'") as caught:
        judge(make_store({}), settings)
    assert words in str(caught.value)


def test_a_circle_of_rules_is_refused(tmp_path: Path) -> None:
    for one, other in (("first", "second"), ("second", "first")):
        (tmp_path / f"{one}.sql").write_text(
            f"/*\ntitle='t'\ntable='care'\nseverity='note'\nexplanation='x'\nexamples=[]\n"
            f"gives_way_to=['{other}']\n*/\nselect 1\n"
        )
    with pytest.raises(DeclarationError, match="circle"):
        read_rules(tmp_path)


@pytest.mark.build
def test_an_empty_build_is_judged_and_has_no_flag() -> None:
    store = make_store({})
    verdict = judge(store)
    assert verdict.is_trustworthy, verdict.in_words
    assert (verdict.flagged, flags(store)) == (0, set())
    assert store.execute("select count(*) from judged.care").fetchall() == [(0,)]

"""A number that cannot be read says what it probably is, where its text shows the cause.

By hand: 7 lb 4 oz = 7 x 453.59237 + 4 x 28.349523 = 3288.5 g; 98.2 F = 66.2 / 1.8 = 36.8 C;
20 inches = 50.8 cm (1959 agreement on pound and inch).
"""

import pytest

from expectations.judging import judge
from tests.expectations.judged_store import make_store, misfit

ADMISSION = [
    ("weight_g", "7 lb 4 oz", "pounds and ounces", "3,289 g, if so"),
    ("weight_g", "7lbs", "pounds and ounces", "3,175 g, if so"),
    ("weight_g", "3,290", "thousands", "3,290 g, if so"),
    ("weight_g", "3,29", "decimal comma", "3,290 g, if so"),
    ("weight_g", "3290 g", "unit", "3,290 g, if so"),
    ("weight_g", "3.29kg", "unit", "3,290 g, if so"),
    ("length_cm", "50,5", "decimal comma", "50.5 cm, if so"),
    ("length_cm", "20 in", "unit", "50.8 cm, if so"),
    ("gestational_age_days", "39.4", "weeks and days", "39+4, if the last digit is days"),
    ("gestational_age_days", "39.8", "weeks and days", None),
    ("gestational_age_days", "39", "without its days", None),
]
OBSERVATION = [
    ("temperature", "36,7", "decimal comma", "36.7 °C, if so"),
    ("temperature", "98.2 F", "unit", "36.8 °C, if so"),
    ("temperature", "98,2", "decimal comma", "36.8 °C, if so"),
    ("heart_rate", "140 bpm", "unit", "140, if so"),
]
# Nothing in the text says what was meant.
UNKNOWN = ("see chart", "??", "n/a", "3,4oo", "7 lb 4 st")


def _flag(table: str, column: str, text: str, kind: str | None = None) -> tuple[str, str | None]:
    rows: list[dict[str, str | None]] = [{"record_id": "a"}]
    if kind is not None:
        rows[0]["kind"] = kind
    store = make_store({table: rows}, raw={table: f"row_id | {column}\n1 | {text}"})
    misfit(store, "unreadable", table, 1, column)
    judge(store)
    found = store.execute(
        "select explanation, suggestion from judged.flag where rule_id = 'unreadable' "
        "and severity = 'error'"
    ).fetchall()
    assert len(found) == 1
    return str(found[0][0]), found[0][1]


@pytest.mark.build
@pytest.mark.parametrize(("column", "text", "cause", "suggestion"), ADMISSION)
def test_the_text_of_an_admission_says_the_cause(
    column: str, text: str, cause: str, suggestion: str | None
) -> None:
    explanation, suggested = _flag("admission", column, text)
    assert cause in explanation
    assert suggested == suggestion


@pytest.mark.build
@pytest.mark.parametrize(("kind", "text", "cause", "suggestion"), OBSERVATION)
def test_the_text_of_a_reading_says_the_cause(
    kind: str, text: str, cause: str, suggestion: str
) -> None:
    explanation, suggested = _flag("observation", "value", text, kind)
    assert cause in explanation
    assert suggested == suggestion


@pytest.mark.build
@pytest.mark.parametrize("text", UNKNOWN)
def test_a_text_that_says_nothing_is_left_as_it_was(text: str) -> None:
    explanation, suggested = _flag("admission", "weight_g", text)
    assert explanation == "The text is not a number, so it is not used."
    assert suggested is None

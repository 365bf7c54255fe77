"""Every number of a measure, a rule and the contract says where it comes from, and only those."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from expectations.explain import rules_of
from pipelines.base.errors import DeclarationError
from pipelines.definitions import numbers
from pipelines.definitions.of_units import definitions_of
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_measures import read_measures


def _needed() -> Iterator[tuple[str, str]]:
    for measure in read_measures().values():
        yield from ((f"measures.{measure.id}", name) for name in numbers.of_measure(measure))
    for rule in rules_of(definitions_of()).values():
        yield from ((f"rules.{rule.id}", name) for name in numbers.of_rule(rule.parameters))
    yield from (("contract", name) for name in numbers.of_contract(read_contract()))


def test_no_number_is_without_a_word_on_where_it_comes_from() -> None:
    said = {(owner, name) for owner, each in numbers.read_numbers().items() for name in each}
    missing = sorted(set(_needed()) - said)
    assert not missing, f"say in pipelines/definitions/numbers.toml where they come from: {missing}"


def test_no_word_is_left_over_from_a_number_that_is_gone() -> None:
    said = {(owner, name) for owner, each in numbers.read_numbers().items() for name in each}
    assert sorted(said - set(_needed())) == []


def test_a_line_says_a_status_and_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for line in ('"somewhere"', '"published"', '"published: "', '"believed: by many"'):
        path = tmp_path / "numbers.toml"
        path.write_text(f"[contract]\nx = {line}\n", encoding="utf-8")
        monkeypatch.setattr(numbers, "NUMBERS_FILE", path)
        numbers.read_numbers.cache_clear()
        with pytest.raises(DeclarationError, match="say one of published, memory"):
            numbers.read_numbers()
    monkeypatch.undo()
    numbers.read_numbers.cache_clear()


ALL_PUBLISHED = [
    one.id for one in read_measures().values() if one.text("window_status") == "published"
]


@pytest.mark.parametrize("measure_id", ALL_PUBLISHED)
def test_a_measure_called_published_has_no_other_number(measure_id: str) -> None:
    """Where a part is a local decision it is published in part; that is said, too."""
    said = numbers.read_numbers().get(f"measures.{measure_id}", {})
    assert {text.partition(":")[0] for text in said.values()} <= {"published", "definition"}
    assert not any("local" in text for text in said.values())

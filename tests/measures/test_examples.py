"""Every worked example of every measure file is a test, by name."""

import pytest

from pipelines.definitions.read_measures import MEASURES_DIR, Measure, read_measure
from pipelines.stages.measure.worked_examples import mismatches

CASES = [
    pytest.param(measure, example, id=f"{measure.id}: {' '.join(example['because'].split())}")
    for measure in map(read_measure, sorted(MEASURES_DIR.glob("*.sql")))
    for example in measure.examples
]


@pytest.mark.parametrize(("measure", "example"), CASES)
def test_example(measure: Measure, example: dict[str, object]) -> None:
    assert mismatches(measure, example) == []

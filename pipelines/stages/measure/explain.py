"""Measures told on the command line: the list, and one measure with its examples run."""

from collections.abc import Mapping

from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.measure_words import exception_words, exclusion_words, window_words
from pipelines.definitions.read_contract import Contract
from pipelines.definitions.read_measures import Measure
from pipelines.stages.measure.worked_examples import mismatches


def measure_list(measures: Mapping[str, Measure]) -> str:
    """List every measure by group, with its window."""
    width = max((len(name) for name in measures), default=0)
    lines, group = [], None
    for measure in measures.values():
        if measure.get("group") != group:
            group = measure.get("group")
            lines += ["", str(group)]
        window = window_words(measure)
        lines.append(
            f"  {measure.id:<{width}}  {measure.text('title')}{f' ({window})' if window else ''}"
        )
    return "\n".join(lines).lstrip("\n")


def measure_words(
    measures: Mapping[str, Measure], name: str, contract: Contract | None = None
) -> str:
    """Show one measure in words and run its worked examples; ``contract`` None: as shipped.

    Raises DeclarationError where the name is not known or an example fails.
    """
    if name not in measures:
        raise DeclarationError(f"there is no measure '{name}'.{nearest(name, measures)}")
    measure = measures[name]
    facts = {
        "question": measure.text("question"),
        "population": measure.text("population"),
        "exclusions": exclusion_words(measure),
        "numerator": measure.text("numerator"),
        "exceptions": exception_words(measure),
        "window": " ".join((window_words(measure), measure.text("window_status"))).strip(),
        "sources": "; ".join(measure.get("sources", ())),
        "caution": measure.text("caution"),
        "version": measure.text("version"),
    }
    lines = [measure.text("title"), ""]
    lines += [f"{key:<11} {value}" for key, value in facts.items() if value]
    lines += [""]
    failed = []
    for example in measure.examples:
        wrong = mismatches(measure, example, contract)
        lines.append(f"{'ok  ' if not wrong else 'FAIL'} {' '.join(example['because'].split())}")
        failed += wrong
    if failed:
        raise DeclarationError("\n".join([*lines, f"{measure.where}: an example fails:", *failed]))
    return "\n".join(lines)

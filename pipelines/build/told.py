"""What the command line says of a build and of a measure."""

from collections.abc import Mapping

from pipelines.base.errors import DeclarationError, nearest
from pipelines.build.every_stage import BuildSummary
from pipelines.definitions.read_measures import Measure
from pipelines.stages.measure.describe import exclusion_words, window_words
from pipelines.stages.measure.worked_examples import mismatches

SEVERITIES = ("error", "query", "note")
_MEANING = {
    "error": "value unusable, masked",
    "query": "value kept, to be looked at",
    "note": "for information",
}


def build_words(summary: BuildSummary) -> str:
    """Reconcile rows in = kept + rejected by file, and count the flags by severity."""
    files = summary.files
    width = max([4, *(len(f"{row.unit}/{row.source_file}") for row in files.itertuples())])
    lines = ["", f"{'file':<{width}}  {'rows in':>9} = {'kept':>9} + {'rejected':>8}"]
    lines += [
        f"{f'{row.unit}/{row.source_file}':<{width}}  {row.rows_in:>9,} = {row.rows_kept:>9,} "
        f"+ {row.rows_rejected:>8,}"
        for row in files.itertuples()
    ]
    rows_in, kept, rejected = (
        int(files[name].sum()) for name in ("rows_in", "rows_kept", "rows_rejected")
    )
    lines.append(f"{'all':<{width}}  {rows_in:>9,} = {kept:>9,} + {rejected:>8,}")
    lines += [
        f"note: {row.unit}/{row.source_file}: {row.note}"
        for row in files.itertuples()
        if isinstance(row.note, str)
    ]
    lines += ["", f"{summary.newborns:,} newborns, {summary.measures} measure files."]
    by_severity = summary.flags.groupby("severity")["flags"].sum()
    lines += [
        f"{int(by_severity.get(severity, 0)):>9,} flags of severity {severity} "
        f"({_MEANING[severity]})"
        for severity in SEVERITIES
    ]
    if summary.not_judged:
        lines.append(
            f"{len(summary.not_judged)} checks could not be judged: "
            f"{', '.join(summary.not_judged)}. Their values count neither as good nor as bad."
        )
    if summary.unit_doubts:
        lines += ["", "Look at the unit file before anyone looks at single records:"]
        lines += [f"  {number}. {words}" for number, words in enumerate(summary.unit_doubts, 1)]
    if summary.not_in_export:
        lines += ["", *summary.not_in_export]
    return "\n".join(lines)


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


def measure_words(measures: Mapping[str, Measure], name: str) -> str:
    """Show one measure in words and run its worked examples.

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
        "exceptions": measure.text("exceptions"),
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
        wrong = mismatches(measure, example)
        lines.append(f"{'ok  ' if not wrong else 'FAIL'} {' '.join(example['because'].split())}")
        failed += wrong
    if failed:
        raise DeclarationError("\n".join([*lines, f"{measure.where}: an example fails:", *failed]))
    return "\n".join(lines)

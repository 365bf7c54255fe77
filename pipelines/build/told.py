"""What the command line says of a build and of a measure."""

from pipelines.build.every_stage import BuildSummary
from pipelines.definitions.states import severity_words


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
        f"{int(by_severity.get(severity, 0)):>9,} flags of severity {severity} ({words})"
        for severity, words in severity_words("build").items()
    ]
    if summary.not_judged:
        lines.append(
            f"{len(summary.not_judged)} checks could not be judged: "
            f"{', '.join(summary.not_judged)}. Their values count neither as good nor as bad."
        )
    if summary.unit_doubts:
        lines += ["", "Look at the unit file before anyone looks at single records:"]
        lines += [f"  {number}. {words}" for number, words in enumerate(summary.unit_doubts, 1)]
    if summary.written_back:
        lines += ["", *summary.written_back]
    if summary.lines_rejected:
        lines += ["", "Lines of a worklist that were not read:"]
        lines += [f"  {words.rstrip('.')}." for words in summary.lines_rejected]
    if summary.not_in_export:
        lines += ["", *summary.not_in_export]
    return "\n".join(lines)

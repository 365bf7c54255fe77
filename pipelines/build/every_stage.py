"""From a folder of exports to a built store: raw, typed, judged, mart, measure, in one go."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from importlib.metadata import version
from pathlib import Path

import duckdb
import pandas as pd

from pipelines.base.hashes import folder_hash, with_own_files
from pipelines.base.insert_rows import insert_rows
from pipelines.base.sql import MART, ROOMS, fixed_sql
from pipelines.base.store_file import STORE_VERSION, new_store
from pipelines.build.since_last import note_restated, refuse_to_drop
from pipelines.build.unit_doubts import not_in_export, unit_doubts
from pipelines.definitions.finding_tiers import fill_tiers
from pipelines.definitions.leading import leading_ids
from pipelines.definitions.of_units import Definitions, definitions_of
from pipelines.definitions.own_files import KINDS, own_files
from pipelines.definitions.policy import check_policies, in_force
from pipelines.definitions.read_contract import CONTRACT_DIR
from pipelines.definitions.read_measures import MEASURES_DIR, Measure
from pipelines.definitions.read_units import Unit
from pipelines.definitions.unit_gravity import gravity_rows
from pipelines.definitions.weight_centiles import fill_weight_centiles
from pipelines.definitions.worklist import filled_files, find_chart
from pipelines.stages.judged.answers import read_answers
from pipelines.stages.judged.cause_reviews import apply_cause_reviews, read_cause_reviews
from pipelines.stages.judged.completeness import fill_completeness, policy_starts
from pipelines.stages.judged.masks import unit_settings
from pipelines.stages.judged.worklist_lines import apply_worklists, read_worklists
from pipelines.stages.measure.as_recorded import beside_as_recorded, write_as_recorded
from pipelines.stages.measure.counting import write_results
from pipelines.stages.measure.describe import describe_store
from pipelines.stages.measure.engine import create_measure_tables, run_measures
from pipelines.stages.raw.export_files import matching_files, open_raw, read_export
from pipelines.stages.raw.guard import guard
from pipelines.stages.raw.kept_rows import (
    create_raw_tables,
    is_admission_file,
    keep_first_records,
    reject_orphans,
    reject_repeats,
    reject_unusable_rows,
)
from pipelines.stages.raw.raw_file import RawFile
from pipelines.stages.typed.misread_times import refuse_misread_times
from pipelines.stages.typed.rare_words import declare_words, hide_rare_words
from pipelines.stages.typed.tables import (
    create_raw_views,
    create_typed_tables,
    fill_typed,
    finish_typed,
    read_births,
)
from pipelines.stages.typed.written_back import write_back, write_back_words

Progress = Callable[[str], None]


@dataclass(frozen=True)
class BuildSummary:
    """What a build did, in counts only.

    files: unit, source_file, rows_in, rows_kept, rows_rejected, note.
    flags: unit, severity, flags. verdict: rule_id, table_name, could_not_be_judged, ...
    """

    store: Path
    files: pd.DataFrame
    flags: pd.DataFrame
    verdict: pd.DataFrame
    newborns: int
    measures: int
    not_judged: list[str] = field(default_factory=list)
    # What is more likely a slip in a unit's file than in the charts, in sentences.
    unit_doubts: list[str] = field(default_factory=list)
    # Lines of a worklist that cannot be meant, in sentences.
    lines_rejected: list[str] = field(default_factory=list)
    # Which measures the export of a unit says nothing of, in sentences.
    not_in_export: list[str] = field(default_factory=list)
    # Of a dry run: what came back as the export's own text, in sentences.
    written_back: list[str] = field(default_factory=list)


def _check_units(units: Sequence[Unit], measures: Mapping[str, Measure]) -> None:
    """Read what is used only later, so that a mistake in a unit's file is told at once."""
    for unit in units:
        gravity_rows(unit, measures)
        leading_ids(unit, measures)
        find_chart(unit)
        filled_files(unit)


def build_store(
    sources: Sequence[tuple[Unit, Path]],
    store: Path,
    progress: Progress = lambda _: None,
    *,
    before: Path | None = None,
    may_drop: bool = False,
    is_dry: bool = False,
) -> BuildSummary:
    """Build one store from each unit's folder of exports.

    The store at ``store`` is replaced only when everything succeeded. ``before`` is the store to
    compare with, where that is another (a dry run). Units and months that the store before holds
    and these exports do not are let go only where it ``may_drop`` them. ``is_dry``: a trial, in
    which a sample of what was read is also written back and compared. Raises LanugoError in words
    where something would be lost, or a declaration, an export or the place of the store is wrong.
    """
    units = [unit for unit, _ in sources]
    definitions = checked_definitions(units)
    folders = [folder for _, folder in sources]
    with new_store(store, folders, before, may_drop) as connection:
        prepare(connection, units, definitions)
        raws = load_exports(connection, sources, definitions, progress)
        if not may_drop:
            refuse_to_drop(connection, (before or store).name)
        back = write_back(connection, raws) if is_dry else []
        # What a trial would change of earlier numbers nobody is told.
        summary = judge_and_measure(
            connection, store, units, definitions, progress, is_compared=before is None
        )
        names = {unit.id: unit.file_name for unit in units}
        return replace(summary, written_back=write_back_words(back, names))


def checked_definitions(units: Sequence[Unit]) -> Definitions:
    """Return what holds for these units together, with all that they declare looked at.

    Raises DeclarationError in words, before anything is read.
    """
    definitions = definitions_of(units)
    check_policies(units, definitions.measures)
    _check_units(units, definitions.measures)
    return definitions


def prepare(
    connection: duckdb.DuckDBPyConnection, units: Sequence[Unit], definitions: Definitions
) -> None:
    """Make the empty stages raw and typed, with the lists that reading a unit needs."""
    create_raw_tables(connection)
    create_typed_tables(connection, definitions.contract)
    fill_tiers(connection, units)
    fill_weight_centiles(connection, units)
    declare_words(connection, units)


def judge_and_measure(
    connection: duckdb.DuckDBPyConnection,
    store: Path,
    units: Sequence[Unit],
    definitions: Definitions,
    progress: Progress = lambda _: None,
    *,
    is_compared: bool = True,
) -> BuildSummary:
    """Fill the stages judged, mart and measure from typed; ``is_compared``: with the store before.

    Raises LanugoError in words where an answer, a worklist or a rule is wrong.
    """
    measures = definitions.measures
    progress("judging every value")
    _judge(connection, units, definitions)
    _run_stage(connection, "mart", MART, progress)
    create_measure_tables(connection)
    build_info, policies = _build_info(units), in_force(units, measures.values())
    describe_store(connection, units, measures, policies, build_info)
    progress("again: newborns with a flagged value, as recorded")
    with beside_as_recorded(connection):
        run_measures(connection, policies, measures, progress)
    write_results(connection)
    write_as_recorded(connection)
    connection.execute(fixed_sql("stages/measure/public"))
    if is_compared:
        progress("comparing with the store before")
        built_at = pd.Timestamp(build_info["built_at"].removesuffix(" UTC"))
        note_restated(connection, units, built_at)
    return _summary(connection, store, units, definitions)


def load_exports(
    connection: duckdb.DuckDBPyConnection,
    sources: Sequence[tuple[Unit, Path]],
    definitions: Definitions,
    progress: Progress = lambda _: None,
) -> list[RawFile]:
    """Read every unit's exports into the stages raw and typed, and close the load log.

    Raises ExportError in words where a file cannot be read rightly.
    """
    opened: list[tuple[Unit, list[RawFile]]] = []
    for unit, folder in sources:
        opened.append((unit, open_exports(unit, folder, sum(len(raws) for _, raws in opened))))
    return load_files(connection, opened, definitions, read_guarded, progress)


def open_exports(unit: Unit, folder: Path, first: int = 0) -> list[RawFile]:
    """Find the names of the columns of every export file of a unit; numbered from ``first``."""
    return [
        open_raw(unit, spec, path, first + place)
        for place, (spec, path) in enumerate(matching_files(unit, folder))
    ]


def read_guarded(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Read one export file, and refuse what looks identifying before any of it is kept."""
    read_export(connection, raw)
    guard(connection, raw)


def load_files(
    connection: duckdb.DuckDBPyConnection,
    opened: Sequence[tuple[Unit, Sequence[RawFile]]],
    definitions: Definitions,
    read: Callable[[duckdb.DuckDBPyConnection, RawFile], None],
    progress: Progress = lambda _: None,
    *,
    is_checked: Callable[[RawFile], bool] = lambda _: True,
) -> list[RawFile]:
    """Fill the stages raw and typed from every unit's files, and close the load log.

    ``read`` fills a file's raw table. A file that ``is_checked`` is held to times that its
    declared form reads otherwise than they were meant; one that was kept has been already.
    """
    for unit, raws in opened:
        for raw in raws:
            progress(f"reading {unit.id}: {raw.name}")
            read(connection, raw)
            reject_unusable_rows(connection, raw)
        keep_first_records(connection, [raw for raw in raws if is_admission_file(raw)])
        events = [raw for raw in raws if not is_admission_file(raw)]
        for raw in events:
            reject_orphans(connection, raw)
        for spec in dict.fromkeys(raw.spec.pattern for raw in events):
            reject_repeats(connection, [raw for raw in events if raw.spec.pattern == spec])
        read_births(connection, unit, raws)
        for raw in raws:
            progress(f"typing {unit.id}: {raw.name}")
            fill_typed(connection, raw.unit, raw)
            if is_checked(raw):
                refuse_misread_times(connection, raw.unit, raw)
            _log(connection, raw)
    every = [raw for _, raws in opened for raw in raws]
    hide_rare_words(connection, definitions.contract)
    create_raw_views(connection, every, definitions.contract)
    finish_typed(connection)
    return every


def _judge(
    connection: duckdb.DuckDBPyConnection, units: Sequence[Unit], definitions: Definitions
) -> None:
    # Imported here: great_expectations takes seconds, and only a build needs it.
    from expectations import judge
    from expectations.own_rules import refuse_taken
    from expectations.rules_of_columns import judge_columns, split_settings

    answers = [
        answer for unit in units if unit.answers for answer in read_answers(unit.answers, unit.id)
    ]
    settings = {unit.id: unit_settings(unit, definitions.off_for(unit.id)) for unit in units}
    own_rules, own_column_rules = definitions.own["rules"], definitions.own["column_rules"]
    of_values, of_columns = split_settings(settings, own_column_rules)
    reviews = [
        review
        for unit in units
        if unit.cause_reviews
        for review in read_cause_reviews(unit.cause_reviews, unit.id)
    ]
    contract = definitions.contract
    refuse_taken(own_rules, own_column_rules)
    verdict = judge(connection, of_values, answers=answers, contract=contract, own=own_rules)
    apply_cause_reviews(connection, reviews)
    lines = [line for unit in units for line in read_worklists(filled_files(unit), unit.id)]
    apply_worklists(connection, lines)
    fill_completeness(connection, contract)
    starts = policy_starts(units, definitions.measures)
    judge_columns(connection, verdict, of_columns, starts, contract=contract, own=own_column_rules)


def _log(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Write the load log of a file, or of each that is read with it; what is kept is counted."""
    found = connection.execute(
        f"""
        with rejected as (
            select {raw.part_of("source_line")} as part, count(*) as n
            from raw.rejected where file_index = {raw.index} group by part
        ),
        kept as (
            select {raw.part_of("file.source_line")} as part, count(*) as n
            from {raw.table} as file
            anti join raw.rejected as rejected
                on rejected.file_index = {raw.index} and rejected.source_line = file.source_line
            group by part
        )
        select part, coalesce(kept.n, 0), coalesce(rejected.n, 0)
        from kept full join rejected using (part)
        """
    ).fetchall()
    counts = {int(part): (int(kept), int(rejected)) for part, kept, rejected in found}
    rows = []
    for at, part in enumerate(raw.every_part):
        kept, rejected = counts.get(at, (0, 0))
        if part.rows_in != kept + rejected:
            raise AssertionError(
                f"{part.name}: {part.rows_in} rows in, {kept} kept, {rejected} rejected"
            )
        note = " ".join(f"{note.rstrip('.')}." for note in part.notes) or None
        rows.append(
            (raw.unit.id, part.name, part.content_hash, part.rows_in, kept, rejected, _now(), note)
        )
    insert_rows(connection, "typed.load_log", rows)


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC).replace(tzinfo=None, microsecond=0)


def _run_stage(
    connection: duckdb.DuckDBPyConnection, stage: str, names: Sequence[str], progress: Progress
) -> None:
    connection.execute(f"create schema {stage}")
    for name in names:
        progress(f"{stage}: one row per {name}")
        connection.execute(fixed_sql(f"stages/{stage}/{name}"))


def _build_info(units: Sequence[Unit]) -> dict[str, str]:
    rules = ROOMS.parent / "expectations"
    own = {kind: [path for unit in units for path in own_files(unit.path, kind)] for kind in KINDS}
    own_rules = [*own["rules"], *own["column_rules"]]
    return {
        "store_version": STORE_VERSION,
        "software_version": version("lanugo"),
        "built_at": _now().isoformat(sep=" ") + " UTC",
        "contract_hash": with_own_files(folder_hash(CONTRACT_DIR.glob("*.toml")), own["contract"]),
        "measures_hash": with_own_files(folder_hash(MEASURES_DIR.rglob("*.sql")), own["measures"]),
        "rules_hash": with_own_files(folder_hash(rules.glob("*rules/*.sql")), own_rules),
    }


def _summary(
    connection: duckdb.DuckDBPyConnection,
    store: Path,
    units: Sequence[Unit],
    definitions: Definitions,
) -> BuildSummary:
    files = connection.execute("select * from load_log order by unit, source_file").df()
    flags = connection.execute(
        "select unit, severity, count(*) as flags from flag group by all order by all"
    ).df()
    verdict = connection.execute("select * from judged.verdict order by all").df()
    not_judged = verdict.loc[verdict["could_not_be_judged"].notna(), "rule_id"].tolist()
    row = connection.execute("select count(*) from newborn").fetchone()
    names = {unit.id: unit.file_name for unit in units}
    doubts = unit_doubts(connection, names, definitions.contract)
    silent = not_in_export(connection, names)
    newborns, measures = int(row[0]) if row else 0, len(definitions.measures)
    rejected = connection.execute(
        "select file_name || ' line ' || file_line || ': ' || rejected from worklist_line "
        "where rejected is not null order by unit, file_name, file_line"
    ).fetchall()
    told = [str(row[0]) for row in rejected]
    return BuildSummary(
        store, files, flags, verdict, newborns, measures, not_judged, doubts, told, silent
    )

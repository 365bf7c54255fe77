"""Unit files: which export file and column is what, and the unit's own policy.

A unit's file renames, recodes and sets numbers. It never redefines a measure and holds
no SQL. Everything it says is checked against the contract when it is read.
"""

import datetime as dt
import re
import zoneinfo
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pipelines.base.errors import DeclarationError, nearest
from pipelines.definitions.fhir_lines import FORMS, Fhir, fhir_files, read_fhir
from pipelines.definitions.identifier_lines import NOTHING, Identifiers, read_identifiers
from pipelines.definitions.own_contract import with_own_columns
from pipelines.definitions.read_contract import Contract, read_contract
from pipelines.definitions.shape_lines import DEFAULTS, read_shape_lines
from pipelines.definitions.signal_lines import SignalLine, read_signal_lines
from pipelines.definitions.spec_checks import as_date, need, read_toml, refuse_unknown
from pipelines.definitions.unit_readings import Context, Locale, read_locale
from pipelines.definitions.unit_shape import check_shape
from pipelines.definitions.unit_takes import ExportFile, read_file
from pipelines.definitions.unit_times import checked_forms

UNITS_DIR = Path(__file__).parent / "units"
UNIT_ID = re.compile(r"[a-z][a-z0-9_]*")
DEFAULT_FORMATS = ("%Y-%m-%d %H:%M", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S")


@dataclass(frozen=True)
class Policy:
    """Numbers the unit sets for one measure, from a birth date on."""

    measure: str
    start: dt.date
    numbers: Mapping[str, float | bool | str]


@dataclass(frozen=True)
class Change:
    """A change in how the unit works, in its log."""

    id: str
    start: dt.date
    title: str
    measures: tuple[str, ...] = ()
    balancing: tuple[str, ...] = ()
    process: tuple[str, ...] = ()  # measures, or columns of newborns: was it carried out


@dataclass(frozen=True)
class Unit:
    """Everything one unit file says."""

    id: str
    title: str
    time_form: str
    zone: str | None
    formats: tuple[str, ...]
    keep_birth_date: bool
    files: tuple[ExportFile, ...]
    recodes: Mapping[str, Mapping[str, Mapping[str, str]]]
    policies: tuple[Policy, ...]
    changes: tuple[Change, ...]
    # The life of signals; see ``signal_lines``.
    signals: tuple[SignalLine, ...] = ()
    ignored: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    # {"off": [check ids], "numbers": {rule id: {parameter: value}}}; checked where judging begins.
    checks: Mapping[str, Any] = field(default_factory=dict)
    # {"approved_by": role, "approved_on": date, "tiers": {finding: tier}}; checked by ``tiers``.
    findings: Mapping[str, Any] = field(default_factory=dict)
    # Approval and overrides of gravities; checked by ``unit_gravity``.
    gravity: Mapping[str, Any] = field(default_factory=dict)
    # The measures that the first table of a review shows; checked by ``leading``.
    leading: object = None
    # How to find a chart, and the worklists that came back; checked by ``worklist``.
    worklist: Mapping[str, Any] = field(default_factory=dict)
    # File of answers to flags, beside the unit file.
    answers: Path | None = None
    # File of cause reviews of cold arrivals, beside the unit file.
    cause_reviews: Path | None = None
    # Which columns may be kept though they look identifying; the key of record keys.
    identifiers: Identifiers = NOTHING
    # Where the exports are HL7 FHIR bulk NDJSON: which resources, and what their codes say.
    fhir: Fhir | None = None
    # Kind of change of form between deliveries -> "stop" or "go_on".
    shape: Mapping[str, str] = field(default_factory=lambda: DEFAULTS)
    path: Path | None = None
    # The contract with the unit's own columns and kinds.
    contract: Contract = field(default_factory=read_contract)

    @property
    def file_name(self) -> str:
        """How messages name the unit's file; its id where it was made without one."""
        return self.path.name if self.path else self.id


_UNIT_KEYS = {
    "id",
    "title",
    "time",
    "locale",
    "files",
    "fhir",
    "recodes",
    "policy",
    "changes",
    "signals",
    "ignored",
    "checks",
    "findings",
    "gravity",
    "leading",
    "worklist",
    "answers",
    "cause_reviews",
    "identifiers",
    "shape",
}
_TIME_KEYS = {"form", "zone", "formats", "keep_birth_date"}
_CHANGE_KEYS = {"id", "from", "title", "measures", "balancing", "process"}
EARLIEST = dt.date(1, 1, 1)


def _recodes(spec: Mapping[str, Any]) -> dict[str, dict[str, dict[str, str]]]:
    """Normalise: recode name -> local text -> {canonical column or '' : canonical value}.

    '' stands for the column that names the recode list.
    """
    return {
        name: {
            local: dict(target) if isinstance(target, dict) else {"": str(target)}
            for local, target in table.items()
        }
        for name, table in spec.items()
    }


def _check_recodes(
    where: str, files: tuple[ExportFile, ...], recodes: Mapping[str, Any], contract: Contract
) -> None:
    for file in files:
        for take in file.takes:
            table = contract[take.table]
            for name, source in take.sources.items():
                for local, targets in recodes.get(source.recode or "", {}).items():
                    for target, value in targets.items():
                        column = table.columns.get(target or name)
                        spot = f"{where} [recodes.{source.recode}] '{local}'"
                        if column is None:
                            raise DeclarationError(
                                f"{spot}: table '{table.name}' has no column '{target}'."
                                f"{nearest(target, table.columns)}"
                            )
                        if not value:
                            raise DeclarationError(
                                f"{spot}: no meaning is given yet; write what it means for "
                                f"{column.name}, or take the word out."
                            )
                        if column.type == "code" and value not in column.allowed:
                            raise DeclarationError(
                                f"{spot}: '{value}' is not allowed for {column.name}."
                                f"{nearest(value, column.allowed)}"
                            )


def _policy(where: str, spec: Mapping[str, Any]) -> Policy:
    need(where, spec, "measure")
    start = as_date(f"{where} from", spec["from"]) if "from" in spec else EARLIEST
    numbers = {key: value for key, value in spec.items() if key not in {"measure", "from"}}
    return Policy(spec["measure"], start, numbers)


def _change(where: str, spec: Mapping[str, Any]) -> Change:
    refuse_unknown(where, spec, _CHANGE_KEYS)
    need(where, spec, "id", "from", "title")
    return Change(
        spec["id"],
        as_date(f"{where} from", spec["from"]),
        spec["title"],
        tuple(spec.get("measures", ())),
        tuple(spec.get("balancing", ())),
        tuple(spec.get("process", ())),
    )


def _check_time(where: str, time: Mapping[str, Any]) -> None:
    refuse_unknown(f"{where} [time]", time, _TIME_KEYS)
    need(f"{where} [time]", time, "form")
    if time["form"] not in {"clock", "minutes"}:
        raise DeclarationError(
            f"{where} [time]: form '{time['form']}' is not known."
            f"{nearest(time['form'], ['clock', 'minutes'])}"
        )
    if time["form"] == "minutes":
        if time.get("keep_birth_date"):
            raise DeclarationError(
                f"{where} [time]: an export in minutes carries no dates; take keep_birth_date out."
            )
        return
    zone = time.get("zone")
    if zone not in zoneinfo.available_timezones():
        raise DeclarationError(
            f"{where} [time]: zone '{zone}' is not in the time zone database; "
            "write it as Area/City."
        )


def _check_whole_months(where: str, unit_form: str, keep: bool, dates: list[dt.date]) -> None:
    """Where only the birth month is kept, a policy can only change with the month."""
    if unit_form == "clock" and keep:
        return
    for date in dates:
        if date.day != 1:
            raise DeclarationError(
                f"{where}: {date} is not the first of a month, and this unit keeps no birth "
                f"dates; write {date.replace(day=1)} or the first of the next month."
            )


def read_unit(path: Path) -> Unit:
    """Read and check one unit file.

    Raises DeclarationError naming the file and the key where something cannot be meant.
    """
    where = path.name
    if not path.is_file():
        raise DeclarationError(
            f"{path}: there is no such unit file. Shipped units: {', '.join(shipped_units())}."
        )
    spec = read_toml(where, path)
    refuse_unknown(where, spec, _UNIT_KEYS)
    check_shape(where, spec)
    need(where, spec, "id", "title", "time", *(() if "fhir" in spec else ("files",)))
    if not UNIT_ID.fullmatch(spec["id"]):
        raise DeclarationError(
            f"{where}: id '{spec['id']}' must be lower-case letters, digits, underscores."
        )
    time = spec["time"]
    _check_time(where, time)
    recodes = _recodes(spec.get("recodes", {}))
    contract = with_own_columns(path)
    formats = checked_forms(f"{where} [time]", time.get("formats", DEFAULT_FORMATS))
    locale = read_locale(f"{where} [locale]", spec.get("locale", {}))
    context = Context(recodes, contract, locale, time["form"] == "clock", formats)
    files = tuple(
        read_file(f"{where} files[{place}]", file, context)
        for place, file in enumerate(spec.get("files", ()), start=1)
    )
    fhir = None
    if "fhir" in spec:
        fhir = read_fhir(f"{where} [fhir]", spec["fhir"], path.parent, contract)
        files += _files_of_fhir(where, fhir, context)
    if not any(take.table == "admission" for file in files for take in file.takes):
        raise DeclarationError(f"{where}: no file is taken as 'admission'; one is needed.")
    _check_recodes(where, files, recodes, contract)
    policies = tuple(
        _policy(f"{where} policy[{place}]", policy)
        for place, policy in enumerate(spec.get("policy", ()), start=1)
    )
    changes = tuple(
        _change(f"{where} changes[{place}]", change)
        for place, change in enumerate(spec.get("changes", ()), start=1)
    )
    keep = bool(time.get("keep_birth_date", False))
    dates = [policy.start for policy in policies if policy.start != EARLIEST]
    _check_whole_months(where, time["form"], keep, dates)
    return Unit(
        id=spec["id"],
        title=spec["title"],
        time_form=time["form"],
        zone=time.get("zone"),
        formats=formats,
        keep_birth_date=keep,
        files=files,
        recodes=recodes,
        policies=policies,
        changes=changes,
        signals=read_signal_lines(where, spec.get("signals", ())),
        ignored={name: tuple(items) for name, items in spec.get("ignored", {}).items()},
        checks=spec.get("checks", {}),
        findings=spec.get("findings", {}),
        gravity=spec.get("gravity", {}),
        leading=spec.get("leading"),
        worklist=spec.get("worklist", {}),
        answers=path.parent / spec["answers"] if "answers" in spec else None,
        cause_reviews=path.parent / spec["cause_reviews"] if "cause_reviews" in spec else None,
        identifiers=read_identifiers(path, spec.get("identifiers", {})),
        fhir=fhir,
        shape=read_shape_lines(where, spec.get("shape", {})),
        path=path,
        contract=contract,
    )


def _files_of_fhir(where: str, fhir: Fhir, context: Context) -> tuple[ExportFile, ...]:
    if not context.is_clock:
        raise DeclarationError(
            f'{where} [time]: FHIR has instants, no minutes after birth; write form = "clock".'
        )
    # Times and numbers of FHIR have one form, whatever the unit's other files have.
    own = replace(context, formats=FORMS, locale=Locale())
    return tuple(
        read_file(f"{where} [fhir] {file['pattern']}", file, own)
        for file in fhir_files(fhir, context.contract)
    )


def shipped_units() -> list[str]:
    """Return the ids of the units that ship with the project."""
    return sorted(path.stem for path in UNITS_DIR.glob("*.toml"))


def find_unit(name_or_path: str) -> Unit:
    """Read a shipped unit by its id, or any unit file by its path."""
    shipped = UNITS_DIR / f"{name_or_path}.toml"
    return read_unit(shipped if shipped.is_file() else Path(name_or_path))

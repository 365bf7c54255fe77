"""The released figures as HL7 FHIR R4 MeasureReport and Measure resources, for other systems.

Only summaries, never a report that points to a newborn. A masked count has no ``count`` but the
data-absent-reason ``masked`` (HL7 FHIR R4, extension data-absent-reason), and no measureScore.
Here ``denominator`` is what the score is made of: exclusions and exceptions are already out.
"""

from typing import Any, Final

import pandas as pd

from pipelines.base.frames import rows_of
from pipelines.release.frames import DescribedRow, ReportRow
from pipelines.release.made import Release

_POPULATIONS: Final = "http://terminology.hl7.org/CodeSystem/measure-population"
_SCORING: Final = "http://terminology.hl7.org/CodeSystem/measure-scoring"
_NOTATION: Final = "http://terminology.hl7.org/CodeSystem/measure-improvement-notation"
_ABSENT: Final = "http://hl7.org/fhir/StructureDefinition/data-absent-reason"
# A name of our own; a measure file has no web address.
_MEASURE: Final = "urn:lanugo:measure:"
_BETTER: Final = {"higher": "increase", "lower": "decrease"}
# FHIR population -> the released count.
_COUNTS: Final = {"initial-population": "initial_population", "denominator": "counted"}


def _code(system: str, code: str) -> dict[str, Any]:
    return {"coding": [{"system": system, "code": code}]}


def _population(code: str, count: int | None) -> dict[str, Any]:
    masked = {"_count": {"extension": [{"url": _ABSENT, "valueCode": "masked"}]}}
    told = masked if count is None else {"count": int(count)}
    return {"code": _code(_POPULATIONS, code), **told}


def _group(row: ReportRow) -> dict[str, Any]:
    numbers = {
        "initial_population": row["initial_population"],
        "counted": row["counted"],
        "numerator": row["numerator"],
    }
    counted = {**_COUNTS, "numerator": "numerator"}
    told = {code: numbers[name] for code, name in counted.items() if name in row["told"]}
    score = {} if row["rate"] is None else {"measureScore": {"value": round(row["rate"], 6)}}
    populations = [_population(code, count) for code, count in told.items()]
    return {"population": populations, **score}


def _report(row: ReportRow, released_at: str) -> dict[str, Any]:
    better = _BETTER.get(str(row["direction"]))
    notation = {"improvementNotation": _code(_NOTATION, better)} if better else {}
    start, end = row["period_start"], row["period_end"]
    return {
        "resourceType": "MeasureReport",
        "id": f"{row['measure_id']}-{row['period_kind']}-{start:%Y-%m}".replace("_", "-")[:64],
        "status": "complete",
        "type": "summary",
        "measure": f"{_MEASURE}{row['measure_id']}|{row['version']}",
        "date": released_at,
        "reporter": {"display": row["unit"]},
        "period": {"start": f"{start:%Y-%m-%d}", "end": f"{end:%Y-%m-%d}"},
        **notation,
        "group": [_group(row)],
    }


def _rows(release: Release) -> list[ReportRow]:
    """Return the released rows of all newborns with what their measure is.

    ``told``: the counts that rows of this grain tell; a masked one among them is null.
    """
    rows = release.frames["results"]
    facts = release.frames["measures"][["measure_id", "direction", "version", "kind"]]
    rows = rows.merge(facts, on="measure_id")
    rows = rows[rows["kind"] != "minutes"].assign(unit=release.unit)
    rows["counted"] = rows["numerator"] + rows["not_in_numerator"]  # null where either is masked
    has_detail = rows.groupby(["measure_id", "period_kind"])["initial_population"].transform("any")
    always = ["numerator", "counted"]
    rows["told"] = [[*always, "initial_population"] if more else always for more in has_detail]
    return rows_of(rows, ReportRow)


def measure_reports(release: Release, released_at: str) -> dict[str, Any]:
    """Return a FHIR R4 Bundle (collection) of one MeasureReport per measure and period.

    ``released_at``: "2026-04-03 10:15 UTC". Groups of newborns stay in strata.csv.
    """
    moment = _moment(released_at)
    entries = [{"resource": _report(row, moment)} for row in _rows(release)]
    return {"resourceType": "Bundle", "type": "collection", "entry": entries}


def measures(release: Release, released_at: str) -> dict[str, Any]:
    """Return a FHIR R4 Bundle (collection) of one Measure for each that the reports point to.

    Populations are said in words; how they are counted stands in the measure's own file.
    """
    moment = _moment(released_at)
    reported = {row["measure_id"] for row in _rows(release)}
    told = rows_of(release.frames["measures"], DescribedRow)
    entries = [{"resource": _measure(row, moment)} for row in told if row["measure_id"] in reported]
    return {"resourceType": "Bundle", "type": "collection", "entry": entries}


def _moment(released_at: str) -> str:
    return pd.Timestamp(released_at.removesuffix(" UTC"), tz="UTC").isoformat()


def _measure(row: DescribedRow, moment: str) -> dict[str, Any]:
    better = _BETTER.get(str(row["direction"]))
    notation = {"improvementNotation": _code(_NOTATION, better)} if better else {}
    plain = {
        "description": row["question"],
        "purpose": row["sources"],
        "clinicalRecommendationStatement": row["caution"],
    }
    criteria = {
        "initial-population": row["population"],
        "denominator": row["exclusions"] and f"without: {row['exclusions']}",
        "numerator": row["numerator_words"],
    }
    return {
        "resourceType": "Measure",
        "id": row["measure_id"].replace("_", "-")[:64],
        "url": f"{_MEASURE}{row['measure_id']}",
        "version": row["version"],
        "title": row["title"],
        "status": "active",
        "date": moment,
        "scoring": _code(_SCORING, "proportion"),
        **{key: words for key, words in plain.items() if words},
        **notation,
        "group": [{"population": [_criterion(*one) for one in criteria.items()]}],
    }


def _criterion(code: str, words: str | None) -> dict[str, Any]:
    """Return a population of a Measure; what counts into it is said in words, not in a language."""
    said = {"language": "text/plain", "expression": words or "see the measure's own file"}
    return {"code": _code(_POPULATIONS, code), "criteria": said}

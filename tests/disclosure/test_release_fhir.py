"""The FHIR reports: valid R4, equal to the table, and silent about what is masked.

Validity is judged by the general library fhir.resources (release R4B, whose MeasureReport is
that of R4), an independent reading of the HL7 definitions.
"""

import csv
import json
from pathlib import Path
from typing import Any

import pytest
from fhir.resources.R4B.bundle import Bundle
from frictionless import Package

from pipelines.release.masking import THRESHOLD, hidden_words
from pipelines.release.prepare import prepare_release
from pipelines.release.write import write_release
from tests.disclosure.conftest import UNIT, Loads


@pytest.fixture(scope="module")
def folder(loads: Loads, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("fhir") / "release"
    write_release(prepare_release(loads.now, UNIT), out)
    return out


@pytest.fixture(scope="module")
def reports(folder: Path) -> list[dict[str, Any]]:
    bundle = json.loads((folder / "measure_reports.json").read_text(encoding="utf-8"))
    return [entry["resource"] for entry in bundle["entry"]]


def test_an_independent_reader_of_fhir_accepts_it(folder: Path) -> None:
    text = (folder / "measure_reports.json").read_text(encoding="utf-8")
    bundle = Bundle.model_validate_json(text)
    assert len(bundle.entry) > 100
    assert {one.resource.type for one in bundle.entry} == {"summary"}  # never a single newborn
    spoiled = text.replace('"complete"', '"done"', 1).replace('"summary"', "5", 1)
    with pytest.raises(ValueError, match="type"):
        Bundle.model_validate_json(spoiled)


def counts(report: dict[str, Any]) -> dict[str, int | None]:
    return {
        one["code"]["coding"][0]["code"]: one.get("count")
        for one in report["group"][0]["population"]
    }


def test_counts_and_scores_come_back_as_the_table_has_them(
    folder: Path, reports: list[dict[str, Any]]
) -> None:
    with (folder / "results.csv").open(newline="", encoding="utf-8") as stream:
        table = {
            (row["measure_id"], row["period_start"], row["period_end"], row["period_kind"]): row
            for row in csv.DictReader(stream)
        }
    hidden = 0
    for report in reports:
        name = report["measure"].removeprefix("urn:lanugo:measure:").split("|")[0]
        kind = next(kind for kind in ("month", "quarter", "all") if f"-{kind}-" in report["id"])
        row = table[name, report["period"]["start"], report["period"]["end"], kind]
        found, group = counts(report), report["group"][0]
        if row["is_hidden"] == "True":
            hidden += 1
            assert "measureScore" not in group
            assert found["denominator"] is None
            assert "masked" in json.dumps(group["population"])
        else:
            assert found["numerator"] == int(row["numerator"])
            assert found["denominator"] == found["numerator"] + int(row["not_in_numerator"])
        if "measureScore" in group:
            assert group["measureScore"]["value"] == pytest.approx(float(row["rate"]), abs=1e-4)
    assert hidden > 10


def test_no_small_count_is_in_a_report(reports: list[dict[str, Any]]) -> None:
    told = [count for report in reports for count in counts(report).values() if count is not None]
    assert len(told) > 200
    assert not [count for count in told if 1 <= count < 11]


def test_every_report_points_to_a_measure_that_is_there(
    folder: Path, reports: list[dict[str, Any]]
) -> None:
    text = (folder / "measures.json").read_text(encoding="utf-8")
    Bundle.model_validate_json(text)
    measures = [entry["resource"] for entry in json.loads(text)["entry"]]
    pointed = {f"{one['url']}|{one['version']}" for one in measures}
    assert pointed == {report["measure"] for report in reports}
    vitamin = next(one for one in measures if one["url"].endswith(":vitamin_k"))
    assert vitamin["improvementNotation"]["coding"][0]["code"] == "increase"
    words = {
        one["code"]["coding"][0]["code"]: one["criteria"]["expression"]
        for one in vitamin["group"][0]["population"]
    }
    assert {*words} == {"initial-population", "denominator", "numerator"}
    with (folder / "measures.csv").open(newline="", encoding="utf-8") as stream:
        row = next(one for one in csv.DictReader(stream) if one["measure_id"] == "vitamin_k")
    assert words["numerator"] == row["numerator_words"]
    with pytest.raises(ValueError, match="scoring"):
        Bundle.model_validate_json(text.replace('"scoring": {', '"scoring": 5, "x": {', 1))


def test_the_tables_are_a_valid_package(folder: Path) -> None:
    """Data Package 2.0, by frictionless: every cell is of its column's type or a declared word."""
    told = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    assert list(Package.metadata_validate(told)) == []
    report = Package.from_descriptor(told, basepath=str(folder)).validate()
    assert report.valid, report.flatten(["rowNumber", "fieldName", "message"])[:5]
    assert [one["name"] for one in told["resources"]] == ["results", "strata", "measures"]
    by_name = {one["name"]: one["schema"] for one in told["resources"]}
    kinds = {field["name"]: field["type"] for field in by_name["results"]["fields"]}
    assert (kinds["numerator"], kinds["rate"], kinds["period_start"]) == (
        "integer", "number", "date",
    )  # fmt: skip
    assert hidden_words(THRESHOLD) in by_name["results"]["missingValues"]
    for schema in by_name.values():
        assert all(len(field["description"]) > 2 for field in schema["fields"])
    told["resources"][0]["schema"]["missingValues"] = [""]
    assert not Package.from_descriptor(told, basepath=str(folder)).validate().valid

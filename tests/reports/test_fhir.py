"""The FHIR Bundle: valid by the published R4 schema, amounts with their digits, no code that is not sure."""

import json
import lzma
from collections.abc import Iterator
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft6Validator

from app.records.canonical import canonical
from app.records.exported import Ended
from app.records.kept_rows import EndedRow
from app.records.kind import End
from app.records.kinds import KINDS
from app.records.state import Phase
from app.reports import fhir
from app.workflow import export_apart
from app.workflow.export_jobs import Job
from app.workflow.exporting import Span, Wanted, ask_for_export
from tests.reports import told
from tests.storage import row_builders as flat
from tests.story.people import QUILL, RUTH
from tests.story.ward import DIFFERING, Ward

SCHEMA = Path(__file__).with_name("fhir") / "fhir.schema.json.xz"
# One record of each kind of check.
RECORDS = Path(__file__).parents[1] / "samples" / "released" / "1.0.0" / "records"


@cache
def published() -> dict[str, Any]:
    schema: dict[str, Any] = json.loads(lzma.decompress(SCHEMA.read_bytes()))
    return schema


@cache
def validator(kind: str) -> Draft6Validator:
    """Of one kind of resource; each names its own definition, which the whole schema tries one by one."""
    return Draft6Validator({"$ref": f"#/definitions/{kind}", "definitions": published()["definitions"]})


def faults(bundle: dict[str, Any]) -> list[str]:
    resources = [each["resource"] for each in bundle["entry"]]
    shell = {
        **bundle,
        "entry": [
            {**each, "resource": {"resourceType": "Basic", "code": {}}} for each in bundle["entry"][:1]
        ],
    }
    found = [*validator("Bundle").iter_errors(shell)]
    for each in resources:
        found += validator(each["resourceType"]).iter_errors(each)
    return [f"{list(each.absolute_path)}: {each.message[:200]}" for each in found]


@pytest.fixture(autouse=True)
def _made_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(export_apart, "start", export_apart.make_here)


def exported(ward: Ward, *, deidentified: bool = False) -> str:
    wanted = Wanted(
        span=Span(first=date(2031, 4, 1), last=date(2031, 5, 9)), form="fhir", deidentified=deidentified
    )
    job = ask_for_export(ward.site, ward.act(QUILL), QUILL.roles, wanted)
    assert isinstance(job, Job)
    file = job.find_file()
    assert file is not None
    return file.read_text(encoding="utf-8")


def of_kind(bundle: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    return [each["resource"] for each in bundle["entry"] if each["resource"]["resourceType"] == kind]


@pytest.mark.parametrize("deidentified", [False, True])
def test_whatever_was_lived_through_is_valid_by_the_published_schema(
    one_ward: Ward, *, deidentified: bool
) -> None:
    one_ward.at_stage(Phase.STARTED).stops(RUTH)
    one_ward.at_stage(Phase.DONE)
    one_ward.at_stage(Phase.LED)
    one_ward.at_stage(Phase.ABANDONED)
    bundle = json.loads(exported(one_ward, deidentified=deidentified))

    assert (bundle["resourceType"], bundle["type"]) == ("Bundle", "collection")
    kinds = {each["resource"]["resourceType"] for each in bundle["entry"]}
    assert kinds == {"MedicationRequest", "MedicationAdministration", "Device", "DetectedIssue", "Provenance"}
    assert faults(bundle) == []
    names = {each["fullUrl"] for each in bundle["entry"]}
    assert len(names) == len(bundle["entry"])
    assert set(references(bundle)) <= names


def references(of: Any) -> Iterator[str]:  # noqa: ANN401  # any JSON
    if isinstance(of, dict):
        yield from (of["reference"],) if "reference" in of else ()
        of = list(of.values())
    for each in of if isinstance(of, list) else ():
        yield from references(each)


def test_an_empty_bundle_is_valid_too(one_ward: Ward) -> None:
    bundle = json.loads(exported(one_ward))

    assert bundle["entry"] == []


def test_a_schema_that_refuses_nothing_would_be_found(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)
    bundle = json.loads(exported(one_ward))
    of_kind(bundle, "MedicationRequest")[0]["status"] = 7
    del of_kind(bundle, "MedicationAdministration")[0]["resourceType"]
    bundle["type"] = ["collection"]

    assert len(faults({**bundle, "entry": bundle["entry"][:2]})) >= 2


def ended(row: EndedRow, record: dict[str, Any]) -> Ended:
    return Ended(
        row=row,
        findings=(flat.finding(),),
        settled=(flat.settled(),),
        record=canonical(record),
        followed=b"",
        followed_digest="",
    )


def made(record: dict[str, Any], **row: object) -> tuple[str, dict[str, Any]]:
    each = ended(flat.ended(**row), record)
    text = b"".join(fhir.bundle([each], [], at=datetime.fromisoformat("2031-05-02T12:00:00+00:00"))).decode()
    return text, json.loads(text)


def record_of(**changed: object) -> dict[str, Any]:
    record = told.clean()
    for entry in record["rounds"][-1]["case"]["entries"]:
        entry["order"] |= changed
        entry["device"] |= changed
    return record


@pytest.mark.parametrize("file", sorted(RECORDS.iterdir()), ids=lambda each: each.stem)
def test_a_check_of_each_kind_is_valid_by_the_published_schema(file: Path) -> None:
    end = KINDS[file.stem].end
    _, bundle = made(json.loads(file.read_bytes()), how="done" if end is End.DONE else "started")

    assert len(of_kind(bundle, "Device")) == 1
    assert faults(bundle) == []


def test_amounts_stand_as_numbers_with_their_digits_and_the_units_of_ucum() -> None:
    text, bundle = made(
        record_of(
            demand_dose="0.20 mcg", continuous_rate="1.50 mcg/h", limit={"amount": "100 mcg", "window": "4 h"}
        )
    )

    assert '"value":0.20,"unit":"ug"' in text
    assert '"value":1.50,"unit":"ug/h"' in text
    assert "mcg" not in text
    (request,) = of_kind(bundle, "MedicationRequest")
    (dosage,) = request["dosageInstruction"]
    assert dosage["maxDosePerPeriod"]["numerator"] == {
        "value": 100,
        "unit": "ug",
        "system": "http://unitsofmeasure.org",
        "code": "ug",
    }
    assert dosage["maxDosePerPeriod"]["denominator"]["code"] == "h"
    assert dosage["asNeededBoolean"] is True
    assert faults(bundle) == []


@pytest.mark.parametrize("number", [1, 2, 3])
def test_however_many_limits_there_are_each_stands_once_in_the_order_and_on_the_device(number: int) -> None:
    limits = [{"amount": f"{2 * each} mg", "window": f"{4 * each} h"} for each in range(1, number + 1)]
    _, bundle = made(record_of(lockout="8 min", limit=limits if number > 1 else limits[0]))
    (request,), (device,) = (of_kind(bundle, kind) for kind in ("MedicationRequest", "Device"))
    (dosage,) = request["dosageInstruction"]
    most = dosage["maxDosePerPeriod"]
    settings = {each["type"]["text"]: each["valueQuantity"] for each in device["property"]}

    assert (most["numerator"]["value"], most["denominator"]["value"]) == (2, 4)
    others = ["limit 4 mg in 8 h", "limit 6 mg in 12 h"][: number - 1]
    assert dosage["text"] == ", ".join(["lockout 8 min", *others])
    names = ["limit", "limit_window", "limit_2", "limit_2_window", "limit_3", "limit_3_window"][: 2 * number]
    assert [name for name in settings if name.startswith("limit")] == names
    assert [settings[name][0]["value"] for name in names] == [2, 4, 4, 8, 6, 12][: 2 * number]
    assert faults(bundle) == []


@pytest.mark.parametrize("text", ["", "1,5 mg", "007 mg", "1e3 mg", "5", "5 drops", "-1 mg"])
def test_what_is_no_amount_is_no_quantity(text: str) -> None:
    _, bundle = made(record_of(demand_dose=text))
    (request,) = of_kind(bundle, "MedicationRequest")

    assert [
        each
        for each in request["dosageInstruction"][0].get("doseAndRate", [])
        if each["type"]["text"] == "on demand"
    ] == []
    assert faults(bundle) == []


@pytest.mark.parametrize(
    ("drug", "codes"),
    [
        ("morphine", ["373529000", "7052"]),
        ("fentaNYL", ["373492002"]),
        ("HYDROmorphone", []),
        ("SUFentanil", []),
    ],
)
def test_a_drug_has_a_code_only_where_it_is_sure(drug: str, codes: list[str]) -> None:
    _, bundle = made(record_of(drug=drug), drug=drug)
    for kind in ("MedicationRequest", "MedicationAdministration"):
        (each,) = of_kind(bundle, kind)
        assert each["medicationCodeableConcept"]["text"] == drug
        assert [one["code"] for one in each["medicationCodeableConcept"].get("coding", [])] == codes


def test_a_finding_stands_with_its_severity_and_how_it_came_to_rest() -> None:
    _, bundle = made(record_of())
    (issue,) = of_kind(bundle, "DetectedIssue")

    assert (issue["severity"], issue["code"]["text"], issue["detail"]) == (
        "high",
        "readings-differ",
        "demand_dose",
    )
    assert issue["mitigation"][0]["action"]["text"] == "read again"


def test_of_a_check_that_no_two_signed_there_are_findings_alone(one_ward: Ward) -> None:
    one_ward.opens().joins().both_read(DIFFERING).compares().abandons()
    bundle = json.loads(exported(one_ward))

    assert {each["resource"]["resourceType"] for each in bundle["entry"]} == {"DetectedIssue", "Provenance"}

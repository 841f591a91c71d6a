"""Ended checks as one HL7 FHIR R4 Bundle (4.0.1, type collection), streaming: one check in memory at a time.

Units are those of UCUM, amounts stand with the digits that were read, and a code stands only where it is
sure: what a drug, a finding or a status is called otherwise is text.
"""

import hashlib
import json
import re
import uuid
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from typing import Any

import orjson

from app.records.exported import Ended
from app.records.order_dosage import limits_of
from app.reports.deidentified import Deidentifier
from app.reports.differences import last_compared
from app.reports.ended_lines import Outside, bare_document

Resource = dict[str, Any]

_UCUM = "http://unitsofmeasure.org"
_SNOMED, _RXNORM = "http://snomed.info/sct", "http://www.nlm.nih.gov/research/umls/rxnorm"
# The units of the trade as UCUM writes them: mcg is none of its units.
_UNITS = {
    "mg": "mg",
    "mcg": "ug",
    "mg/mL": "mg/mL",
    "mcg/mL": "ug/mL",
    "mg/h": "mg/h",
    "mcg/h": "ug/h",
    "mL": "mL",
    "mL/h": "mL/h",
    "min": "min",
    "h": "h",
}
# Of the drugs only these codes were read in more than one published source.
_DRUGS = {
    "morphine": ((_SNOMED, "373529000"), (_RXNORM, "7052")),
    "fentaNYL": ((_SNOMED, "373492002"),),
}
# A number as JSON writes one.
_NUMBER = re.compile(r"(?:0|[1-9][0-9]*)(?:\.[0-9]+)?")
_SEVERITY = {"stop": "high", "caution": "moderate", "note": "low"}
_SETTINGS = ("demand_dose", "lockout", "continuous_rate", "loading_dose", "volume")


def bundle(
    ended: Iterable[Ended], outside: Iterable[Outside], *, at: datetime, bared: Deidentifier | None = None
) -> Iterator[bytes]:
    """The whole Bundle, in pieces."""
    head = {"resourceType": "Bundle", "type": "collection"}
    if bared is None:
        head["timestamp"] = at.isoformat(timespec="seconds")
    yield orjson.dumps(head)[:-1] + b',"entry":['
    between = b"\n"
    for resources in _each(ended, outside, bared):
        for resource in resources:
            full = f"urn:uuid:{resource['id']}"
            yield between + orjson.dumps({"fullUrl": full, "resource": resource})
            between = b",\n"
    yield b"\n]}\n"


def _each(
    ended: Iterable[Ended], outside: Iterable[Outside], bared: Deidentifier | None
) -> Iterator[list[Resource]]:
    for each in ended:
        told = each.document()
        record = json.loads(each.record) if each.record else None
        yield _of_check(bare_document(told, bared) if bared else told, record, is_bared=bared is not None)
    for one in outside:
        document = one.document()
        yield [_of_outside(bare_document(document, bared) if bared else document)]


def _of_check(told: Mapping[str, Any], record: Mapping[str, Any] | None, *, is_bared: bool) -> list[Resource]:
    """What was ordered, set, started and found, and last who stands for it."""
    entry = _agreed(record)
    subject = _subject(told, entry, is_bared=is_bared)
    resources: list[Resource] = []
    if "device" in entry or told["device"]:
        resources.append(_device(told, entry.get("device", {}), is_bared=is_bared))
    if "order" in entry:
        resources.append(_request(told, entry["order"], subject))
    if told["how"] == "started" and told["drug"]:
        resources.append(_administration(told, resources, subject))
    resources += [_issue(told, each, subject) for each in told["findings"]]
    agents = _agents(told, None if is_bared else record)
    return [*resources, _provenance(told, resources, agents)] if resources else []


def _agreed(record: Mapping[str, Any] | None) -> Mapping[str, Any]:
    """What both read alike last: of a record that both signed, either's reading."""
    if record is None:
        return {}
    entries = last_compared(record)["case"]["entries"]
    return {name: read for entry in entries for name, read in entry.items()}


def _subject(told: Mapping[str, Any], entry: Mapping[str, Any], *, is_bared: bool) -> Resource:
    read = entry.get("patient", {}).get("identifier")
    if read and not is_bared:
        return {"type": "Patient", "identifier": {"value": read}}
    named = told.get("patient") or told["infusion"]
    return {"type": "Patient", "identifier": {"system": "urn:countersign:pseudonym", "value": named}}


def _device(told: Mapping[str, Any], read: Mapping[str, Any], *, is_bared: bool) -> Resource:
    """The infusion device as it was set, with its number, or what stands for that."""
    amounts = {name: read.get(name) for name in _SETTINGS}
    for number, limit in enumerate(limits_of(read), 1):
        named = "limit" if number == 1 else f"limit_{number}"
        amounts |= {named: limit.get("amount"), f"{named}_window": limit.get("window")}
    settings = [
        {"type": {"text": name}, "valueQuantity": [quantity]}
        for name, text in amounts.items()
        if text and (quantity := _quantity(text))
    ]
    made: Resource = {
        "resourceType": "Device",
        "id": _id(told, "device"),
        "type": {"text": "PCA infusion device"},
    }
    if named := told["device"]:
        of_it: Resource = {"identifier": [{"system": "urn:countersign:pseudonym", "value": named}]}
        made |= of_it if is_bared else {"serialNumber": named}
    return made | ({"property": settings} if settings else {})


def _request(told: Mapping[str, Any], order: Mapping[str, Any], subject: Resource) -> Resource:
    return {
        "resourceType": "MedicationRequest",
        "id": _id(told, "request"),
        # Whether it still stands is the prescriber's to say.
        "status": "unknown",
        "intent": "order",
        "medicationCodeableConcept": _drug(order["drug"]),
        "subject": subject,
        "dosageInstruction": [_dosage(order)],
    }


def _dosage(order: Mapping[str, Any]) -> Resource:
    """A dose on demand, and what runs beside it; R4 has an element for one limit, and for a lockout none."""
    limit, *others = limits_of(order) or ({},)
    amount, window = (_quantity(limit.get(name)) for name in ("amount", "window"))
    doses: list[Resource] = []
    if demand := _quantity(order.get("demand_dose")):
        doses.append({"type": {"text": "on demand"}, "doseQuantity": demand})
    if rate := _quantity(order.get("continuous_rate")):
        doses.append({"type": {"text": "continuous"}, "rateQuantity": rate})
    if loading := _quantity(order.get("loading_dose")):
        doses.append({"type": {"text": "loading dose"}, "doseQuantity": loading})
    made: Resource = {"asNeededBoolean": True, "route": {"text": "intravenous"}}
    said = [f"lockout {order['lockout']}"] if order.get("lockout") else []
    said += [f"limit {each['amount']} in {each['window']}" for each in others if each.get("amount")]
    if said:
        made["text"] = ", ".join(said)
    if doses:
        made["doseAndRate"] = doses
    if amount and window:
        made["maxDosePerPeriod"] = {"numerator": amount, "denominator": window}
    return made


def _administration(told: Mapping[str, Any], of: list[Resource], subject: Resource) -> Resource:
    made: Resource = {
        "resourceType": "MedicationAdministration",
        "id": _id(told, "administration"),
        # How it went on is not told by the check that it began with.
        "status": "unknown",
        "medicationCodeableConcept": _drug(told["drug"]),
        "subject": subject,
        "effectivePeriod": {"start": told["started_at"]},
    }
    for each in of:
        if each["resourceType"] == "MedicationRequest":
            made["request"] = _reference(each)
        elif each["resourceType"] == "Device":
            made["device"] = [_reference(each)]
    return made


def _issue(told: Mapping[str, Any], found: Mapping[str, Any], subject: Resource) -> Resource:
    made: Resource = {
        "resourceType": "DetectedIssue",
        "id": _id(told, f"issue {found['subject']} {found['round']} {found['number']}"),
        "status": "final",
        "code": {
            "coding": [{"system": "urn:countersign:finding", "code": found["code"]}],
            "text": found["code"],
        },
        "severity": _SEVERITY[found["severity"]],
        "patient": subject,
        "identifiedDateTime": found["compared_at"],
    }
    if found["field"]:
        made["detail"] = found["field"]
    if found.get("settled"):
        text = ", ".join(filter(None, (found["settled"], found["settled_outcome"])))
        settled: Resource = {"action": {"text": text}}
        made["mitigation"] = [settled | ({"date": found["settled_at"]} if found["settled_at"] else {})]
    return made


def _of_outside(told: Mapping[str, Any]) -> Resource:
    """A stop, a refused baseline or a start without a check."""
    made: Resource = {
        "resourceType": "DetectedIssue",
        "id": _id(told, f"{told['row']} {told['at']}"),
        "status": "final",
        "code": {"text": told["row"]},
        "identifiedDateTime": told["at"],
        "author": _person(told["by"], told.get("name_by", "")),
    }
    return made | ({"detail": told["why"]} if told.get("why") else {})


def _agents(told: Mapping[str, Any], record: Mapping[str, Any] | None) -> list[Resource]:
    names = {each["letter"]: each["printed_name"] for each in record["clinicians"]} if record else {}
    return [
        {"type": {"text": part}, "who": _person(named, names.get(letter, ""))}
        for letter, part, named in (
            ("A", "first nurse", told["pseudonym_a"]),
            ("B", "second nurse", told["pseudonym_b"]),
        )
        if named
    ]


def _person(pseudonym: str, name: str) -> Resource:
    identifier = {"system": "urn:countersign:pseudonym", "value": pseudonym}
    said: Resource = {"type": "Practitioner", "identifier": identifier}
    return said | ({"display": name} if name else {})


def _provenance(told: Mapping[str, Any], of: list[Resource], agents: list[Resource]) -> Resource:
    place = ", bed ".join(each for each in (told.get("unit"), told.get("bed")) if each)
    return {
        "resourceType": "Provenance",
        "id": _id(told, "provenance"),
        "target": [_reference(each) for each in of],
        "occurredPeriod": {"start": told["opened_at"], "end": told["ended_at"]},
        "recorded": told["ended_at"],
        "activity": {"text": f"two-person check: {told['kind']}, {told['how']}"},
        **({"location": {"type": "Location", "display": place}} if place else {}),
        "agent": agents,
        "entity": [{"role": "source", "what": {"identifier": {"value": told["check"]}}}],
    }


def _reference(to: Resource) -> Resource:
    return {"type": to["resourceType"], "reference": f"urn:uuid:{to['id']}"}


def _id(told: Mapping[str, Any], what: str) -> str:
    """An id that is the same whenever the check is exported."""
    digest = hashlib.sha256(f"{told['check'] or told['infusion']} {what}".encode()).hexdigest()
    return str(uuid.UUID(hex=digest[:32]))


def _drug(name: str) -> Resource:
    coding = [{"system": system, "code": code} for system, code in _DRUGS.get(name, ())]
    return {"text": name} | ({"coding": coding} if coding else {})


def _quantity(text: object) -> Resource | None:
    """`0.20 mg` with its digits; None for what is no amount of one of these units."""
    number, _, unit = str(text or "").partition(" ")
    code = _UNITS.get(unit)
    if code is None or _NUMBER.fullmatch(number) is None:
        return None
    return {"value": orjson.Fragment(number.encode()), "unit": code, "system": _UCUM, "code": code}

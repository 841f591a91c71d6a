"""Orders as another system sends them: HL7 FHIR R4 MedicationRequest, invented."""

import json
from copy import deepcopy
from typing import Any

UCUM = "http://unitsofmeasure.org"
DRUGS = ("morphine", "HYDROmorphone", "fentaNYL")
SYSTEM = "urn:example:wristband"


Json = dict[str, Any]


def quantity(value: float, code: str) -> Json:
    return {"value": value, "unit": code, "system": UCUM, "code": code}


def ratio(one: Json, other: Json) -> Json:
    return {"numerator": one, "denominator": other}


DEMAND: Json = {
    "text": "1 mg by the patient's button, at most every 8 min and 10 mg in 4 h",
    "asNeededBoolean": True,
    "timing": {"repeat": {"frequency": 1, "period": 8, "periodUnit": "min"}},
    "doseAndRate": [{"doseQuantity": quantity(1, "mg")}],
    "maxDosePerPeriod": ratio(quantity(10, "mg"), quantity(4, "h")),
}
CONTINUOUS: Json = {"doseAndRate": [{"rateQuantity": quantity(0.5, "mg/h")}]}
LOADING: Json = {
    "timing": {"repeat": {"count": 1}},
    "doseAndRate": [{"doseQuantity": quantity(2, "mg")}],
}

ORDER: Json = {
    "resourceType": "MedicationRequest",
    "id": "order-1",
    "meta": {"lastUpdated": "2024-05-02T11:20:00+02:00"},
    "identifier": [{"system": "urn:example:orders", "value": "A-1001"}],
    "status": "active",
    "intent": "order",
    "contained": [
        {
            "resourceType": "Medication",
            "id": "drug",
            "code": {"text": "morphine"},
            "ingredient": [
                {
                    "itemCodeableConcept": {"text": "morphine"},
                    "isActive": True,
                    "strength": ratio(quantity(1, "mg"), quantity(1, "mL")),
                },
                {"itemCodeableConcept": {"text": "sodium chloride 0.9%"}, "isActive": False},
            ],
        }
    ],
    "medicationReference": {"reference": "#drug"},
    "subject": {"identifier": {"system": SYSTEM, "value": "MRN 4711-08"}},
    "dosageInstruction": [DEMAND],
}


def order(**changes: Any) -> Json:  # noqa: ANN401  # any JSON value
    """An active order, with other values at the top; None takes a key out."""
    made = {**deepcopy(ORDER), **changes}
    return {key: value for key, value in made.items() if value is not None}


def changed(path: str, value: Any) -> Json:  # noqa: ANN401  # any JSON value
    """An active order with one value changed, at a path such as `dosageInstruction.0.asNeededBoolean`."""
    made: Any = deepcopy(ORDER)
    *way, last = (int(each) if each.isdigit() else each for each in path.split("."))
    place = made
    for each in way:
        place = place[each]
    if value is None:
        del place[last]
    else:
        place[last] = value
    return made  # type: ignore[no-any-return]  # it was copied from one


def as_message(resource: object) -> bytes:
    return json.dumps(resource, ensure_ascii=False).encode()


def dosed(*dosages: Json) -> Json:
    """An active order with these dosages."""
    return order(dosageInstruction=list(dosages))


def one(**changes: object) -> Json:
    """The demand dose alone, with other values; None takes a key out."""
    made = {**DEMAND, **changes}
    return {key: value for key, value in made.items() if value is not None}


def repeat(**changes: object) -> Json:
    return {"repeat": {"frequency": 1, "period": 8, "periodUnit": "min", **changes}}


MOST = "maxDosePerPeriod"
IN_8_MIN = ratio(quantity(1, "mg"), quantity(8, "min"))


def as_both_read(patient: str = "DM-40417", *, named: str = "A-1001", dose: float = 0.2) -> Json:
    """An order for the patient, and with the settings, that `tests.factories.answers` has."""
    made = order(
        identifier=[{"system": "urn:example:orders", "value": named}],
        subject={"identifier": {"system": SYSTEM, "value": patient}},
        dosageInstruction=[
            {
                "asNeededBoolean": True,
                "timing": {"repeat": {"frequency": 1, "period": 10, "periodUnit": "min"}},
                "doseAndRate": [{"doseQuantity": quantity(dose, "mg")}],
                MOST: ratio(quantity(2, "mg"), quantity(4, "h")),
            }
        ],
    )
    medication = made["contained"][0]
    medication["code"] = {"text": "HYDROmorphone"}
    medication["ingredient"] = [
        {
            "itemCodeableConcept": {"text": "HYDROmorphone"},
            "strength": ratio(quantity(6, "mg"), quantity(30, "mL")),
        }
    ]
    return made

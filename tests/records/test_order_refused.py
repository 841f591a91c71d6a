"""What a sender is told of an order that cannot be taken: where in it, and why."""

from datetime import datetime
from pathlib import Path

import pytest

from app.records.order_json import LARGEST_MESSAGE, REFUSALS, RefusedMessage
from app.records.order_message import read_order
from tests.factories.orders import (
    CONTINUOUS,
    DEMAND,
    DRUGS,
    IN_8_MIN,
    LOADING,
    MOST,
    ORDER,
    SYSTEM,
    Json,
    as_message,
    changed,
    dosed,
    one,
    order,
    quantity,
    ratio,
    repeat,
)

PROFILE = Path("app/records/ORDERS.md").read_text(encoding="utf-8")


LATEST = datetime.fromisoformat("2031-05-02T12:00:00+00:00")


def refused(message: bytes) -> RefusedMessage:
    found = read_order(message, drugs=DRUGS, patient_system=SYSTEM, latest=LATEST)
    assert isinstance(found, RefusedMessage), found
    return found


BARE = {key: ORDER[key] for key in ("resourceType", "meta", "identifier", "status")}
FIRST = "dosageInstruction.0"
DOSE = f"{FIRST}.doseAndRate.0.doseQuantity"
AT = "dosageInstruction[0]"
RATE = f"{AT}.doseAndRate[0]"
DRUG = "medicationCodeableConcept"


def rated(rate: Json) -> Json:
    return dosed({"doseAndRate": [{"rateRatio": rate}]})


REFUSED: list[tuple[str, object, str]] = [
    ("not-a-medication-request", {"resourceType": "Bundle"}, ""),
    ("wrong-type", [], ""),
    ("not-stated", None, ""),
    ("cannot-be-understood", order(implicitRules="urn:x"), "implicitRules"),
    (
        "cannot-be-understood",
        changed(f"{FIRST}.modifierExtension", [{"url": "urn:x"}]),
        f"{AT}.modifierExtension",
    ),
    ("unknown-status", order(status="aktiv"), "status"),
    ("wrong-type", order(intent=[]), "intent"),
    ("wrong-type", order(intent={}), "intent"),
    ("not-stated", order(status=None), "status"),
    ("wrong-type", order(status=1), "status"),
    ("bad-text", order(status=" "), "status"),
    ("bad-text", changed("subject.identifier.value", "1\u0000"), "subject.identifier.value"),
    ("bad-text", changed("subject.identifier.value", "1" * 201), "subject.identifier.value"),
    ("order-not-known-by-one", order(identifier=None, id=None), "identifier"),
    ("order-not-known-by-one", order(identifier=2 * ORDER["identifier"]), "identifier"),
    ("wrong-type", order(identifier={}), "identifier"),
    ("wrong-type", order(identifier=["A-1"]), "identifier[0]"),
    ("not-stated", order(identifier=[{"value": "A-1"}]), "identifier[0].system"),
    ("not-stated", order(meta=None), "meta"),
    ("bad-time", changed("meta.lastUpdated", "yesterday"), "meta.lastUpdated"),
    ("bad-time", changed("meta.lastUpdated", "2031-05-02T11:20:00"), "meta.lastUpdated"),
    # By a second, and by what ends an order as by what is to be carried out.
    ("ahead-of-clock", changed("meta.lastUpdated", "2031-05-02T14:00:01+02:00"), "meta.lastUpdated"),
    (
        "ahead-of-clock",
        {**BARE, "status": "stopped", "meta": {"lastUpdated": "9999-12-31T23:59:59Z"}},
        "meta.lastUpdated",
    ),
    ("not-an-order", order(intent="plan"), "intent"),
    ("not-an-order", BARE, "intent"),
    ("not-an-order", order(doNotPerform=True), "doNotPerform"),
    ("wrong-type", order(doNotPerform="no"), "doNotPerform"),
    ("not-stated", order(subject=None), "subject"),
    ("not-contained", order(subject={"reference": "Patient/7"}), "subject.reference"),
    ("not-contained", order(subject={"reference": "#drug"}), "subject.reference"),
    ("not-contained", order(subject={"reference": "#nobody"}), "subject.reference"),
    ("patient-not-known-by-one", order(subject={}), "subject"),
    ("patient-not-known-by-one", changed("subject.identifier.value", "*4711"), "subject"),
    ("patient-not-known-by-one", changed("subject.identifier.system", "urn:example:other"), "subject"),
    ("not-stated", order(medicationReference=None), "medicationReference"),
    ("not-contained", order(medicationReference={}), "medicationReference"),
    (
        "not-contained",
        order(medicationReference={"reference": "Medication/1"}),
        "medicationReference.reference",
    ),
    ("unknown-drug", order(medicationReference=None, **{DRUG: {"text": "ketamine"}}), DRUG),
    ("several-drugs", order(**{DRUG: {"text": "morphine", "coding": [{"display": "fentanyl"}]}}), DRUG),
    ("several-drugs", changed("contained.0.code.text", "fentaNYL"), "contained[0]"),
    ("several-drugs", changed("contained.0.ingredient.1.isActive", value=True), "contained[0].ingredient[1]"),
    (
        "several-drugs",
        changed("contained.0.ingredient", 2 * ORDER["contained"][0]["ingredient"]),
        "contained[0]",
    ),
    ("not-stated", order(dosageInstruction=None), "dosageInstruction"),
    ("unclear-dose", dosed(LOADING), "dosageInstruction"),
    ("not-stated", dosed({}), f"{AT}.doseAndRate"),
    ("several-doses", changed(f"{FIRST}.doseAndRate", 2 * DEMAND["doseAndRate"]), f"{AT}.doseAndRate"),
    # A bolus that staff may give looks the same: nothing in R4 tells one from the other.
    ("several-doses", dosed(DEMAND, DEMAND), "dosageInstruction[1]"),
    ("a-range", changed(f"{FIRST}.doseAndRate.0.doseRange", {}), f"{RATE}.doseRange"),
    ("a-range", changed(f"{FIRST}.doseAndRate.0.rateRange", {}), f"{RATE}.rateRange"),
    ("unclear-dose", changed(f"{FIRST}.asNeededBoolean", value=False), AT),
    ("unclear-dose", dosed({"doseAndRate": DEMAND["doseAndRate"]}), AT),
    ("unclear-dose", changed(f"{FIRST}.doseAndRate.0.rateQuantity", quantity(1, "mg/h")), AT),
    ("not-stated", changed(f"{DOSE}.value", None), f"{RATE}.doseQuantity.value"),
    ("wrong-type", changed(f"{DOSE}.value", "1"), f"{RATE}.doseQuantity.value"),
    ("bad-number", changed(f"{DOSE}.value", -1), f"{RATE}.doseQuantity.value"),
    ("bad-number", changed(f"{DOSE}.value", 0), f"{RATE}.doseQuantity"),
    ("bad-number", changed(f"{DOSE}.value", 0.0000001), f"{RATE}.doseQuantity"),
    ("bad-number", changed(f"{DOSE}.value", 10**30), f"{RATE}.doseQuantity.value"),
    ("a-comparator", changed(f"{DOSE}.comparator", "<"), f"{RATE}.doseQuantity.comparator"),
    ("dose-for-weight", changed(f"{DOSE}.code", "ug/kg"), f"{RATE}.doseQuantity.code"),
    ("not-ucum", changed(f"{DOSE}.code", "mcg"), f"{RATE}.doseQuantity.code"),
    ("not-ucum", changed(f"{DOSE}.code", None), f"{RATE}.doseQuantity.code"),
    ("not-ucum", changed(f"{DOSE}.system", "urn:x"), f"{RATE}.doseQuantity.code"),
    ("unit-not-read", changed(f"{DOSE}.code", "mL"), f"{RATE}.doseQuantity.code"),
    ("unit-not-read", rated(ratio(quantity(1, "mg"), quantity(1, "s"))), f"{RATE}.rateRatio"),
    ("bad-number", rated(ratio(quantity(1, "mg"), quantity(0, "h"))), f"{RATE}.rateRatio"),
    ("bad-number", rated(ratio(quantity(1, "mg"), quantity(3, "h"))), f"{RATE}.rateRatio"),
    ("not-stated", rated({"numerator": quantity(1, "mg")}), f"{RATE}.rateRatio.denominator"),
    ("out-of-range", dosed(one(timing=repeat(period=30, periodUnit="s"))), f"{AT}.timing.repeat"),
    ("unclear-lockout", dosed(one(timing=repeat(frequency=2))), f"{AT}.timing.repeat"),
    ("unclear-lockout", dosed(one(timing=repeat(periodMax=10))), f"{AT}.timing.repeat"),
    ("unclear-lockout", dosed(one(timing=repeat(periodUnit="d"))), f"{AT}.timing.repeat"),
    ("unclear-lockout", dosed(one(timing=repeat(period=9), **{MOST: IN_8_MIN})), AT),
    (
        "unclear-limit",
        dosed(one(**{MOST: ratio(quantity(2, "mg"), quantity(8, "min"))})),
        f"{AT}.maxDosePerPeriod",
    ),
    ("unclear-limit", dosed({**CONTINUOUS, MOST: IN_8_MIN}), f"{AT}.maxDosePerPeriod"),
    (
        "unclear-limit",
        dosed(DEMAND, {**CONTINUOUS, MOST: ratio(quantity(9, "mg"), quantity(4, "h"))}),
        "dosageInstruction[1].maxDosePerPeriod",
    ),
    (
        "out-of-range",
        dosed(one(**{MOST: ratio(quantity(9, "mg"), quantity(25, "h"))})),
        f"{AT}.maxDosePerPeriod.denominator",
    ),
]


@pytest.mark.parametrize(("code", "resource", "path"), REFUSED)
def test_a_sender_is_told_where_and_why(code: str, resource: object, path: str) -> None:
    found = refused(as_message(resource))
    assert (found.code, found.path.removeprefix("MedicationRequest").removeprefix(".")) == (code, path)
    assert found.says == REFUSALS[code]


@pytest.mark.parametrize(
    "message",
    [
        b"",
        b"\xff",
        b'{"a": 1, "a": 2}',
        b'{"a": NaN}',
        b"[" * 60_000,
        b'{"value": 1e999999999}'[:-1],
        # Each path below would hold it anew.
        b'{"%s": [0, 0]}' % (b"a" * 65),
    ],
)
def test_what_is_no_json_is_refused(message: bytes) -> None:
    assert refused(message).code == "bad-json"


def nested(depth: int) -> Json:
    inside: object = {"modifierExtension": [{}]}
    for _ in range(depth):
        inside = [inside]
    return order(note=inside)


def test_what_changes_all_is_found_wherever_it_stands_and_nothing_stands_too_deep() -> None:
    assert refused(as_message(nested(30))).code == "cannot-be-understood"
    assert refused(as_message(nested(60))).code == "wrong-type"
    assert refused(
        b'{"resourceType": "MedicationRequest", "note": ' + b"[" * 900 + b"]" * 900 + b"}"
    ).code == ("wrong-type")


def test_a_message_that_is_too_large_is_not_looked_into() -> None:
    assert refused(b"[" * (LARGEST_MESSAGE + 1)).code == "too-large"


def test_an_exponent_that_would_fill_the_memory_is_no_number() -> None:
    message = as_message(ORDER).replace(
        b'"value": 1, "unit": "mg", "system"', b'"value": 1e999999999, "unit": "mg", "system"'
    )
    assert refused(message).code == "bad-number"


def test_the_profile_names_every_refusal_as_it_is_said() -> None:
    for code, says in REFUSALS.items():
        assert f"| `{code}` | {says} |" in PROFILE


def test_every_refusal_can_happen() -> None:
    assert {code for code, _, _ in REFUSED} | {"bad-json", "too-large"} == set(REFUSALS)

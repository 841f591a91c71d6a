"""An order as another system sends it: what is read of it."""

from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from app.records.order_dosage import limits_of, with_windows_of
from app.records.order_json import RefusedMessage
from app.records.order_message import ReadOrder, read_kept, read_order
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


def read(resource: object, system: str = SYSTEM) -> ReadOrder:
    found = read_order(as_message(resource), drugs=DRUGS, patient_system=system)
    assert isinstance(found, ReadOrder), found
    return found


def test_what_is_read_of_an_active_order() -> None:
    found = read(ORDER)
    assert found == ReadOrder(
        order="urn:example:orders|A-1001",
        written_at=datetime.fromisoformat("2024-05-02T11:20:00+02:00"),
        status="active",
        patient="MRN 4711-08",
        settings={
            "drug": "morphine",
            "concentration": "1 mg/mL",
            "mode": "demand",
            "demand_dose": "1 mg",
            "lockout": "8 min",
            "limit": [{"amount": "10 mg", "window": "4 h"}],
        },
    )
    assert found.is_active
    assert read_kept(found.as_data()) == found


def test_what_a_message_cannot_say_is_not_stated_and_never_none() -> None:
    bare = {"asNeededBoolean": True, "doseAndRate": [{"doseQuantity": quantity(1, "mg")}]}
    found = read(
        order(
            dosageInstruction=[bare], medicationReference=None, medicationCodeableConcept={"text": "morphine"}
        )
    )
    assert found.settings == {"drug": "morphine", "mode": "demand", "demand_dose": "1 mg"}


@pytest.mark.parametrize(
    ("dosages", "said"),
    [
        ((DEMAND, CONTINUOUS), {"mode": "demand-and-continuous", "continuous_rate": "0.5 mg/h"}),
        ((CONTINUOUS,), {"mode": "continuous", "continuous_rate": "0.5 mg/h"}),
        ((DEMAND, LOADING), {"mode": "demand", "loading_dose": "2 mg"}),
        # A rate as a ratio is one for an hour or a minute, exactly.
        (
            ({"doseAndRate": [{"rateRatio": ratio(quantity(5, "mg"), quantity(10, "h"))}]},),
            {"continuous_rate": "0.5 mg/h"},
        ),
        (
            ({"doseAndRate": [{"rateRatio": ratio(quantity(15, "ug"), quantity(1, "min"))}]},),
            {"continuous_rate": "15 mcg/min"},
        ),
        (
            ({"asNeededCodeableConcept": {"text": "pain"}, "doseAndRate": DEMAND["doseAndRate"]},),
            {"mode": "demand"},
        ),
    ],
)
def test_what_a_dosage_says(dosages: tuple[Json, ...], said: Json) -> None:
    found = read(dosed(*dosages)).settings
    assert {key: found[key] for key in said} == said


@pytest.mark.parametrize(
    ("dosage", "lockout"),
    [
        (one(timing=repeat(period=480, periodUnit="s")), "480 s"),
        (one(timing={"repeat": {"period": 0.5, "periodUnit": "h"}}), "0.5 h"),
        (one(timing=repeat(boundsPeriod={"start": "2031-05-02"})), "8 min"),
        # R4 has no lockout; one dose in less than an hour can be nothing else.
        (one(timing=None, **{MOST: IN_8_MIN}), "8 min"),
        (one(timing=None, **{MOST: ratio(quantity(1000, "ug"), quantity(8, "min"))}), "8 min"),
        (one(**{MOST: IN_8_MIN}), "8 min"),
        (one(timing={"repeat": {"boundsPeriod": {"start": "2031-05-02"}}}), None),
        (one(timing={"code": {"text": "every 8 min"}}), None),
        (one(timing=None), None),
    ],
)
def test_a_lockout_is_read_from_timing_or_from_the_most_for_a_period(
    dosage: Json, lockout: str | None
) -> None:
    assert read(dosed(dosage)).settings.get("lockout") == lockout


@pytest.mark.parametrize(
    ("value", "code", "said"),
    [
        (1.0, "mg", "1 mg"),
        (0.25, "mg", "0.25 mg"),
        (20, "ug", "20 mcg"),
        (1e-3, "g", "0.001 g"),
    ],
)
def test_a_dose_is_exact_and_written_as_a_reading_is(value: float, code: str, said: str) -> None:
    dosage = {"asNeededBoolean": True, "doseAndRate": [{"doseQuantity": quantity(value, code)}]}
    assert read(dosed(dosage)).settings["demand_dose"] == said


def test_no_digit_passes_through_a_floating_number() -> None:
    message = as_message(ORDER).replace(
        b'"value": 1, "unit": "mg", "system"', b'"value": 0.100000, "unit": "mg", "system"'
    )
    found = read_order(message, drugs=DRUGS)
    assert isinstance(found, ReadOrder)
    assert found.settings["demand_dose"] == "0.1 mg"


@pytest.mark.parametrize(
    ("one", "other", "said"),
    [
        (quantity(50, "mg"), quantity(50, "mL"), "50 mg/50 mL"),
        (quantity(20, "ug"), quantity(1, "mL"), "20 mcg/mL"),
        (quantity(1, "g"), quantity(1, "L"), "1 g/L"),
        (quantity(10, "ug"), quantity(1, "L"), "10 mcg/1 L"),
    ],
)
def test_a_strength_is_read_from_a_contained_medication(one: Json, other: Json, said: str) -> None:
    made = changed("contained.0.ingredient.0.strength", ratio(one, other))
    assert read(made).settings["concentration"] == said


def test_a_drug_is_named_as_the_library_has_it_by_text_or_display() -> None:
    concept = {"text": "HYDROMORPHONE", "coding": [{"display": "hydromorphone "}, {"display": "opioid"}, {}]}
    found = read(order(medicationReference=None, medicationCodeableConcept=concept))
    assert found.settings["drug"] == "HYDROmorphone"
    assert "concentration" not in found.settings


def test_an_ingredient_alone_names_the_drug() -> None:
    medication = {
        "resourceType": "Medication",
        "id": "drug",
        "ingredient": [{"itemCodeableConcept": {"text": "morphine"}}, {"itemReference": {"reference": "#x"}}],
    }
    assert read(order(contained=[medication])).settings["drug"] == "morphine"


PATIENT = {
    "resourceType": "Patient",
    "id": "p",
    "identifier": [
        {"system": "urn:example:national", "value": "99"},
        {"system": SYSTEM, "value": "old", "use": "old"},
        {"system": SYSTEM, "value": " 4711 "},
    ],
}


def of_patient(patient: Json, **subject: Any) -> Json:  # noqa: ANN401  # any JSON value
    return order(contained=[*ORDER["contained"], patient], subject={"reference": "#p", **subject})


def test_of_several_identifiers_the_one_of_the_wristbands_counts() -> None:
    assert read(of_patient(PATIENT)).patient == "4711"
    without_system = read_order(as_message(of_patient(PATIENT)), drugs=DRUGS)
    assert isinstance(without_system, RefusedMessage)
    assert without_system.code == "patient-not-known-by-one"


def test_where_the_identifier_stands_itself_the_patient_may_be_elsewhere() -> None:
    subject = {"reference": "Patient/7", **ORDER["subject"]}
    assert read(order(subject=subject)).patient == "MRN 4711-08"


def test_without_a_business_identifier_the_id_names_the_order() -> None:
    assert read(order(identifier=None)).order == "order-1"


@pytest.mark.parametrize("status", ["on-hold", "cancelled", "stopped", "entered-in-error", "revoked"])
def test_whatever_else_an_order_that_is_not_active_lacks_it_ends(status: str) -> None:
    """A revoked one too, which R4 does not know: to refuse it would leave the order as it was."""
    bare = {key: ORDER[key] for key in ("resourceType", "meta", "identifier")}
    found = read({**bare, "status": status})
    assert (found.order, found.settings, found.is_active) == ("urn:example:orders|A-1001", {}, False)


def test_limits_in_one_window_that_are_equal_are_one() -> None:
    same = {**CONTINUOUS, MOST: ratio(quantity(10000, "ug"), quantity(240, "min"))}
    assert read(dosed(DEMAND, same)).settings["limit"] == [{"amount": "10 mg", "window": "4 h"}]


def test_each_part_may_have_a_limit_of_its_own() -> None:
    parts = [
        {**each, MOST: ratio(quantity(9, "mg"), quantity(n, "h"))}
        for n, each in enumerate((DEMAND, CONTINUOUS, LOADING), 1)
    ]
    assert len(read(dosed(*parts)).settings["limit"]) == len(parts)


@pytest.mark.parametrize(
    ("read_limit", "windows"),
    [
        (None, ["4 h"]),
        ({"amount": "10 mg", "window": "240 min"}, ["4 h"]),
        ({"amount": "10 mg"}, ["4 h"]),
        ({"amount": "10 mg", "window": "four hours"}, ["4 h"]),
        ([{"amount": "10 mg", "window": "4 h"}, {"amount": "30 mg", "window": "24 h"}], ["4 h", "24 h"]),
    ],
)
def test_of_a_window_that_a_message_does_not_state_it_says_nothing(
    read_limit: object, windows: list[str]
) -> None:
    made = with_windows_of(read(ORDER).settings, limits_of({"limit": read_limit}))
    assert [each["window"] for each in made["limit"]] == windows
    assert [each["amount"] for each in made["limit"]] == ["10 mg", None][: len(windows)]


def test_without_a_limit_nothing_is_said_of_any_window() -> None:
    assert with_windows_of({"drug": "morphine"}, [{"window": "4 h"}]) == {"drug": "morphine"}


def test_the_example_of_the_profile_is_read() -> None:
    example = PROFILE.partition("```json\n")[2].partition("```")[0]
    assert read_order(example.encode(), drugs=DRUGS, patient_system=SYSTEM) == read(ORDER)

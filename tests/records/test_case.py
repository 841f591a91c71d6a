"""From readings to the engine's case."""

from datetime import UTC, datetime

import pytest

from app.comparison import CaseError, evaluate, read_case
from app.records.case import build_case, entry, settings, sources_read
from app.records.known import NOTHING_KNOWN
from app.records.reading import WHOLE, Scope
from app.records.sources import Source
from tests.factories.answers import answers

AT = datetime(2031, 5, 2, 12, 10, 7, 123456, tzinfo=UTC)

ORDER = answers()["order"]

# The order's answers otherwise than in the complete set -> the keys of SETTINGS that are then otherwise.
SETTINGS: dict[str, tuple[dict[str, str], dict[str, object], set[str]]] = {
    "as it is": ({}, {}, set()),
    "strength per millilitre": (
        {"strength": "per-millilitre", "concentration": "0.2 mg/mL"},
        {"concentration": "0.2 mg/mL"},
        {"amount", "volume"},
    ),
    "the order states no strength": (
        {"strength": "states-none"},
        {"concentration": None},
        {"amount", "volume"},
    ),
    "no limit": ({"limit_amount": "none"}, {"limit": None}, set()),
    "the limit's window not read": ({"limit_window": ""}, {"limit": {"amount": "2 mg"}}, set()),
    "the limit's amount not read": ({"limit_amount": ""}, {"limit": {"window": "4 h"}}, set()),
    "the limit not read": ({"limit_amount": "", "limit_window": ""}, {}, {"limit"}),
    "a loading dose": ({"loading_dose": "0.4 mg"}, {"loading_dose": "0.4 mg"}, set()),
    "the loading dose not read": ({"loading_dose": ""}, {}, {"loading_dose"}),
    "no continuous part, said so": ({"continuous_rate": "none"}, {"continuous_rate": None}, set()),
    "a continuous part": ({"continuous_rate": "0.1 mg/h"}, {"continuous_rate": "0.1 mg/h"}, set()),
    "no carrier": ({"carrier_fluid": "none"}, {}, {"carrier"}),
    "the carrier not read": ({"carrier_fluid": ""}, {}, {"carrier"}),
    "the carrier's rate not read": (
        {"carrier_rate": ""},
        {"carrier": {"fluid": "sodium chloride 0.9%"}},
        set(),
    ),
    "the drug not read": ({"drug": ""}, {}, {"drug"}),
    "whose order it is not read": ({"identifier": "", "birth_date": ""}, {}, {"patient"}),
    "a second limit": (
        {"limit_2_amount": "6 mg", "limit_2_window": "12 h"},
        {"limit": [{"amount": "2 mg", "window": "4 h"}, {"amount": "6 mg", "window": "12 h"}]},
        set(),
    ),
    "a second limit of which the window was not read": ({"limit_2_amount": "6 mg"}, {}, {"limit"}),
    "a second limit beside one of which the window was not read": (
        {"limit_window": "", "limit_2_amount": "6 mg", "limit_2_window": "12 h"},
        {},
        {"limit"},
    ),
    "a third limit where there is none": (
        {
            "limit_amount": "none",
            "limit_2_amount": "6 mg",
            "limit_3_amount": "9 mg",
            "limit_3_window": "24 h",
        },
        {"limit": None},
        set(),
    ),
    "a bolus given by staff": (
        {
            "staff_bolus_dose": "0.4 mg",
            "staff_bolus_interval": "10 min",
            "staff_bolus_most": "1.2 mg",
            "staff_bolus_window": "4 h",
        },
        {"staff_bolus": {"dose": "0.4 mg", "interval": "10 min", "most": "1.2 mg", "window": "4 h"}},
        set(),
    ),
    "a bolus given by staff of which not everything was read": (
        {"staff_bolus_dose": "0.4 mg", "staff_bolus_interval": "10 min"},
        {},
        set(),
    ),
    "no bolus given by staff": ({"staff_bolus_dose": "none"}, {"staff_bolus": None}, set()),
}
PATIENT = {"identifier": "DM-40417", "birth_date": "1961-04-09"}
AS_IT_IS: dict[str, object] = {
    "patient": PATIENT,
    "drug": "HYDROmorphone",
    "amount": "6 mg",
    "volume": "30 mL",
    "mode": "demand",
    "demand_dose": "0.2 mg",
    "lockout": "10 min",
    "loading_dose": None,
    "limit": {"amount": "2 mg", "window": "4 h"},
    "carrier": {"fluid": "sodium chloride 0.9%", "rate": "10 mL/h"},
}


@pytest.mark.parametrize("case", SETTINGS)
def test_settings(case: str) -> None:
    answered, otherwise, gone = SETTINGS[case]
    wanted = {key: value for key, value in {**AS_IT_IS, **otherwise}.items() if key not in gone}

    assert settings(Source.ORDER, {**ORDER, **answered}) == wanted


def test_an_entry_holds_what_one_clinician_read() -> None:
    made = entry("A", answers(label={"code": "0109520123456788"}), AT, WHOLE)

    assert made == {
        "clinician": "A",
        "read_at": "2031-05-02T12:10:07+00:00",
        "patient": PATIENT,
        "chart": {
            "order_current": "yes",
            "pharmacist": "verified",
            "allergy": "none-to-this-drug",
            "opioid_tolerant": "no",
            "other_opioids": "none",
            "sedatives": "none",
            "neuraxial_opioid": "none",
            "able_to_use_button": "yes",
            "sleep_apnea": "none-charted",
            "lung_disease": "none-charted",
            "kidney_or_liver_disease": "none-charted",
            "supplemental_oxygen": "none",
            "weight": "82 kg",
        },
        "order": AS_IT_IS,
        "label": {
            "patient": {"identifier": "DM-40417"},
            "drug": "HYDROmorphone",
            "amount": "6 mg",
            "volume": "30 mL",
            "lot": "LOT-7",
            "use_by": "2031-12-31",
            "code": "0109520123456788",
            "syringe_size": "30 mL",
        },
        "device": {
            **{key: value for key, value in AS_IT_IS.items() if key != "patient"},
            "syringe_size": "30 mL",
            "monitor": {
                "capnography": "on",
                "pulse_oximetry": "on",
                "low_respiratory_rate": "8 /min",
                "low_spo2": "90 %",
                "high_etco2": "60 mmHg",
                "apnea_time": "30 s",
            },
        },
    }


def test_what_a_label_or_monitor_has_not_is_an_answer_but_for_the_lot() -> None:
    read = answers(
        chart={"weight": "none"},
        label={"identifier": "none", "lot": "none", "use_by": "none"},
        monitor={"apnea_time": "none"},
    )
    made = entry("A", read, AT, WHOLE)

    assert "lot" not in made["label"]
    assert (made["label"]["patient"], made["label"]["use_by"]) == (None, None)
    assert made["device"]["monitor"]["apnea_time"] is None
    assert made["chart"]["weight"] is None
    assert made["chart"]["sedatives"] == "none"


@pytest.mark.parametrize(
    ("scope", "keys"),
    [
        (WHOLE, ["patient", "chart", "order", "label", "device"]),
        ((("label", ()), ("device", ())), ["label", "device"]),
        # A monitor's settings stand in the device's.
        ((("wristband", ()), ("monitor", ())), ["patient", "device"]),
    ],
)
def test_an_entry_holds_what_the_kind_of_check_reads(scope: Scope, keys: list[str]) -> None:
    assert list(entry("A", answers(), AT, scope)) == ["clinician", "read_at", *keys]
    sources = [{"patient": "wristband"}.get(key, key) for key in keys]
    assert [each.value for each in sources_read(scope)] == sources


def test_an_empty_reading_is_a_case_all_the_same() -> None:
    made = entry("A", {}, AT, WHOLE)

    assert made == {
        "clinician": "A",
        "read_at": "2031-05-02T12:10:07+00:00",
        "patient": {},
        "chart": {},
        "order": {},
        "label": {},
        "device": {},
    }


@pytest.mark.parametrize("reading", [answers(), {}, answers(order={"strength": "states-none"})])
def test_the_engine_reads_the_case(reading: dict[str, dict[str, str]]) -> None:
    case = build_case(
        entries=(entry("A", reading, AT, WHOLE), entry("B", reading, AT, WHOLE)),
        policy={},
        library={},
        known=NOTHING_KNOWN,
        reads=WHOLE,
    )
    read = read_case(case)

    assert not isinstance(read, CaseError)
    assert evaluate(read).as_json()["format"] == "countersign.result/2"


def test_the_complete_set_of_answers_agrees() -> None:
    case = build_case(
        entries=(entry("A", answers(), AT, WHOLE), entry("B", answers(), AT, WHOLE)),
        policy={},
        library={},
        known=NOTHING_KNOWN,
        reads=WHOLE,
    )
    del case["library"]
    read = read_case(case)
    assert not isinstance(read, CaseError)

    assert evaluate(read).as_json()["verdict"] == "agreed"


def test_the_keys_stand_in_the_contracts_order() -> None:
    case = build_case(
        entries=(entry("A", answers(), AT, WHOLE), entry("B", answers(), AT, WHOLE)),
        policy={},
        library={},
        known=NOTHING_KNOWN,
        reads=WHOLE,
    )

    assert list(case) == ["format", "policy", "library", "reads", "entries"]
    assert case["format"] == "countersign.case/2"

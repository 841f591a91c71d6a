"""From readings to the engine's case."""

from datetime import UTC, datetime

import pytest

from app.comparison import CaseError, evaluate, read_case
from app.records.case import build_case, entry, settings
from app.records.known import NOTHING_KNOWN
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
}
AS_IT_IS: dict[str, object] = {
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

    assert settings({**ORDER, **answered}) == wanted


def test_an_entry_holds_what_one_clinician_read() -> None:
    made = entry("A", answers(label={"code": "0109520123456788"}), AT)

    assert made == {
        "clinician": "A",
        "read_at": "2031-05-02T12:10:07+00:00",
        "patient": {"identifier": "DM-40417", "birth_date": "1961-04-09"},
        "order": AS_IT_IS,
        "label": {
            "drug": "HYDROmorphone",
            "amount": "6 mg",
            "volume": "30 mL",
            "lot": "LOT-7",
            "use_by": "2031-12-31",
            "code": "0109520123456788",
            "syringe_size": "30 mL",
        },
        "device": {
            **AS_IT_IS,
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


def test_what_a_label_or_monitor_has_not_takes_no_part() -> None:
    made = entry("A", answers(label={"lot": "none", "use_by": "none"}, monitor={"apnea_time": "none"}), AT)

    assert not {"lot", "use_by"} & made["label"].keys()
    assert "apnea_time" not in made["device"]["monitor"]


def test_an_empty_reading_is_a_case_all_the_same() -> None:
    made = entry("A", {}, AT)

    assert made == {
        "clinician": "A",
        "read_at": "2031-05-02T12:10:07+00:00",
        "patient": {},
        "order": {},
        "label": {},
        "device": {},
    }


@pytest.mark.parametrize("reading", [answers(), {}, answers(order={"strength": "states-none"})])
def test_the_engine_reads_the_case(reading: dict[str, dict[str, str]]) -> None:
    case = build_case(
        entries=(entry("A", reading, AT), entry("B", reading, AT)),
        policy={},
        library={},
        patient={},
        known=NOTHING_KNOWN,
    )
    read = read_case(case)

    assert not isinstance(read, CaseError)
    assert evaluate(read).as_json()["format"] == "countersign.result/1"


def test_the_complete_set_of_answers_agrees() -> None:
    case = build_case(
        entries=(entry("A", answers(), AT), entry("B", answers(), AT)),
        policy={},
        library={},
        patient={},
        known=NOTHING_KNOWN,
    )
    del case["library"]
    read = read_case(case)
    assert not isinstance(read, CaseError)

    assert evaluate(read).as_json()["verdict"] == "agreed"


def test_the_keys_stand_in_the_contracts_order() -> None:
    case = build_case(
        entries=(entry("A", answers(), AT), entry("B", answers(), AT)),
        policy={},
        library={},
        patient={},
        known=NOTHING_KNOWN,
    )

    assert list(case) == ["format", "policy", "library", "patient", "entries"]
    assert case["format"] == "countersign.case/1"

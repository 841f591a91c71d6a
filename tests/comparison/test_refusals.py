"""What is no case: every code of the contract, wherever it can be met, and which of two comes first."""

import pytest

from app.comparison import Case, CaseError, read_case
from tests.comparison.builders import ABSENT, case_with, error_of

ENTRY = "entries[1]"
# Every text, quantity and switch that a source can hold, with how many of it there is of each kind of fault.
QUANTITIES = {
    "amount": "mg",
    "volume": "mL",
    "concentration": "mg/mL",
    "demand_dose": "mg",
    "lockout": "min",
    "loading_dose": "mg",
    "limit.amount": "mg",
    "limit.window": "h",
    "carrier.rate": "mL/h",
    "monitor.low_respiratory_rate": "/min",
    "monitor.low_spo2": "%",
    "monitor.high_etco2": "mmHg",
    "monitor.apnea_time": "s",
    "syringe_size": "mL",
}
LABEL_QUANTITIES = {"amount": "mg", "volume": "mL", "concentration": "mg/mL", "syringe_size": "mL"}
SOURCES = [
    *(
        (f"entries[1].{source}", f"B.{source}", key, unit)
        for source in ("order", "device")
        for key, unit in QUANTITIES.items()
    ),
    *(("entries[1].label", "B.label", key, unit) for key, unit in LABEL_QUANTITIES.items()),
    *(
        (source, source, key, unit)
        for source in ("order_of_record", "previous")
        for key, unit in QUANTITIES.items()
    ),
]


def change(place: str, key: str, value: object) -> dict[str, object]:
    """A value in a source, whole objects written out so that nothing else is in the way."""
    outer, _, inner = key.partition(".")
    return {f"{place}.{outer}": {inner: value} if inner else value}


@pytest.mark.parametrize("row", SOURCES, ids=lambda row: f"{row[0]}.{row[2]}")
def test_every_quantity_is_read_in_its_own_kind(row: tuple[str, str, str, str]) -> None:
    path, place, key, unit = row
    at = f"{path}.{key}"
    assert error_of(change(place, key, f"0 {unit}")) == (at, "not-positive")
    assert error_of(change(place, key, "5 furlong")) == (at, "unknown-unit")
    assert error_of(change(place, key, "5 kg")) == (at, "wrong-dimension")
    assert error_of(change(place, key, 5)) == (at, "wrong-type")
    assert error_of(change(place, key, {})) == (at, "wrong-type")
    assert error_of(change(place, key, ["5 mg"])) == (at, "wrong-type")
    assert isinstance(read_case(case_with(change(place, key, None))), Case)


@pytest.mark.parametrize("place", ["order", "device"])
def test_a_rate_may_be_zero(place: str) -> None:
    assert isinstance(read_case(case_with({f"A.{place}.continuous_rate": "0 mg/h"})), Case)
    assert error_of({f"A.{place}.continuous_rate": "0 mg"}) == (
        f"entries[0].{place}.continuous_rate",
        "wrong-dimension",
    )


@pytest.mark.parametrize(
    ("key", "text", "is_inside"),
    [
        ("lockout", "60 s", True),
        ("lockout", "59 s", False),
        ("lockout", "24 h", True),
        ("lockout", "1440.1 min", False),
        ("limit.window", "60 min", True),
        ("limit.window", "59.9 min", False),
        ("limit.window", "1440 min", True),
        ("limit.window", "24.1 h", False),
        ("monitor.apnea_time", "1 s", True),
    ],
)
def test_ranges(key: str, text: str, *, is_inside: bool) -> None:
    read = read_case(case_with(change("A.device", key, text)))
    assert isinstance(read, Case) is is_inside
    if isinstance(read, CaseError):
        assert (read.path, read.code) == (f"entries[0].device.{key}", "out-of-range")


REFUSED: list[tuple[dict[str, object], str, str]] = [
    # the whole
    ({"format": ABSENT}, "format", "missing-key"),
    ({"format": None}, "format", "wrong-type"),
    ({"format": "countersign.case/2"}, "format", "unknown-format"),
    ({"entries": ABSENT}, "entries", "missing-key"),
    ({"entries": None}, "entries", "wrong-type"),
    ({"entries": {}}, "entries", "wrong-type"),
    ({"entries": [{}]}, "entries", "wrong-count"),
    ({"entries": [{}, {}, {}]}, "entries", "wrong-count"),
    ({"entries": [{}, {}]}, "entries[0].clinician", "missing-key"),
    ({"entries": [None, {}]}, "entries[0]", "wrong-type"),
    ({"notes": "x"}, "notes", "unknown-key"),
    # an entry
    ({"A.clinician": ABSENT}, "entries[0].clinician", "missing-key"),
    ({"A.clinician": None}, "entries[0].clinician", "wrong-type"),
    ({"A.order": ABSENT}, "entries[0].order", "missing-key"),
    ({"A.order": None}, "entries[0].order", "wrong-type"),
    ({"B.label": ABSENT}, "entries[1].label", "missing-key"),
    ({"B.label": "morphine"}, "entries[1].label", "wrong-type"),
    ({"B.device": ABSENT}, "entries[1].device", "missing-key"),
    ({"B.device": []}, "entries[1].device", "wrong-type"),
    ({"A.pump": {}}, "entries[0].pump", "unknown-key"),
    ({"A.clinician": "SECOND "}, "entries[1].clinician", "same-clinician"),
    ({"A.read_at": "2031-05-02"}, "entries[0].read_at", "bad-time"),
    ({"A.read_at": 5}, "entries[0].read_at", "wrong-type"),
    ({"B.read_at": "2031-05-02T14:10"}, "entries[1].read_at", "bad-time"),
    ({"A.patient": "x"}, "entries[0].patient", "wrong-type"),
    ({"A.patient": {"name": "x"}}, "entries[0].patient.name", "unknown-key"),
    ({"A.patient.identifier": 5}, "entries[0].patient.identifier", "wrong-type"),
    ({"A.patient.birth_date": 5}, "entries[0].patient.birth_date", "wrong-type"),
    ({"A.patient.birth_date": "1961-04-09T00:00Z"}, "entries[0].patient.birth_date", "bad-time"),
    # settings and label
    ({"A.order.drug": 5}, "entries[0].order.drug", "wrong-type"),
    ({"A.order.mode": "bolus"}, "entries[0].order.mode", "unknown-value"),
    ({"A.order.mode": "Demand"}, "entries[0].order.mode", "unknown-value"),
    ({"A.order.mode": ""}, "entries[0].order.mode", "unknown-value"),
    ({"A.order.mode": 5}, "entries[0].order.mode", "wrong-type"),
    ({"A.order.limit": "10 mg"}, "entries[0].order.limit", "wrong-type"),
    ({"A.order.limit": {"dose": "1 mg"}}, "entries[0].order.limit.dose", "unknown-key"),
    ({"A.order.carrier": "saline"}, "entries[0].order.carrier", "wrong-type"),
    ({"A.order.carrier": {"bag": "x"}}, "entries[0].order.carrier.bag", "unknown-key"),
    ({"A.order.carrier": {"fluid": 9}}, "entries[0].order.carrier.fluid", "wrong-type"),
    ({"A.order.monitor": "on"}, "entries[0].order.monitor", "wrong-type"),
    ({"A.order.monitor": {"ecg": "on"}}, "entries[0].order.monitor.ecg", "unknown-key"),
    ({"A.device.monitor.capnography": True}, "entries[0].device.monitor.capnography", "wrong-type"),
    ({"A.device.monitor.pulse_oximetry": "ON"}, "entries[0].device.monitor.pulse_oximetry", "unknown-value"),
    ({"A.order.lot": "x"}, "entries[0].order.lot", "unknown-key"),
    ({"A.label.drug": 5}, "entries[0].label.drug", "wrong-type"),
    ({"A.label.lot": 5}, "entries[0].label.lot", "wrong-type"),
    ({"A.label.code": 5}, "entries[0].label.code", "wrong-type"),
    ({"A.label.use_by": 5}, "entries[0].label.use_by", "wrong-type"),
    ({"A.label.use_by": "May 2031"}, "entries[0].label.use_by", "bad-time"),
    ({"A.label.mode": "demand"}, "entries[0].label.mode", "unknown-key"),
    # the patient
    ({"patient": "x"}, "patient", "wrong-type"),
    ({"patient.name": "x"}, "patient.name", "unknown-key"),
    ({"patient.identifier": 5}, "patient.identifier", "wrong-type"),
    ({"patient.birth_date": "1961-4-9"}, "patient.birth_date", "bad-time"),
    ({"patient.weight": "82 mg"}, "patient.weight", "wrong-dimension"),
    ({"patient.weight": "0 kg"}, "patient.weight", "not-positive"),
    ({"patient.opioid_naive": "no"}, "patient.opioid_naive", "wrong-type"),
    ({"patient.opioid_naive": 0}, "patient.opioid_naive", "wrong-type"),
    # record and previous
    ({"order_of_record": []}, "order_of_record", "wrong-type"),
    ({"order_of_record.dose": "1 mg"}, "order_of_record.dose", "unknown-key"),
    ({"previous": "x"}, "previous", "wrong-type"),
    ({"previous.mode": "bolus"}, "previous.mode", "unknown-value"),
    # policy
    ({"policy": []}, "policy", "wrong-type"),
    ({"policy.strict": True}, "policy.strict", "unknown-key"),
    ({"policy.limit_counts_loading": "yes"}, "policy.limit_counts_loading", "wrong-type"),
    ({"policy.limit_counts_continuous": 1}, "policy.limit_counts_continuous", "wrong-type"),
    ({"policy.carrier_fluids": "saline"}, "policy.carrier_fluids", "wrong-type"),
    ({"policy.carrier_fluids": ["saline", None]}, "policy.carrier_fluids[1]", "wrong-type"),
    ({"policy.capnography_required": "on"}, "policy.capnography_required", "wrong-type"),
    ({"policy.pulse_oximetry_required": "on"}, "policy.pulse_oximetry_required", "wrong-type"),
    ({"policy.smallest_volume_step": "0 mL"}, "policy.smallest_volume_step", "not-positive"),
    ({"policy.prime_volume": "1 mg"}, "policy.prime_volume", "wrong-dimension"),
    ({"policy.dead_volume": "0 mL"}, "policy.dead_volume", "not-positive"),
    ({"policy.note_if_syringe_shorter_than": "0 h"}, "policy.note_if_syringe_shorter_than", "not-positive"),
    # library
    ({"library": []}, "library", "wrong-type"),
    ({"library.morphine": "x"}, "library.morphine", "wrong-type"),
    ({"library.morphine.doses": []}, "library.morphine.doses", "unknown-key"),
    ({"library.morphine.concentrations": "1 mg/mL"}, "library.morphine.concentrations", "wrong-type"),
    (
        {"library.morphine.concentrations": ["1 mg/mL", "1 mg"]},
        "library.morphine.concentrations[1]",
        "wrong-dimension",
    ),
    ({"library.morphine.concentrations": [None]}, "library.morphine.concentrations[0]", "wrong-type"),
    ({"library.morphine.limit_required": "yes"}, "library.morphine.limit_required", "wrong-type"),
    ({"library.morphine.limits": {}}, "library.morphine.limits", "wrong-type"),
    ({"library.morphine.limits": [None]}, "library.morphine.limits[0]", "wrong-type"),
    ({"library.morphine.limits": [{}]}, "library.morphine.limits[0].field", "missing-key"),
    ({"library.morphine.limits": [{"field": None}]}, "library.morphine.limits[0].field", "wrong-type"),
    ({"library.morphine.limits": [{"field": "dose"}]}, "library.morphine.limits[0].field", "unknown-value"),
    (
        {"library.morphine.limits": [{"field": "lockout", "low": "1 h"}]},
        "library.morphine.limits[0].low",
        "unknown-key",
    ),
    (
        {"library.morphine.limits": [{"field": "lockout"}, {"field": "lockout", "soft_low": "1 mg"}]},
        "library.morphine.limits[1].soft_low",
        "wrong-dimension",
    ),
]


@pytest.mark.parametrize(
    "row", REFUSED, ids=[f"{n}-{path}-{code}" for n, (_, path, code) in enumerate(REFUSED)]
)
def test_refused(row: tuple[dict[str, object], str, str]) -> None:
    changes, path, code = row
    assert error_of(changes) == (path, code)


WRONG_BOUNDS = {
    "demand_dose": "1 min",
    "lockout": "1 mg",
    "continuous_rate": "1 mg",
    "loading_dose": "1 mL",
    "amount_per_hour": "1 mg/h",
    "amount_per_4_hours": "1 mg/h",
}


@pytest.mark.parametrize("bound", ["soft_low", "soft_high", "hard_low", "hard_high"])
@pytest.mark.parametrize("field", WRONG_BOUNDS)
def test_a_bound_is_of_its_field_s_kind(field: str, bound: str) -> None:
    changes: dict[str, object] = {"library.morphine.limits": [{"field": field, bound: WRONG_BOUNDS[field]}]}
    assert error_of(changes) == (f"library.morphine.limits[0].{bound}", "wrong-dimension")


def test_every_bound_of_a_library_may_be_zero() -> None:
    zeros = {
        "demand_dose": "0 mg",
        "lockout": "0 s",
        "continuous_rate": "0 mcg/h",
        "loading_dose": "0 g",
        "amount_per_hour": "0 mg",
        "amount_per_4_hours": "0 mg",
    }
    rows = [
        {"field": field, "soft_low": zero, "soft_high": None, "hard_low": zero, "hard_high": zero}
        for field, zero in zeros.items()
    ]
    assert isinstance(read_case(case_with({"library.morphine.limits": rows})), Case)


def test_what_may_be_absent_may_be_null() -> None:
    case = case_with(
        {
            "policy": None,
            "library": None,
            "patient": None,
            "order_of_record": None,
            "previous": None,
            "A.read_at": None,
            "B.patient": None,
        }
    )
    assert isinstance(read_case(case), Case)
    rules = dict.fromkeys(
        (
            "limit_counts_loading",
            "limit_counts_continuous",
            "carrier_fluids",
            "capnography_required",
            "pulse_oximetry_required",
            "smallest_volume_step",
            "prime_volume",
            "dead_volume",
            "note_if_syringe_shorter_than",
        )
    )
    listed = {"morphine": {"concentrations": None, "limit_required": None, "limits": None}}
    patient = dict.fromkeys(("identifier", "birth_date", "weight", "opioid_naive"))
    silent = {"policy": rules, "library": listed, "patient": patient}
    assert read_case(case_with(silent)) == read_case(case_with({"library.morphine": {}}))


# Of two faults the one whose key the contract names first; each row puts two faults into one case.
FIRST_OF_TWO = [
    ("format", "policy.strict"),
    ("policy.limit_counts_loading", "policy.dead_volume"),
    ("policy.dead_volume", "library"),
    ("library", "patient.identifier"),
    ("patient.identifier", "patient.weight"),
    ("patient.opioid_naive", "order_of_record.drug"),
    ("order_of_record.drug", "previous.drug"),
    ("previous.syringe_size", "entries"),
    ("A.clinician", "A.read_at"),
    ("A.read_at", "A.patient"),
    ("A.patient", "A.order"),
    ("A.order.drug", "A.order.amount"),
    ("A.order.amount", "A.order.volume"),
    ("A.order.volume", "A.order.concentration"),
    ("A.order.concentration", "A.order.mode"),
    ("A.order.mode", "A.order.demand_dose"),
    ("A.order.demand_dose", "A.order.lockout"),
    ("A.order.lockout", "A.order.continuous_rate"),
    ("A.order.continuous_rate", "A.order.limit"),
    ("A.order.limit", "A.order.loading_dose"),
    ("A.order.loading_dose", "A.order.carrier"),
    ("A.order.carrier", "A.order.monitor"),
    ("A.order.monitor", "A.order.syringe_size"),
    ("A.order.syringe_size", "A.label.drug"),
    ("A.label.concentration", "A.label.lot"),
    ("A.label.lot", "A.label.use_by"),
    ("A.label.use_by", "A.label.code"),
    ("A.label.code", "A.label.syringe_size"),
    ("A.label.syringe_size", "A.device"),
    ("A.device.monitor.capnography", "A.device.monitor.pulse_oximetry"),
    ("A.device.monitor.apnea_time", "B.clinician"),
]


@pytest.mark.parametrize(("first", "second"), FIRST_OF_TWO)
def test_the_first_of_two_faults_is_reported(first: str, second: str) -> None:
    path = first.replace("A.", "entries[0].")
    # A number is of the wrong type everywhere. The order of the keys in the document does not matter.
    assert error_of({second: 5, first: 5}) == (path, "wrong-type")
    assert error_of({first: 5, second: 5}) == (path, "wrong-type")


MESSAGES: list[tuple[dict[str, object], str]] = [
    ({"format": "x"}, "Only countersign.case/1 can be read."),
    ({"notes": 1}, "This key is not known here."),
    ({"format": ABSENT}, "This key is needed."),
    ({"format": 1}, "A text is expected here."),
    ({"policy": 1}, "An object is expected here."),
    ({"entries": 1}, "A list is expected here."),
    ({"policy.carrier_fluids": 1}, "A list is expected here."),
    ({"entries": []}, "Exactly two clinicians read."),
    ({"patient.opioid_naive": 1}, "True or false is expected here."),
    ({"A.order.mode": "x"}, "This must be demand or continuous or demand-and-continuous."),
    ({"A.device.monitor.capnography": "x"}, "This must be on or off."),
    ({"A.read_at": "x"}, "Write a day as YYYY-MM-DD, a time as YYYY-MM-DDThh:mm+hh:mm."),
    ({"A.read_at": "2031-05-02"}, "Write a time as YYYY-MM-DDThh:mm+hh:mm."),
    ({"patient.birth_date": "1961-04-09T00:00Z"}, "Write a day as YYYY-MM-DD, without a time."),
    ({"A.clinician": "second"}, "Two different clinicians must read."),
    (
        {"library.morphine.limits": [{"field": "x"}]},
        (
            "This must be demand_dose or lockout or continuous_rate or loading_dose or amount_per_hour or "
            "amount_per_4_hours."
        ),
    ),
]


@pytest.mark.parametrize("row", MESSAGES, ids=range(len(MESSAGES)))
def test_message(row: tuple[dict[str, object], str]) -> None:
    changes, message = row
    refused = read_case(case_with(changes))
    assert isinstance(refused, CaseError)
    assert refused.message == message

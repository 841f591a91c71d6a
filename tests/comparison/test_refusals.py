"""What is no case: every code of the contract, wherever it can be met, and which of two comes first."""

import pytest

from app.comparison import Case, CaseError, read_case
from app.comparison.policy_reader import _POLICY_KEYS  # every key that there is
from tests.comparison.builders import ABSENT, case_with, error_of
from tests.comparison.refused_rows import REFUSED

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
    "first_hour_with_loading": "1 h",
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
        "first_hour_with_loading": "0 mg",
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
    rules = dict.fromkeys(_POLICY_KEYS)
    listed = {"morphine": {"concentrations": None, "limit_required": None, "limits": None}}
    patient = dict.fromkeys(("identifier", "birth_date"))
    silent: dict[str, object] = {"policy": rules, "library": listed, "patient": patient, "reads": None}
    assert read_case(case_with(silent)) == read_case(case_with({"library.morphine": {}}))


# Of two faults the one whose key the contract names first; each row puts two faults into one case.
FIRST_OF_TWO = [
    ("format", "policy.strict"),
    ("policy.limit_counts_loading", "policy.dead_volume"),
    ("policy.dead_volume", "library"),
    ("library", "patient.identifier"),
    ("patient.identifier", "patient.birth_date"),
    ("patient.birth_date", "order_of_record.drug"),
    ("order_of_record.drug", "previous.drug"),
    ("previous.syringe_size", "reads"),
    ("reads", "A.clinician"),
    ("A.clinician", "A.read_at"),
    ("A.read_at", "A.patient"),
    ("A.patient", "A.chart"),
    ("A.chart.patient", "A.chart.order_current"),
    ("A.chart.neuraxial_opioid", "A.chart.able_to_use_button"),
    ("A.chart.supplemental_oxygen", "A.chart.weight"),
    ("A.chart.weight", "A.order.patient"),
    ("A.order.patient.identifier", "A.order.patient.birth_date"),
    ("A.order.patient", "A.order.drug"),
    ("A.order.drug", "A.order.amount"),
    ("A.order.amount", "A.order.volume"),
    ("A.order.volume", "A.order.concentration"),
    ("A.order.concentration", "A.order.mode"),
    ("A.order.mode", "A.order.demand_dose"),
    ("A.order.demand_dose", "A.order.lockout"),
    ("A.order.lockout", "A.order.continuous_rate"),
    ("A.order.continuous_rate", "A.order.limit"),
    ("A.order.limit", "A.order.loading_dose"),
    ("A.order.loading_dose", "A.order.staff_bolus"),
    ("A.order.staff_bolus", "A.order.carrier"),
    ("A.order.carrier", "A.order.monitor"),
    ("A.order.monitor", "A.order.syringe_size"),
    ("A.order.syringe_size", "A.label.patient"),
    ("A.label.patient", "A.label.drug"),
    ("A.label.concentration", "A.label.use_by"),
    ("A.label.use_by", "A.label.syringe_size"),
    ("A.label.syringe_size", "A.label.lot"),
    ("A.label.lot", "A.label.code"),
    ("A.label.code", "A.device"),
    ("A.device.monitor.capnography", "A.device.monitor.pulse_oximetry"),
    ("A.device.monitor.apnea_time", "A.primed_volume"),
    ("A.primed_volume", "B.clinician"),
]


@pytest.mark.parametrize(("first", "second"), FIRST_OF_TWO)
def test_the_first_of_two_faults_is_reported(first: str, second: str) -> None:
    path = first.replace("A.", "entries[0].")
    # A number is of the wrong type everywhere. The order of the keys in the document does not matter.
    assert error_of({second: 5, first: 5}) == (path, "wrong-type")
    assert error_of({first: 5, second: 5}) == (path, "wrong-type")


MESSAGES: list[tuple[dict[str, object], str]] = [
    ({"format": "x"}, "Only countersign.case/2 can be read."),
    ({"notes": 1}, "This key is not known here."),
    ({"format": ABSENT}, "This key is needed."),
    ({"format": 1}, "A text is expected here."),
    ({"policy": 1}, "An object is expected here."),
    ({"entries": 1}, "A list is expected here."),
    ({"policy.carrier_fluids": 1}, "A list is expected here."),
    ({"entries": []}, "Exactly two clinicians read."),
    ({"policy.pulse_oximetry_required": 1}, "True or false is expected here."),
    ({"policy.caution_from_age": "x"}, "A whole number is expected here, without point or exponent."),
    ({"policy.caution_from_age": 999}, "This must lie between 1 and 150."),
    ({"A.device.limit": []}, "One to 3 limits can stand here."),
    ({"A.order.limit": [{"window": "1 h"}, {"window": "1 h"}]}, "Each limit has a time window of its own."),
    ({"A.patient.identifier": "*0417"}, "Write the whole identifier here."),
    (
        {"A.label.patient.identifier": "*1"},
        "Of an identifier write at least the last 4 characters after the star.",
    ),
    (
        {"A.device.demand_dose": "1 mL"},
        (
            "A device takes all its doses as amounts of drug or all as volumes. By what stands before, write "
            "mg, mcg or g."
        ),
    ),
    (
        {"A.device.demand_dose": "1 h"},
        "This unit measures something else. Here the unit is mg, mcg, g, mL or L.",
    ),
    ({"reads": ["label", {"is": "label", "by": "one"}]}, "Each source can stand here once."),
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
            "amount_per_4_hours or first_hour_with_loading."
        ),
    ),
]


@pytest.mark.parametrize("row", MESSAGES, ids=range(len(MESSAGES)))
def test_message(row: tuple[dict[str, object], str]) -> None:
    changes, message = row
    refused = read_case(case_with(changes))
    assert isinstance(refused, CaseError)
    assert refused.message == message


def test_a_library_that_no_json_could_hold_is_refused_where_it_cannot_be_read() -> None:
    assert error_of({"library.morphine": object()}) == ("library.morphine", "wrong-type")

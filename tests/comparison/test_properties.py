"""What holds for every case: symmetry, units, safety that only grows, results that keep to their form."""

import copy
import json
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from app.comparison import CaseError, Result, Verdict, evaluate, read_case
from app.comparison.chart import ANSWERS
from app.comparison.findings import CAUTIONS, place_of
from app.quantities import exact
from tests.comparison.builders import case_with
from tests.comparison.test_examples import schema
from tests.support.numbers import strings, unsafe

# Examples by hand take every branch; watched by the coverage tool these would take three times as long.
pytestmark = pytest.mark.no_cover

DRUGS = ("morphine", "Morphine ", "hydromorphone", None)
MASSES = ("0.2 mg", "200 mcg", "1 mg", "1000 mcg", "2 mg", "10 mg", "12 mg", "21 mg", "0.001 g", None)
SYRINGES = ("10 mg", "50 mg", "0.05 g", "60 mg")
VOLUMES = ("30 mL", "50 mL", "0.05 L", "60 mL")
LOCKOUTS = ("1 min", "5 min", "300 s", "8 min", "10 min", "1 h", "24 h", None)
RATES = ("0 mg/h", "0.5 mg/h", "500 mcg/h", "2 mg/h", "0.1 mg/min", None)
LIMITS = (
    None,
    *(
        {"amount": amount, "window": window}
        for amount in ("1 mg", "10 mg", "30 mg")
        for window in ("1 h", "4 h", "240 min", "24 h")
    ),
)
LISTED = [
    *LIMITS,
    [{"amount": "30 mg", "window": "4 h"}, {"amount": "10 mg", "window": "1 h"}],
    [
        {"amount": "1 mg", "window": "60 min"},
        {"amount": "12 mg", "window": "6 h"},
        {"amount": None, "window": "24 h"},
    ],
]
BOLUSES = (None, {"dose": "2 mg", "interval": "10 min", "most": "8 mg", "window": "4 h"})
IDENTIFIERS = ("INVENTED-0417", "invented 0417", "*0417", "*d-0417", "OTHER-0417", " ", None)
MODES = ("demand", "continuous", "demand-and-continuous", None)
FLUIDS = (None, {"fluid": "sodium chloride 0.9%", "rate": "10 mL/h"}, {"fluid": "glucose 5%"})

SWITCHES = st.sampled_from(("on", "off"))

order_like = st.fixed_dictionaries(
    {
        "drug": st.sampled_from(DRUGS),
        "mode": st.sampled_from(MODES),
        "demand_dose": st.sampled_from(MASSES),
        "lockout": st.sampled_from(LOCKOUTS),
        "amount": st.sampled_from(SYRINGES),
        "volume": st.sampled_from(VOLUMES),
    },
    optional={
        "continuous_rate": st.sampled_from(RATES),
        "limit": st.sampled_from(LISTED),
        "loading_dose": st.sampled_from(MASSES),
        "carrier": st.sampled_from(FLUIDS),
        "concentration": st.sampled_from(("1 mg/mL", "5 mg/mL", None)),
        "syringe_size": st.sampled_from(("50 mL", "60 mL")),
        "monitor": st.fixed_dictionaries(
            {},
            optional={
                "capnography": SWITCHES,
                "pulse_oximetry": SWITCHES,
                "low_spo2": st.sampled_from(("85 %", "90 %", None)),
                "apnea_time": st.sampled_from(("30 s", "0.5 min", None)),
            },
        ),
    },
)
named = st.fixed_dictionaries({"identifier": st.sampled_from(IDENTIFIERS)})
people = st.fixed_dictionaries(
    {
        "identifier": st.sampled_from(IDENTIFIERS),
        "birth_date": st.sampled_from(("1961-04-09", "1996-02-29", None)),
    }
)
labels = st.fixed_dictionaries(
    {"drug": st.sampled_from(DRUGS), "amount": st.sampled_from(SYRINGES), "volume": st.sampled_from(VOLUMES)},
    optional={
        "patient": st.one_of(st.none(), named),
        "lot": st.sampled_from(("L1", "l 1", "L2")),
        "use_by": st.sampled_from(("2031-05-02", "2031-05-01", "2031-05", "2031-05-02T14:30:00.5Z", None)),
        "syringe_size": st.sampled_from(("50 mL", "60 mL", "0.05 L", None)),
        "code": st.sampled_from(("]d201", "01", "02")),
    },
)
charts = st.fixed_dictionaries(
    {},
    optional={
        "patient": named,
        "weight": st.sampled_from(("49 kg", "74 kg", None)),
        **{key: st.sampled_from((*answers, None)) for key, answers in ANSWERS.items()},
    },
)
devices_in_volumes = st.fixed_dictionaries(
    {
        "drug": st.sampled_from(DRUGS),
        "mode": st.sampled_from(MODES),
        "demand_dose": st.sampled_from(("1 mL", "0.2 mL", "0.001 L")),
        "lockout": st.sampled_from(LOCKOUTS),
    },
    optional={
        "continuous_rate": st.sampled_from(("0 mL/h", "0.5 mL/h", "0.1 mL/min", None)),
        "limit": st.sampled_from(
            (None, {"amount": "10 mL", "window": "4 h"}, [{"amount": "4 mL", "window": "1 h"}])
        ),
        "loading_dose": st.sampled_from(("2 mL", None)),
        "syringe_size": st.sampled_from(("50 mL", "60 mL")),
    },
)
policies = st.fixed_dictionaries(
    {
        "limit_counts_loading": st.booleans(),
        "limit_counts_continuous": st.booleans(),
        "dead_volume": st.sampled_from((None, "0.5 mL")),
        "prime_volume": st.sampled_from((None, "1 mL")),
        "prime_tolerance": st.sampled_from((None, "0.2 mL")),
        "capnography_required": st.sampled_from((None, "always", "never")),
        "pharmacist_required": st.booleans(),
        "chart_patient_required": st.booleans(),
        "caution_from_age": st.sampled_from((None, 70)),
        "caution_below_weight": st.sampled_from((None, "50 kg")),
        "continuous_at_risk": st.sampled_from((None, "caution")),
        "keypad": st.sampled_from((None, "123-on-top")),
        "alarm_bounds": st.sampled_from((None, {"low_spo2": {"lowest": "88 %", "required": True}})),
        "raise_to_stop": st.lists(st.sampled_from(CAUTIONS), max_size=2),
    }
)


@st.composite
def cases(draw: st.DrawFn) -> dict[str, Any]:
    """Cases in which B mostly reads what A reads, and the device mostly does what the order says."""
    case = case_with()
    first, second = case["entries"]
    first["order"] = draw(order_like)
    first["label"] = draw(
        st.one_of(st.just({key: first["order"][key] for key in ("drug", "amount", "volume")}), labels)
    )
    first["device"] = draw(st.one_of(st.just(copy.deepcopy(first["order"])), order_like))
    first["device"].setdefault("monitor", {"capnography": "on", "pulse_oximetry": "on"})
    if draw(st.booleans()):
        first["device"] = draw(devices_in_volumes)
    if draw(st.booleans()):
        first["order"]["staff_bolus"] = draw(st.sampled_from(BOLUSES))
    first["order"]["patient"] = draw(people)
    first["patient"] = draw(people.filter(lambda each: not str(each["identifier"]).startswith("*")))
    first["chart"] = draw(charts)
    others = {
        "order": order_like,
        "label": labels,
        "device": st.one_of(order_like, devices_in_volumes),
        "chart": charts,
    }
    for source, other in others.items():
        second[source] = draw(st.one_of(st.just(copy.deepcopy(first[source])), other))
    second["patient"] = copy.deepcopy(first["patient"])
    for entry in (first, second):
        entry["primed_volume"] = draw(st.sampled_from((None, "0 mL", "1 mL", "1.1 mL", "1.3 mL")))
    case["policy"] = draw(policies)
    case["patient"] = draw(st.sampled_from(({}, {"identifier": "INVENTED-0417"})))
    if draw(st.booleans()):
        case["library"] = {
            "morphine": {
                "concentrations": ["1 mg/mL", {"is": "0.2 mg/mL", "tolerant_only": True}],
                "limit_required": True,
                "limits": [
                    {"field": "demand_dose", "soft_high": "2 mg", "hard_high": "10 mg"},
                    {"field": "continuous_rate", "soft_high": "0 mg/h", "for": "not-tolerant"},
                    {"field": "amount_per_hour", "soft_high": "4 mg"},
                    {"field": "amount_per_4_hours", "soft_high": "10 mg", "hard_high": "40 mg"},
                    {"field": "first_hour_with_loading", "soft_high": "5 mg"},
                ],
            }
        }
    if draw(st.booleans()):
        case["previous"] = draw(st.one_of(order_like, devices_in_volumes))
    return case


def is_in_volumes(case: dict[str, Any]) -> bool:
    """Whether one of them reads a device that takes its doses in mL."""
    return any(str(entry["device"]["demand_dose"]).endswith("L") for entry in case["entries"])


def result_of(case: object) -> Result:
    read = read_case(case)
    assert not isinstance(read, CaseError), read
    return evaluate(read)


@settings(max_examples=100)
@given(cases())
def test_no_number_that_is_told_can_be_misread(case: dict[str, Any]) -> None:
    told = result_of(case).as_json()
    for finding in told["findings"]:
        # As typed, for programs: the contract wants it so.
        del finding["readings"]
    assert [wrong for text in strings(told) for wrong in unsafe(text)] == []


@settings(max_examples=100)
@given(cases())
def test_every_result_keeps_to_the_schema_and_its_order(case: dict[str, Any]) -> None:
    result = result_of(case)
    assert list(schema("result").iter_errors(json.loads(json.dumps(result.as_json())))) == []
    assert list(result.findings) == sorted(result.findings, key=place_of)
    assert len({place_of(finding) for finding in result.findings}) == len(result.findings)


def mirrored(result: Result) -> dict[str, Any]:
    """A result with A and B exchanged, without what names or orders them."""
    other = {"A": "B", "B": "A"}
    made = result.as_json()
    for finding in made["findings"]:
        finding["readings"] = {
            ".".join([other.get(source.split(".")[0], source.split(".")[0]), *source.split(".")[1:]]): typed
            for source, typed in finding["readings"].items()
        }
        if "clinician" in finding:
            finding["clinician"] = other[finding["clinician"]]
    return {
        **made,
        "math": {other[key]: made["math"][key] for key in "BA"},
        "delivery": {other[key]: made["delivery"][key] for key in "BA"},
    }


_OF_BOTH = (
    "code",
    "severity",
    "group",
    "field",
    "readings",
    "origin",
    "clinician",
    "reasons",
    "fields",
)


def comparable(made: dict[str, Any]) -> dict[str, Any]:
    """Findings as a set; of a slip, a factor and a sentence that follow A's reading, nothing."""
    findings = [{key: finding.get(key) for key in _OF_BOTH} for finding in made["findings"]]
    return {**made, "findings": sorted(findings, key=json.dumps)}


@settings(max_examples=150)
@given(cases())
def test_a_and_b_are_alike(case: dict[str, Any]) -> None:
    """Whoever reads first: the same findings, figures and verdict, each under the other's letter."""
    first, second = case["entries"]
    # What a volume on the device is in mg follows the label; where the labels differ, that is A's label.
    assume(first["label"] == second["label"] or not is_in_volumes(case))
    swapped = {**case, "entries": case["entries"][::-1]}
    assert comparable(mirrored(result_of(swapped))) == comparable(result_of(case).as_json())


OTHER_UNITS = {
    "mg": (Fraction(1000), "mcg"),
    "mcg": (Fraction(1, 1000), "mg"),
    "g": (Fraction(1000), "mg"),
    "mL": (Fraction(1, 1000), "L"),
    "L": (Fraction(1000), "mL"),
    "min": (Fraction(60), "s"),
    "h": (Fraction(60), "min"),
    "mg/h": (Fraction(1000), "mcg/h"),
    "mcg/h": (Fraction(1, 1000), "mg/h"),
    "mg/mL": (Fraction(1000), "mcg/mL"),
}


def in_other_units(value: object) -> object:
    """The same case with every quantity in another unit."""
    if isinstance(value, dict):
        return {key: in_other_units(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [in_other_units(inner) for inner in value]
    if isinstance(value, str) and value.count(" ") == 1:
        number, unit = value.split(" ")
        if unit in OTHER_UNITS:
            factor, other = OTHER_UNITS[unit]
            return f"{exact(Fraction(number) * factor)} {other}"
    return value


@settings(max_examples=150)
@given(cases())
def test_units_change_no_value(case: dict[str, Any]) -> None:
    """Figures, findings with their factors, and the verdict stay; only notation and slips may change."""
    one, other = result_of(case), result_of(in_other_units(case))
    assert one.verdict == other.verdict
    assert one.as_json()["math"] == other.as_json()["math"]
    assert one.as_json()["delivery"] == other.as_json()["delivery"]
    about = [
        [
            (each.code, each.field, each.clinician, each.factor)
            for each in result.findings
            if each.code != "notation-differs"
        ]
        for result in (one, other)
    ]
    assert about[0] == about[1]


WRONG = st.one_of(
    st.tuples(st.just("drug"), st.sampled_from(("fentanyl", "ketamine"))),
    st.tuples(st.just("demand_dose"), st.sampled_from(("3.7 mg", "41 mcg", "9 g"))),
    st.tuples(st.just("lockout"), st.sampled_from(("3 min", "77 min"))),
    st.tuples(st.just("continuous_rate"), st.sampled_from(("7 mg/h", "33 mcg/h"))),
    st.tuples(
        st.just("limit"),
        st.sampled_from(({"amount": "77 mg", "window": "4 h"}, {"amount": "30 mg", "window": "5 h"})),
    ),
    st.tuples(st.just("loading_dose"), st.sampled_from(("5.5 mg", "7 g"))),
    st.tuples(
        st.just("limit"),
        st.just([{"amount": "77 mg", "window": "4 h"}, {"amount": "30 mg", "window": "1 h"}]),
    ),
    st.tuples(st.just("amount"), st.sampled_from(("77 mg", "1 g"))),
    st.tuples(st.just("volume"), st.sampled_from(("7 mL", "0.3 L"))),
    st.tuples(st.just("syringe_size"), st.sampled_from(("7 mL", "0.3 L"))),
)


@st.composite
def agreeing_cases(draw: st.DrawFn) -> dict[str, Any]:
    """Cases in which everybody reads the same everywhere."""
    changes: dict[str, object] = {
        "AB.all.amount": draw(st.sampled_from(SYRINGES)),
        "AB.all.volume": draw(st.sampled_from(VOLUMES)),
        "AB.settings.demand_dose": draw(st.sampled_from(MASSES[:-1])),
        "AB.settings.lockout": draw(st.sampled_from(LOCKOUTS[:-1])),
        "AB.settings.loading_dose": draw(st.sampled_from(MASSES)),
        "AB.settings.limit": draw(st.sampled_from(LIMITS)),
        "AB.chart.opioid_tolerant": draw(st.sampled_from(("yes", "no", "unknown"))),
    }
    if draw(st.booleans()):
        changes["AB.settings.mode"] = "demand-and-continuous"
        changes["AB.settings.continuous_rate"] = draw(st.sampled_from(RATES[1:-1]))
    return case_with(changes)


@settings(max_examples=150)
@given(agreeing_cases(), st.sampled_from(("A", "B", "AB")), WRONG)
def test_a_wrong_device_value_stops_every_check(
    case: dict[str, Any], readers: str, wrong: tuple[str, Any]
) -> None:
    assume(result_of(case).verdict is not Verdict.STOPPED)
    key, value = wrong
    for reader in readers:
        case["entries"]["AB".index(reader)]["device"][key] = value
    assert result_of(case).verdict is Verdict.STOPPED


@settings(max_examples=150)
@given(cases(), st.sampled_from(("A", "B", "AB")), WRONG)
def test_making_a_device_value_wrong_never_turns_stopped_into_anything_better(
    case: dict[str, Any], readers: str, wrong: tuple[str, Any]
) -> None:
    """A value that is nobody's order cannot put a stopped check right, whatever stopped it."""
    assume(not is_in_volumes(case))
    assume(result_of(case).verdict is Verdict.STOPPED)
    key, value = wrong
    for reader in readers:
        case["entries"]["AB".index(reader)]["device"][key] = value
    assert result_of(case).verdict is Verdict.STOPPED

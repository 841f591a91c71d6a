"""What a kind of check reads: what is not read takes no part, and one of the two may read for both."""

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from app.comparison import CaseError, evaluate, read_case
from tests.comparison.builders import ABSENT, case_with, error_of, found, result_of
from tests.comparison.test_examples import schema, without_words

EXAMPLES = Path(__file__).parent / "examples_of_reads"
CASES = sorted(EXAMPLES.glob("*.case.json"))
KEYS = {"wristband": "patient", "chart": "chart", "order": "order", "label": "label", "device": "device"}
ALL = list(KEYS)


def without(*unread: str, **changes: object) -> dict[str, object]:
    """The changes that make a case of a check that does not read these sources."""
    absent: dict[str, object] = {f"AB.{KEYS[source]}": ABSENT for source in unread}
    return {**absent, "reads": [source for source in ALL if source not in unread], **changes}


def by_one(source: str, **changes: object) -> dict[str, object]:
    """The changes that make a case in which A alone reads a source."""
    reads = [{"is": each, "by": "one"} if each == source else each for each in ALL]
    return {f"B.{KEYS[source]}": ABSENT, "reads": reads, **changes}


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.name.split(".")[0])
def test_example(path: Path) -> None:
    case = read_case(path.read_text())
    assert not isinstance(case, CaseError)
    result = evaluate(case).as_json()
    expected = json.loads(path.with_name(path.name.replace(".case.", ".result.")).read_text())
    assert json.loads(json.dumps(without_words(result))) == expected
    assert list(schema("case").iter_errors(json.loads(path.read_text()))) == []
    assert list(schema("result").iter_errors(result)) == []


def test_all_examples_are_here() -> None:
    assert len(CASES) == 4


def test_all_sources_named_are_all_sources() -> None:
    assert result_of({"reads": ALL}).as_json() == result_of().as_json()


@pytest.mark.parametrize("source", ALL)
def test_a_source_that_is_not_read_is_not_in_an_entry(source: str) -> None:
    changes = without(source)
    assert result_of(changes).as_json()["verdict"] == "agreed"
    key = KEYS[source]
    assert error_of({**changes, f"B.{key}": {}}) == (f"entries[1].{key}", "unknown-key")


@pytest.mark.parametrize("source", ALL)
def test_what_is_not_read_stands_beside_no_finding(source: str) -> None:
    changes = without(
        source,
        **{"AB.settings.drug": "fentanyl"} if source not in {"order", "device"} else {},
        **{"AB.label.drug": "pethidine"} if source != "label" else {},
    )
    for finding in result_of(changes).findings:
        assert not any(place.endswith(f".{source}") for place in finding.readings)


def test_without_a_wristband_nobody_is_compared_with_it() -> None:
    other = without("wristband", **{"AB.order.patient.identifier": "OTHER"})
    assert found(result_of(other)) == []
    known = {**other, "patient.identifier": "INVENTED-0417"}
    assert found(result_of(known)) == ["stop patient-differs patient.identifier"]


def test_without_a_chart_nothing_that_turns_on_it_is_judged() -> None:
    changes = without(
        "chart",
        **{
            "AB.settings.mode": "demand-and-continuous",
            "AB.settings.continuous_rate": "0.5 mg/h",
            "AB.device.monitor.capnography": "off",
            "policy.caution_from_age": 18,
            "policy.caution_below_weight": "200 kg",
            "library.morphine": {
                "concentrations": [{"is": "1 mg/mL", "tolerant_only": True}],
                "limits": [
                    {"field": "demand_dose", "for": "tolerant", "hard_high": "0.1 mg"},
                    {"field": "lockout", "for": "not-tolerant", "hard_low": "1 h"},
                ],
            },
        },
    )
    result = result_of(changes)
    assert found(result) == []
    assert result.not_judged == ("chart", "alarm-bounds", "line-set")
    # Its twin: the same with a chart that says nothing of note.
    read: dict[str, object] = {
        path: value for path, value in changes.items() if path not in {"reads", "AB.chart"}
    }
    assert found(result_of(read)) == [
        "stop below-hard-limit lockout",
        "stop strength-for-tolerant-only concentration",
        "stop continuous-in-patient-at-risk continuous_rate",
        "stop monitoring-off monitor.capnography",
    ]


def test_without_a_chart_the_weight_explains_no_slip() -> None:
    set_otherwise = {"AB.order.demand_dose": "0.1 mg", "AB.device.demand_dose": "7.4 mg"}
    [known, *_] = result_of(set_otherwise).findings
    [unknown, *_] = result_of(without("chart", **set_otherwise)).findings
    assert (known.slip, unknown.slip) == ("weight-slip", None)


def test_without_a_chart_a_site_that_always_requires_capnography_still_does() -> None:
    changes = without(
        "chart", **{"AB.device.monitor.capnography": "off", "policy.capnography_required": "always"}
    )
    assert found(result_of(changes)) == ["stop monitoring-off monitor.capnography"]


def test_without_a_chart_what_every_patient_may_have_can_be_unordered() -> None:
    unordered = {"AB.order.amount": ABSENT, "AB.order.volume": ABSENT, "AB.order.concentration": None}
    listed = {
        "library.morphine.concentrations": ["1 mg/mL", "2 mg/mL", {"is": "5 mg/mL", "tolerant_only": True}]
    }
    [finding] = result_of(without("chart", **unordered, **listed)).findings
    assert (finding.code, "5 mg/mL" in finding.says) == ("concentration-unordered", False)


def record(**changes: object) -> dict[str, object]:
    case = case_with()
    order = {key: value for key, value in case["entries"][0]["order"].items() if key != "patient"}
    return without("order", order_of_record=order, **changes)


def test_without_an_order_the_one_of_record_stands_in_its_place() -> None:
    assert found(result_of(record())) == []
    assert found(result_of(record(**{"AB.device.demand_dose": "2 mg", "AB.label.drug": "fentanyl"}))) == [
        "stop label-differs drug",
        "stop device-differs demand_dose",
    ]
    result = result_of(record(**{"AB.device.demand_dose": "0.1 mg"}))
    [finding] = result.findings
    assert finding.readings == {"A.device": "0.1 mg", "B.device": "0.1 mg", "record": "1 mg"}
    assert (finding.slip, finding.factor) == ("decimal-shift", Fraction(1, 10))
    math = result.as_json()
    assert math["math"]["A"]["order"] == result_of().as_json()["math"]["A"]["order"]
    assert math["delivery"]["A"]["factor"] == {"exact": "0.1", "shown": "0.1"}


def test_a_record_in_other_units_is_no_other_notation_where_no_order_is_read() -> None:
    changes = record()
    changes["order_of_record"] = {**dict(changes["order_of_record"]), "demand_dose": "1000 mcg"}  # type: ignore[call-overload]
    assert found(result_of(changes)) == []


def test_a_record_that_contradicts_itself_is_nobodys_reading() -> None:
    changes = record()
    changes["order_of_record"] = {**dict(changes["order_of_record"]), "concentration": "2 mg/mL"}  # type: ignore[call-overload]
    assert found(result_of(changes)) == []


def test_without_order_and_record_label_and_device_are_compared_with_nothing_but_their_strength() -> None:
    changes = without("order", **{"AB.device.demand_dose": "2 mg", "AB.device.amount": "100 mg"})
    assert found(result_of(changes)) == ["stop device-differs concentration"]


def test_what_one_alone_reads_counts_as_read_alike() -> None:
    assert found(result_of(by_one("label"))) == []
    assert found(
        result_of(by_one("chart", **{"A.chart.opioid_tolerant": "yes", "A.chart.allergy": "not-recorded"}))
    ) == ["caution allergy-not-recorded chart.allergy"]
    [finding] = result_of(by_one("device", **{"A.device.demand_dose": "2 mg"})).findings
    assert finding.clinician is None
    assert finding.code == "device-differs"


@pytest.mark.parametrize("source", ALL)
def test_either_of_the_two_may_be_the_one(source: str) -> None:
    first = case_with(by_one(source))
    second: dict[str, Any] = {**first, "entries": first["entries"][::-1]}
    results = []
    for case in (first, second):
        read = read_case(case)
        assert not isinstance(read, CaseError)
        results.append(evaluate(read).as_json())
    assert results[0] == results[1]


@pytest.mark.parametrize("source", ALL)
def test_what_one_alone_reads_is_in_one_entry_alone(source: str) -> None:
    key = KEYS[source]
    value = case_with()["entries"][0][key]
    assert error_of({**by_one(source), f"B.{key}": value}) == (f"entries[1].{key}", "unknown-key")


@pytest.mark.parametrize("source", ["order", "label", "device"])
def test_what_one_alone_must_read_nobody_reads(source: str) -> None:
    key = KEYS[source]
    assert error_of({**by_one(source), f"A.{key}": ABSENT}) == (f"entries[1].{key}", "missing-key")
    assert error_of({**by_one(source), f"A.{key}": None}) == (f"entries[0].{key}", "wrong-type")


def test_a_wristband_that_one_alone_should_have_read_is_missing_in_both() -> None:
    [identifier, _] = result_of(by_one("wristband", **{"A.patient": None})).findings
    assert (identifier.code, identifier.says.split(" by ")[1][:11]) == ("reading-missing", "both nurses")


def test_the_volumes_of_a_device_that_one_reads_are_of_the_label_that_each_read() -> None:
    changes = by_one(
        "device",
        **{
            "A.device.amount": ABSENT,
            "A.device.demand_dose": "1 mL",
            "B.label.amount": "250 mg",
        },
    )
    first, second = result_of(changes).figures
    doses = [each.device_settings.demand_dose for each in (first, second)]
    assert doses == [1, 5]

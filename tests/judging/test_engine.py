"""What becomes of a value that the engine cannot read, and of rules that it cannot."""

import pytest

from app.judging.engine import evaluated


def test_rules_that_cannot_be_read_stop_the_comparison() -> None:
    entries = [{"clinician": each, "order": {}, "label": {}, "device": {}} for each in "AB"]
    case = {"format": "countersign.case/2", "policy": {"prime_volume": "2.3"}, "entries": entries}

    with pytest.raises(ValueError, match=r"policy\.prime_volume: missing-unit"):
        evaluated(case)


def test_a_nested_value_is_taken_out_and_nothing_else() -> None:
    settings = {"drug": "morphine", "carrier": {"fluid": "sodium chloride 0.9%", "rate": "10"}}
    entries = [{"clinician": each, "order": {}, "label": {}, "device": dict(settings)} for each in "AB"]
    case, result = evaluated({"format": "countersign.case/2", "entries": entries})

    assert case["entries"][0]["device"]["carrier"] == {"fluid": "sodium chloride 0.9%"}
    assert result.as_json()["verdict"] == "stopped"


@pytest.mark.parametrize(
    ("known", "left"),
    [
        ({"previous": {"drug": "morphine", "lockout": "30 s"}}, {"previous": {"drug": "morphine"}}),
        ({"order_of_record": {"demand_dose": "1"}}, {"order_of_record": {}}),
        ({"patient": {"identifier": "DM-1", "birth_date": "82"}}, {"patient": {"identifier": "DM-1"}}),
    ],
)
def test_what_the_infusion_knows_and_the_engine_cannot_read_is_taken_out_too(
    known: dict[str, dict[str, str]], left: dict[str, dict[str, str]]
) -> None:
    entries = [{"clinician": each, "order": {}, "label": {}, "device": {}} for each in "AB"]
    case, _ = evaluated({"format": "countersign.case/2", "entries": entries, **known})

    assert {key: case[key] for key in known} == left


def test_of_a_list_that_cannot_be_read_nothing_is_left() -> None:
    twice = [{"amount": "1 mg", "window": "4 h"}, {"amount": "2 mg", "window": "240 min"}]
    entries = [{"clinician": each, "order": {"limit": twice}, "label": {}, "device": {}} for each in "AB"]
    case, _ = evaluated({"format": "countersign.case/2", "entries": entries})

    assert case["entries"][0]["order"] == {}

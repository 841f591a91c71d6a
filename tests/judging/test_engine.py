"""What becomes of a value that the engine cannot read, and of rules that it cannot."""

import pytest

from app.judging.engine import evaluated


def test_rules_that_cannot_be_read_stop_the_comparison() -> None:
    entries = [{"clinician": each, "order": {}, "label": {}, "device": {}} for each in "AB"]
    case = {"format": "countersign.case/1", "policy": {"prime_volume": "2.3"}, "entries": entries}

    with pytest.raises(ValueError, match=r"policy\.prime_volume: missing-unit"):
        evaluated(case)


def test_a_nested_value_is_taken_out_and_nothing_else() -> None:
    settings = {"drug": "morphine", "carrier": {"fluid": "sodium chloride 0.9%", "rate": "10"}}
    entries = [{"clinician": each, "order": {}, "label": {}, "device": dict(settings)} for each in "AB"]
    case, result = evaluated({"format": "countersign.case/1", "entries": entries})

    assert case["entries"][0]["device"]["carrier"] == {"fluid": "sodium chloride 0.9%"}
    assert result.as_json()["verdict"] == "stopped"

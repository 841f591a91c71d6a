"""What is judged while the safety steps are taken: the primed volumes, and whether anything may start."""

import pytest

from app.judging.steps import forbids_start
from app.records.policy import BaselineRule

RULE = BaselineRule(
    scale="a scale of our own",
    levels=(("0", "0: awake"), ("1", "1: drowsy"), ("2", "2: hard to wake")),
    may_start_at=("0", "1"),
    lowest_respiratory_rate="10 /min",
    lowest_spo2="94 %",
    outside=(),
)


@pytest.mark.parametrize(
    ("sedation", "respiratory_rate", "spo2", "forbidden"),
    [
        ("0", "14 /min", "98 %", False),
        # The bounds themselves allow it.
        ("1", "10 /min", "94 %", False),
        ("2", "14 /min", "98 %", True),
        ("0", "9.999 /min", "98 %", True),
        ("0", "14 /min", "93.999 %", True),
        ("0", "0 /min", "98 %", True),
    ],
)
def test_the_protocol_forbids_a_start_below_each_of_its_bounds(
    sedation: str, respiratory_rate: str, spo2: str, *, forbidden: bool
) -> None:
    observed = {"sedation": sedation, "respiratory_rate": respiratory_rate, "spo2": spo2}

    assert forbids_start(RULE, **observed) is forbidden

"""Honest is never stopped, and what left unwritten is found exactly when it is more than the budget."""

from fractions import Fraction
from random import Random  # noqa: TID251  # the one that Hypothesis draws from
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.accounting import balance
from app.accounting.findings import SEVERITIES
from app.comparison import Severity
from tests.accounting.builders import codes, read
from tests.accounting.honest_ward import HonestWard
from tests.accounting.recounted import RECOUNTED
from tests.support.sampling import examples

# Examples by hand take every branch; watched by the coverage tool these would take three times as long.
pytestmark = pytest.mark.no_cover

STOPS = {code for code in RECOUNTED if SEVERITIES[code] is Severity.STOP} | {"totals-not-attributed"}
POLICY = {"display_step_amount": "0.1 mg"}
concentrations = st.sampled_from((Fraction(1), Fraction(2), Fraction(5)))


def result(ward: HonestWard, policy: dict[str, Any]) -> dict[str, Any]:
    return balance(read(ward.case(policy))).as_json()


@settings(max_examples=examples(sample=37, whole=1500))
@given(st.randoms(use_true_random=False), concentrations, st.integers(0, 14))
def test_an_honest_account_is_never_stopped(rng: Random, concentration: Fraction, steps: int) -> None:
    ward = HonestWard(rng=rng, concentration=concentration)
    ward.live(steps)
    assert STOPS.isdisjoint(code for code, _ in codes(result(ward, POLICY)))
    ward.remove()
    ward.write("end")
    ended = result(ward, POLICY)
    assert STOPS.isdisjoint(code for code, _ in codes(ended))
    assert {finding["code"] for finding in ended["findings"]} <= {"totals-below-predicted"}


unwritten = st.integers(0, 80).map(lambda tenths: Fraction(tenths, 10))


@settings(max_examples=examples(sample=25, whole=1000))
@given(st.randoms(use_true_random=False), concentrations, unwritten)
def test_with_exact_instruments_what_left_in_use_is_found_when_it_is_more_than_the_budget(
    rng: Random, concentration: Fraction, volume: Fraction
) -> None:
    ward = HonestWard(rng=rng, concentration=concentration, errors=False)
    ward.live(2)
    ward.left -= volume
    ward.remove()
    ward.write("end")
    ended = result(ward, POLICY)
    stage = ended["syringes"][-1]["in_use"]
    # What can be typed has an end: a thousandth of a mL.
    assert 0 <= Fraction(stage["volume"]["exact"]) - volume <= Fraction(1, 1000)
    is_found = Fraction(stage["volume"]["exact"]) > Fraction(stage["budget"]["worst_case"]["exact"])
    assert (stage["verdict"] == "unexplained") == is_found
    assert ("unexplained" in {code for code, _ in codes(ended)}) == is_found


@settings(max_examples=examples(sample=25, whole=1000))
@given(st.randoms(use_true_random=False), unwritten)
def test_with_exact_instruments_what_left_the_hand_is_found_when_it_is_more_than_the_budget(
    rng: Random, volume: Fraction
) -> None:
    ward = HonestWard(rng=rng, errors=False)
    ward.live(0)
    ward.remove(unwritten_after=volume)
    ward.write("end")
    stage = result(ward, POLICY)["syringes"][-1]["in_hand"]
    assert 0 <= Fraction(stage["volume"]["exact"]) - volume <= Fraction(2, 1000)
    is_found = Fraction(stage["volume"]["exact"]) > Fraction(stage["budget"]["worst_case"]["exact"])
    assert (stage["verdict"] == "unexplained") == is_found


@settings(max_examples=examples(sample=25, whole=1000))
@given(st.randoms(use_true_random=False), concentrations, st.integers(0, 6))
def test_what_is_more_than_twice_the_budget_is_found_whatever_the_instruments_say(
    rng: Random, concentration: Fraction, steps: int
) -> None:
    ward = HonestWard(rng=rng, concentration=concentration)
    ward.live(steps)
    # No budget of such an infusion is more than half of this.
    ward.left -= 12
    ward.remove()
    ward.write("end")
    ended = result(ward, POLICY)
    budget = Fraction(ended["syringes"][-1]["in_use"]["budget"]["worst_case"]["exact"])
    assert budget < 6
    assert ("unexplained", "in_use") in {(each["code"], each["stage"]) for each in ended["findings"]}

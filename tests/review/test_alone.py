"""What each reader's own readings show: the definition of *caught by*, as a table."""

import copy
from typing import Any

import pytest

from app.records.kept import A, B
from app.review.alone import CaughtByEach, Classified, caught_by_each, shown_alone
from app.review.missed import Caught
from app.review.true_cases import ORDERS, Against, case_of, true_sources

AGAINST = Against(policy={}, library={})


def read(**device: str) -> dict[str, Any]:
    sources = copy.deepcopy(true_sources(ORDERS[0]))
    sources["device"] |= device
    return sources


RIGHT, WRONG = read(), read(lockout="80 min")


# What A and B read on a device, who misread it as a third person says, and whom it counts for.
@pytest.mark.parametrize(
    ("first", "second", "misread", "counts"),
    [
        # The device is wrong, and both read what stands there.
        (WRONG, WRONG, "", Caught(first=1, second=1, both=1)),
        # The device is wrong, and B read what was expected.
        (WRONG, RIGHT, "B", Caught(first=1, second=0, both=0)),
        (RIGHT, WRONG, "A", Caught(first=0, second=1, both=0)),
        # The device is right, and A typed a wrong number: nobody caught an error, as there was none.
        (WRONG, RIGHT, "A", Caught(first=0, second=0, both=0)),
        # Both read what was expected, as somebody found afterwards.
        (RIGHT, RIGHT, "AB", Caught(first=0, second=0, both=0)),
    ],
)
def test_caught_by_is_what_ones_own_readings_alone_show(
    first: dict[str, Any], second: dict[str, Any], misread: str, counts: Caught
) -> None:
    finding = Classified(case=case_of(first, second, AGAINST), field="lockout", misread=misread)

    assert caught_by_each([finding]) == CaughtByEach(caught=counts, slips=int(counts.distinct == 0))


def test_only_the_field_that_a_finding_is_about_counts() -> None:
    case = case_of(WRONG, RIGHT, AGAINST)

    assert [shown_alone(case, letter, "lockout") for letter in (A, B)] == [True, False]
    assert not shown_alone(case, A, "demand_dose")


def test_errors_add_up_over_findings() -> None:
    both = Classified(case=case_of(WRONG, WRONG, AGAINST), field="lockout", misread="")
    one = Classified(case=case_of(WRONG, RIGHT, AGAINST), field="lockout", misread="B")

    assert caught_by_each([both, one, both]).caught == Caught(first=3, second=2, both=2)


def test_what_the_other_alone_read_is_not_asked_of_this_one() -> None:
    """One read the order and nothing else, the other the device: neither alone shows that they differ."""
    case = case_of(WRONG, WRONG, AGAINST)
    own, other = case["entries"]
    one_read_it = {"is": "order", "by": "one"}
    case |= {
        "reads": ["wristband", "chart", one_read_it, "label", "device"],
        "entries": [own, {key: each for key, each in other.items() if key != "order"}],
    }

    assert [shown_alone(case, letter, "lockout") for letter in (A, B)] == [True, False]


def test_a_case_that_cannot_be_read_for_one_alone_is_a_bug() -> None:
    with pytest.raises(ValueError, match="cannot be read for one alone"):
        shown_alone(case_of(read(lockout="soon"), RIGHT, AGAINST), A, "lockout")

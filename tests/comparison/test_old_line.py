"""What a primed line still holds of a syringe that was replaced, to the last digit."""

from collections.abc import Mapping

import pytest

from app.comparison import CaseError, read_case
from app.comparison.old_line import has_other_strength, held_in_line
from tests.comparison.builders import ABSENT, case_with


def held(changes: Mapping[str, object]) -> str | None:
    case = read_case(case_with({"policy.prime_volume": "2.4 mL", **changes}))
    assert not isinstance(case, CaseError), case
    found = held_in_line(case)
    return None if found is None else f"{found[1].as_json()['exact']} mg of {found[0]}"


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        # By hand: 2.4 mL of 250 mg in 50 mL, which is 5 mg/mL.
        ({"AB.label.amount": "250 mg"}, "12 mg of morphine"),
        ({}, "2.4 mg of morphine"),
        # A third of a mg in a mL, exactly.
        ({"AB.label.amount": "10 mg", "AB.label.volume": "30 mL"}, "0.8 mg of morphine"),
        ({"AB.label.drug": "HYDROmorphone"}, "2.4 mg of HYDROmorphone"),
        # One drug, typed in two ways: as the first nurse typed it.
        ({"A.label.drug": "Morphine"}, "2.4 mg of Morphine"),
        # Nobody can say where the two read another label, or the site what the set holds.
        ({"A.label.amount": "250 mg"}, None),
        ({"B.label.drug": "HYDROmorphone"}, None),
        ({"AB.label.amount": ABSENT}, None),
        ({"AB.label.drug": ABSENT}, None),
        ({"policy.prime_volume": ABSENT}, None),
    ],
)
def test_it_is_what_the_set_holds_of_the_strength_on_the_label(
    changes: dict[str, object], says: str | None
) -> None:
    assert held(changes) == says


@pytest.mark.parametrize(
    ("changes", "other"),
    [
        # The label is 1 mg/mL.
        ({"previous": {"concentration": "1 mg/mL"}}, False),
        ({"previous": {"concentration": "5 mg/mL"}}, True),
        # Of a device that takes volumes the order of record says it.
        ({"previous": {"demand_dose": "1 mL"}, "order_of_record": {"concentration": "5 mg/mL"}}, True),
        ({"previous": {"concentration": "1 mg/mL"}, "order_of_record": {"concentration": "5 mg/mL"}}, False),
        # Nobody can say where it is not known, or the label was not read alike.
        ({}, False),
        ({"previous": {"concentration": "5 mg/mL"}, "A.label.amount": "250 mg"}, False),
    ],
)
def test_another_strength_is_one_that_was_not_in_force_before(
    changes: dict[str, object], *, other: bool
) -> None:
    case = read_case(case_with(changes))
    assert not isinstance(case, CaseError), case

    assert has_other_strength(case) is other

"""The worst case of a case: as ordered, and as set with the syringe's real strength."""

from fractions import Fraction
from typing import Any

from app.comparison import Case, WorstCase, read_case, read_without_library, worst_cases
from app.dosing import Curve, Limit
from tests.comparison.builders import case_with

LIMIT = {"AB.settings.limit": {"amount": "6 mg", "window": "4 h"}}


def of(changes: dict[str, Any]) -> tuple[WorstCase, WorstCase]:
    case = read_case(case_with(changes))
    assert isinstance(case, Case)
    return worst_cases(case)


def both(worst: WorstCase) -> tuple[Curve, Curve]:
    assert worst.ordered is not None
    assert worst.given is not None
    return worst.ordered, worst.given


def test_what_is_set_as_ordered_is_given_as_ordered() -> None:
    first, second = of(LIMIT)
    ordered, given = both(first)

    assert first == second
    assert ordered == given
    # Six demands of 1 mg, one lockout of 10 min apart; then the limit refuses until 4 h have passed.
    assert ordered.before(Fraction(60)) == 6
    assert ordered.before(Fraction(240)) == 6
    assert first.limits == (Limit(amount=Fraction(6), window=Fraction(240)),)
    assert first.until == 240


def test_the_drug_library_has_no_say_in_it() -> None:
    case = case_with({**LIMIT, "library": {}})
    without, bare = read_without_library(case), read_case({**case, "library": None})
    assert isinstance(without, Case)
    assert without == bare != read_case(case)
    assert worst_cases(without) == of(LIMIT)


def test_a_fivefold_syringe_gives_five_times_what_is_set() -> None:
    # 250 mg where 50 mg are ordered: the device counts on 1 mg/mL and the syringe holds 5 mg/mL.
    first, _ = of({**LIMIT, "AB.label.amount": "250 mg"})
    ordered, given = both(first)

    assert ordered.before(Fraction(240)) == 6
    assert given.before(Fraction(240)) == 30
    assert given.waits == ordered.waits
    # The line is the limit as ordered, which such a syringe passes.
    assert first.limits == (Limit(amount=Fraction(6), window=Fraction(240)),)


def test_each_clinicians_readings_are_drawn_apart() -> None:
    first, second = of({**LIMIT, "B.device.lockout": "5 min"})

    assert both(first)[0] == both(second)[0]
    assert both(first)[1].demands != both(second)[1].demands


def test_another_drug_is_not_drawn_as_given() -> None:
    first, _ = of({**LIMIT, "AB.label.drug": "HYDROmorphone"})

    assert first.ordered is not None
    assert first.given is None


def test_the_longer_window_is_shown_and_four_hours_at_least() -> None:
    day = {"amount": "30 mg", "window": "24 h"}

    assert of({"AB.settings.limit": {"amount": "3 mg", "window": "1 h"}})[0].until == 240
    assert of({**LIMIT, "AB.device.limit": day})[0].until == 1440
    assert of({**LIMIT, "AB.order.limit": day})[0].until == 1440


def test_where_the_order_has_no_limit_the_line_is_what_the_devices_lets_through() -> None:
    unordered = {**LIMIT, "AB.order.limit": None, "AB.label.amount": "100 mg"}

    assert of(unordered)[0].limits == (Limit(amount=Fraction(12), window=Fraction(240)),)
    assert of({**unordered, "AB.label.drug": "HYDROmorphone"})[0].limits == ()
    assert of({})[0].limits == ()

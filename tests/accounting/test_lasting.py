"""Until when the syringe on a device lasts, and when to ask pharmacy for the next one, by hand."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from app.accounting import balance
from app.accounting.lasting import Ends, Lasting, Pace, find_lasting
from tests.accounting.builders import ABSENT, account, at, entry, issued, read, set_up, totals

CONTINUOUS = {"mode": "continuous", "demand_dose": ABSENT, "lockout": ABSENT, "continuous_rate": "2 mg/h"}
# 38 mL left at 16:30; 12 mg went in the 8 h since the start at 08:30.
USED = (*set_up(), entry("read", "16:30", totals=totals("12 mg", 15, 12), left="38 mL"))


def moment(time: str) -> datetime:
    return datetime.fromisoformat(at(time))


def lasting(
    *entries: dict[str, Any],
    policy: dict[str, Any] | None = None,
    use_by: str = "",
    in_use: timedelta | None = None,
) -> Lasting | None:
    result = balance(read(account(*entries, policy=policy)))
    return find_lasting(result, use_by=moment(use_by) if use_by else None, in_use=in_use)


def of_used(**given: Any) -> Lasting:  # noqa: ANN401  # what the function above takes
    found = lasting(*USED, **given)
    assert found is not None
    return found


def test_where_no_syringe_is_on_nothing_lasts() -> None:
    removed = entry("removed", "16:40", totals=totals("12 mg", 15, 12), left="38 mL")
    assert lasting(issued()) is None
    assert lasting(*USED, removed) is None


def test_it_is_empty_at_each_pace_that_is_known() -> None:
    """38 mL at 12 mL in 8 h: 25 h 20 min from 16:30 on; full use is one mg each 8 min, 38 times."""
    found = of_used()
    assert (found.syringe, found.on_since, found.runs) == ("S1", moment("08:20"), True)
    assert found.empty == {Pace.SO_FAR: moment("3T17:50"), Pace.FULL: moment("21:34")}
    assert found.end(Pace.CONTINUOUS) is None
    assert found.end(Pace.SO_FAR) == (moment("3T17:50"), Ends.EMPTY)


def test_by_the_continuous_part_alone() -> None:
    """50 mL at 2 mL/h."""
    found = lasting(*set_up(**CONTINUOUS), entry("read", "08:30", left="50 mL"))
    assert found is not None
    assert found.empty[Pace.CONTINUOUS] == moment("3T09:30")


@pytest.mark.parametrize(
    ("given", "at_pace", "whatever_the_pace"),
    [
        # Put on at 08:20.
        ({"in_use": timedelta(hours=24)}, ("3T08:20", Ends.IN_USE), ("3T08:20", Ends.IN_USE)),
        ({"in_use": timedelta(hours=48)}, ("3T17:50", Ends.EMPTY), ("4T08:20", Ends.IN_USE)),
        ({"use_by": "2T20:00"}, ("2T20:00", Ends.USE_BY), ("2T20:00", Ends.USE_BY)),
        (
            {"use_by": "2T20:00", "in_use": timedelta(hours=4)},
            ("2T12:20", Ends.IN_USE),
            ("2T12:20", Ends.IN_USE),
        ),
    ],
)
def test_what_comes_first_ends_it(
    given: dict[str, Any], at_pace: tuple[str, Ends], whatever_the_pace: tuple[str, Ends]
) -> None:
    found = of_used(**given)
    for pace, expected in ((Pace.SO_FAR, at_pace), (None, whatever_the_pace)):
        assert found.end(pace) == (moment(expected[0]), expected[1])


def test_pharmacy_is_asked_by_the_lead_time_before_the_first_end() -> None:
    """Four hours unless the site says otherwise; of full use apart."""
    assert of_used().ask_by == moment("3T13:50")
    assert of_used().ask_by_at_full_use == moment("17:34")
    assert of_used(policy={"lead_time": "90 min"}).ask_by == moment("3T16:20")
    in_use = of_used(in_use=timedelta(hours=12))
    assert (in_use.ask_by, in_use.ask_by_at_full_use) == (moment("16:20"), moment("16:20"))
    assert of_used(use_by="2T22:00").ask_by == moment("18:00")


def test_with_nothing_to_go_by_it_is_never_low() -> None:
    """Nobody has read what is left, and neither label nor site says until when."""
    found = lasting(*set_up())
    assert found is not None
    assert (found.empty, found.ask_by, found.end()) == ({}, None, None)
    assert not found.is_low(moment("9T08:00"))


def test_it_is_low_from_the_time_to_ask_on_until_the_next_is_at_hand() -> None:
    minute = timedelta(minutes=1)
    found = of_used()
    assert not found.is_low(moment("3T13:50") - minute)
    assert found.is_low(moment("3T13:50"))

    for other, at_hand in (("1 mg/mL", True), ("5 mg/mL", False)):
        spare = issued("16:40", "S2", concentration=other)
        beside = lasting(*USED, spare)
        assert beside is not None
        assert (beside.has_next, beside.is_low(moment("3T13:50"))) == (at_hand, not at_hand)

"""The forecast by hand."""

from typing import Any

import pytest

from tests.accounting.builders import (
    ABSENT,
    codes,
    entry,
    exact,
    finding,
    issued,
    result_of,
    set_up,
    settings,
    totals,
)

CONTINUOUS = {"mode": "continuous", "demand_dose": ABSENT, "lockout": ABSENT, "continuous_rate": "2 mg/h"}


def forecast(
    *entries: dict[str, Any], policy: dict[str, Any] | None = None, now: str | None = None
) -> dict[str, Any]:
    found = result_of(*entries, policy=policy, now=now)["forecast"]
    assert isinstance(found, dict)
    return found


def read(time: str, left: str, amount: str | None = None) -> dict[str, Any]:
    return entry("read", time, left=left, totals=None if amount is None else totals(amount))


@pytest.mark.parametrize(
    "entries",
    [
        # No syringe on.
        [issued()],
        # Never set, or not since the device was changed.
        [issued(), entry("loaded", "08:20", syringe="S1"), read("08:30", "50 mL")],
        [
            *set_up(),
            read("09:00", "49 mL"),
            entry("device", "09:10", totals=totals("1 mg"), after=totals("0 mg")),
        ],
        # Never read, or not since it was loaded.
        set_up(),
        [
            *set_up(),
            entry("removed", "09:00", totals=totals("1 mg"), left="49 mL"),
            entry("loaded", "09:10", syringe="S1"),
        ],
        # Nothing but the totals was read.
        [*set_up(), entry("read", "09:00", totals=totals("1 mg"))],
    ],
)
def test_there_is_none_without_a_syringe_on_its_reading_and_settings(entries: list[dict[str, Any]]) -> None:
    assert result_of(*entries)["forecast"] is None


def test_by_the_continuous_part() -> None:
    found = forecast(*set_up(**CONTINUOUS), read("10:30", "45 mL", "4 mg"), now="11:30")
    assert exact(found["by_continuous"]["minutes"]) == "1350 min"
    assert found["by_continuous"]["empty_at"] == "2031-05-03T09:00+02:00"
    # 5 mL are gone in two hours, so 45 mL last for 18 h: shorter than by the rate.
    assert exact(found["by_use"]["minutes"]) == "1080 min"
    assert exact(found["left_now"]) == "42.5 mL"
    assert found["ask_by"] == "2031-05-03T00:30+02:00"
    assert exact(found["at_full_use"]["minutes"]) == "1350 min"


def test_beyond_thirty_days_there_is_no_end() -> None:
    slow = {**CONTINUOUS, "continuous_rate": "0.0694 mg/h"}
    found = forecast(*set_up(**slow), read("08:30", "50 mL"))
    assert (found["by_continuous"], found["by_use"], found["at_full_use"]) == (None, None, None)
    assert (found["left_now"], found["ask_by"], found["ask_by_at_full_use"]) == (None, None, None)
    # 50 mg in exactly 30 days.
    just = {**CONTINUOUS, "continuous_rate": "0.07 mg/h"}
    assert (
        exact(forecast(*set_up(**just), read("08:30", "50 mL"))["by_continuous"]["minutes"]) == "300000/7 min"
    )


def test_what_was_primed_and_wasted_since_the_reading_is_gone() -> None:
    entries = [*set_up(**CONTINUOUS), read("09:30", "10 mL", "2 mg"), entry("primed", "09:40", volume="1 mL")]
    spill = entry("wasted", "09:50", syringe="S1", volume="3 mL", witnessed=True)
    other = [issued("09:55", "S2"), entry("wasted", "09:56", syringe="S2", volume="3 mL", witnessed=True)]
    assert exact(forecast(*entries, spill, *other)["volume"]) == "6 mL"


def test_nothing_is_left_of_less_than_nothing() -> None:
    entries = [*set_up(**CONTINUOUS), read("09:30", "1 mL", "2 mg"), entry("primed", "09:40", volume="2 mL")]
    found = forecast(*entries)
    assert (exact(found["volume"]), exact(found["left_now"])) == ("0 mL", "0 mL")
    assert exact(found["by_continuous"]["minutes"]) == "0 min"
    assert found["by_continuous"]["empty_at"] == "2031-05-02T09:30+02:00"


def test_what_is_left_now_ends_at_nothing() -> None:
    found = forecast(*set_up(**CONTINUOUS), read("09:30", "1 mL", "2 mg"), now="3T09:30")
    assert exact(found["left_now"]) == "0 mL"


def test_a_pause_changes_nothing_but_what_ran() -> None:
    entries = [*set_up(**CONTINUOUS), read("10:30", "46 mL", "4 mg"), entry("paused", "11:30")]
    found = forecast(*entries, now="15:30")
    assert (found["running"], exact(found["left_now"])) == (False, "44 mL")
    assert exact(found["by_continuous"]["minutes"]) == "1380 min"


def test_the_settings_are_those_at_the_end() -> None:
    entries = [*set_up(**CONTINUOUS), read("10:30", "46 mL", "4 mg"), settings("11:00")]
    found = forecast(*entries)
    assert found["by_continuous"] is None
    # 46 demands of 1 mg, every 8 min from 0 on: the 47th finds nothing left.
    assert exact(found["at_full_use"]["minutes"]) == "368 min"


def test_by_use_counts_the_time_of_every_loading_up_to_the_count() -> None:
    found = forecast(
        *set_up(),
        entry("removed", "09:30", totals=totals("2 mg"), left="48 mL"),
        entry("loaded", "10:00", syringe="S1"),
        entry("started", "10:30"),
        read("11:30", "46 mL", "4 mg"),
        read("12:30", "45 mL"),
    )
    # 4 mL in two hours of running; the hour after the last count is not used.
    assert (found["from"], exact(found["by_use"]["minutes"])) == (8, "1350 min")


def test_by_use_goes_by_the_larger_of_the_two_accounts() -> None:
    more = forecast(*set_up(), read("10:30", "45 mL", "4 mg"))
    less = forecast(*set_up(), read("10:30", "47 mL", "4 mg"))
    assert exact(more["by_use"]["minutes"]) == "1080 min"
    assert exact(less["by_use"]["minutes"]) == "1410 min"


def test_by_use_needs_a_use_and_a_time() -> None:
    assert forecast(*set_up(), read("10:30", "50 mL", "0 mg"))["by_use"] is None
    stood = [issued(), entry("loaded", "08:20", syringe="S1"), settings()]
    assert forecast(*stood, read("10:30", "45 mL", "0 mg"))["by_use"] is None


def test_a_syringe_that_is_empty_cannot_give_the_first_demand() -> None:
    assert exact(forecast(*set_up(), read("10:30", "0.9 mL", "49 mg"))["at_full_use"]["minutes"]) == "0 min"


def test_full_use_under_several_limits() -> None:
    """Two mg an hour and five in four hours: 9 mg last to the tenth demand, at 360 min."""
    limits = [{"amount": "5 mg", "window": "4 h"}, {"amount": "2 mg", "window": "1 h"}]
    found = forecast(*set_up(limit=limits, lockout="10 min"), read("10:30", "9 mL", "41 mg"))
    assert exact(found["at_full_use"]["minutes"]) == "360 min"


def test_the_policy_may_have_pharmacy_asked_by_full_use() -> None:
    entries = [*set_up(), read("10:30", "45 mL", "4 mg")]
    assert forecast(*entries)["ask_by"] == "2031-05-03T00:30+02:00"
    found = forecast(*entries, policy={"ask_at_full_use": True, "lead_time": "30 min"})
    assert found["ask_by"] == found["ask_by_at_full_use"] == "2031-05-02T16:00+02:00"


@pytest.mark.parametrize(
    ("typed", "offset", "empty_at"),
    [
        ("2031-05-02T10:30:59.9Z", "+00:00", "2031-05-03T09:30"),
        ("2031-05-02T01:00-09:30", "-09:30", "2031-05-03T00:00"),
        ("2031-05-03T00:30+14:00", "+14:00", "2031-05-03T23:30"),
    ],
)
def test_times_are_written_at_the_reading_s_offset_rounded_down(
    typed: str, offset: str, empty_at: str
) -> None:
    found = forecast(*set_up(**CONTINUOUS), {**read("10:30", "46 mL"), "at": typed})
    assert found["by_continuous"]["empty_at"] == f"{empty_at}{offset}"


def test_pharmacy_is_asked_when_it_is_due_and_no_syringe_waits() -> None:
    # 46 mL by 2 mg/h last for 23 h from 10:30 on: to be asked by 05:30.
    entries = [*set_up(**CONTINUOUS), read("10:30", "46 mL", "4 mg")]
    assert codes(result_of(*entries, now="3T05:29")) == []
    due = result_of(*entries, now="3T05:30")
    assert codes(due) == [("ask-pharmacy", None)]
    assert finding(due, "ask-pharmacy")["says"].endswith("it was due by 2031-05-03T05:30+02:00.")
    # As written: rounded down to the minute.
    late = {**entries[-1], "at": "2031-05-02T10:30:59+02:00"}
    assert codes(result_of(*entries[:-1], late, now="3T05:30")) == [("ask-pharmacy", None)]


@pytest.mark.parametrize(
    ("spare", "is_asked"),
    [
        ([issued("11:00", "S2")], False),
        ([issued("11:00", "S2", amount="100 mg", volume="50 mL")], True),
        (
            [
                issued("11:00", "S2"),
                entry("returned", "11:10", syringe="S2", volume="50 mL", received=True),
            ],
            True,
        ),
    ],
)
def test_a_spare_of_the_same_strength_that_was_never_loaded_is_enough(
    spare: list[dict[str, Any]],
    is_asked: bool,  # noqa: FBT001  # a row
) -> None:
    entries = [*set_up(**CONTINUOUS), read("10:30", "46 mL", "4 mg"), *spare]
    assert codes(result_of(*entries, now="3T06:00")) == ([("ask-pharmacy", None)] if is_asked else [])


def test_a_syringe_that_was_on_before_is_no_spare() -> None:
    result = result_of(
        *set_up(**CONTINUOUS),
        entry("removed", "09:30", totals=totals("2 mg"), left="48 mL"),
        issued("09:40", "S2"),
        entry("loaded", "09:45", syringe="S2"),
        entry("started", "09:45"),
        read("10:45", "48 mL", "4 mg"),
        now="3T09:00",
    )
    assert codes(result) == [("in-hand", None), ("ask-pharmacy", None)]
    assert exact(finding(result, "in-hand")["difference"]) == "48 mL"

"""Every figure of one source: what it comes to by hand, and which inputs it cannot do without."""

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from app.dosing import (
    Counting,
    Delivery,
    Limit,
    SetInUse,
    SourceSettings,
    delivery,
    dose_math,
)
from app.quantities import Dimension, Quantity
from tests.dosing.sources import CONTINUOUS, DEMAND, FULL, IN_USE, NO_MODE, plain

# By hand: 4 + 1 counted at 0; each 10 min adds 1 + 0.5, so 4 + 1.5 n + 1 <= 20 holds up to n = 10, and the
# demand at 110 min (4 + 11 + 5.5 + 1 = 21.5) is refused. After 240 min the rate takes 12 of 20, which
# leaves 8 demands in any window: the next at 240 + 3 x 10 min, 170 min after the one at 100 min; then 8
# every 240 min, again with 240 - 70 = 170 min between them.
#
# The syringe: 92 mg after priming and loading. 11 demands and 8 each from 270, 510 and 750 min on make 35,
# and the next run begins at 990 min, when 35 + 49.5 = 84.5 are gone. At 1.5 mg each five more are whole
# (990 to 1,030); the sixth at 1,040 is not: 40 + 52 + 1 > 92. The rate takes the last drug at (92 - 40) /
# 3 h = 1,040 min, too.
BY_HAND = {
    "concentration": "2",
    "demand_volume": "1/2",
    "demands_per_hour": 6,
    "by_lockout": ("9", "36", "216"),
    "full_use": ("9", "23", str(11 + 8 * 5 + 72)),
    "first_hour_with_loading": "13",
    "limit_first_refuses_at": "110",
    "demands_before_limit": 11,
    "longest_wait": "170",
    "syringe_lasts_full_use": "1040",
    "syringe_lasts_continuous": "1840",
    "primed_amount": "4",
    "junction_bolus": "1",
    "carrier_delay": str(Fraction(60) * Fraction(1, 2) / (10 + Fraction(3, 2))),
    "first_windows_with_loading": ["27"],
}


def test_all_figures_by_hand() -> None:
    figures = plain(dose_math(FULL, IN_USE))
    assert figures == BY_HAND


USES = {
    "concentration": {
        "concentration",
        "demand_volume",
        "syringe_lasts_full_use",
        "syringe_lasts_continuous",
        "primed_amount",
        "junction_bolus",
        "carrier_delay",
    },
    "volume": {"syringe_lasts_full_use", "syringe_lasts_continuous"},
    "demand_dose": {
        "demand_volume",
        "by_lockout",
        "full_use",
        "first_hour_with_loading",
        "limit_first_refuses_at",
        "demands_before_limit",
        "longest_wait",
        "syringe_lasts_full_use",
        "first_windows_with_loading",
    },
    "lockout": {
        "demands_per_hour",
        "by_lockout",
        "full_use",
        "first_hour_with_loading",
        "limit_first_refuses_at",
        "demands_before_limit",
        "longest_wait",
        "syringe_lasts_full_use",
        "first_windows_with_loading",
    },
    "rate": {
        "by_lockout",
        "full_use",
        "first_hour_with_loading",
        "limit_first_refuses_at",
        "demands_before_limit",
        "longest_wait",
        "syringe_lasts_full_use",
        "syringe_lasts_continuous",
        "carrier_delay",
        "first_windows_with_loading",
    },
    "limits": {
        "full_use",
        "first_hour_with_loading",
        "limit_first_refuses_at",
        "demands_before_limit",
        "longest_wait",
        "syringe_lasts_full_use",
        "first_windows_with_loading",
    },
    "loading": {
        "full_use",
        "first_hour_with_loading",
        "limit_first_refuses_at",
        "demands_before_limit",
        "longest_wait",
        "syringe_lasts_full_use",
        "syringe_lasts_continuous",
        "first_windows_with_loading",
    },
    "carrier_rate": {"carrier_delay"},
}


@pytest.mark.parametrize("absent", USES)
def test_what_each_figure_cannot_do_without(absent: str) -> None:
    changes: dict[str, Any] = {absent: None}
    if absent == "limits":
        changes = {"limits": (), "limits_read": False}
    figures = plain(dose_math(replace(FULL, **changes), IN_USE))
    assert {name for name, figure in figures.items() if figure is None} == USES[absent]
    whole = plain(dose_math(FULL, IN_USE))
    assert all(figures[name] == whole[name] for name in figures.keys() - USES[absent])


def test_no_dead_volume_gives_no_junction_bolus_and_no_delay() -> None:
    figures = plain(dose_math(FULL, SetInUse()))
    assert (figures["junction_bolus"], figures["carrier_delay"], figures["primed_amount"]) == (
        None,
        None,
        "0",
    )


def test_a_limit_that_was_read_as_none() -> None:
    figures = plain(dose_math(replace(FULL, limits=()), IN_USE))
    assert figures["full_use"] == figures["by_lockout"] == ("9", "36", "216")
    assert figures["first_hour_with_loading"] == "13"
    assert figures["longest_wait"] == "10"
    assert (figures["limit_first_refuses_at"], figures["demands_before_limit"]) == (None, None)
    assert figures["first_windows_with_loading"] is None


def test_the_demand_mode_needs_no_rate() -> None:
    figures = plain(dose_math(DEMAND, IN_USE))
    assert figures["by_lockout"] == ("6", "24", "144")
    assert figures["full_use"] == ("6", "16", str(16 + 5 * 20))
    assert figures["syringe_lasts_continuous"] is None
    assert figures["carrier_delay"] == "3"
    assert dose_math(replace(DEMAND, concentration=None), IN_USE).carrier_delay is not None


def test_the_continuous_mode_needs_no_demands() -> None:
    figures = plain(dose_math(CONTINUOUS, IN_USE))
    assert figures["by_lockout"] == figures["full_use"] == ("3", "12", "72")
    assert figures["first_hour_with_loading"] == "7"
    assert figures["syringe_lasts_full_use"] == figures["syringe_lasts_continuous"] == "1840"
    assert figures["first_windows_with_loading"] == ["16"]
    for name in ("demand_volume", "demands_per_hour", "limit_first_refuses_at", "longest_wait"):
        assert figures[name] is None


def test_of_the_use_of_a_source_without_mode_nothing_is_said_and_it_still_states_its_values() -> None:
    figures = plain(dose_math(NO_MODE, IN_USE))
    assert figures["by_lockout"] is figures["full_use"] is figures["first_hour_with_loading"] is None
    assert (figures["demand_volume"], figures["demands_per_hour"]) == ("1/2", 6)
    assert (figures["syringe_lasts_full_use"], figures["syringe_lasts_continuous"]) == (None, None)
    assert figures["carrier_delay"] == BY_HAND["carrier_delay"]


def test_a_rate_of_zero_is_a_value() -> None:
    figures = plain(dose_math(replace(FULL, rate=Fraction(0)), IN_USE))
    assert figures["by_lockout"] == ("6", "24", "144")
    assert figures["syringe_lasts_continuous"] is None
    assert figures["carrier_delay"] == "3"
    # Without a rate the carrier alone moves the drug, and no concentration is needed.
    without = dose_math(replace(FULL, rate=Fraction(0), concentration=None), IN_USE)
    assert plain(without)["carrier_delay"] == "3"


@pytest.mark.parametrize(
    ("loading", "full_use", "continuous"),
    [
        # 96 mg after priming; a loading dose of exactly that leaves nothing.
        (Fraction(96), "0", "0"),
        (Fraction(97), "0", "0"),
        (Fraction(95), "0", "20"),
        (Fraction(94), "10", "40"),
        # 0.5 mg left: no demand is whole, and the rate of 3 mg/h takes it in 10 min.
        (Fraction("95.5"), "0", "10"),
        # 2.52 mg left: the demand at 10 min is whole (2 + 0.5), and the rate takes 0.02 mg in 0.4 min.
        (Fraction("93.48"), "52/5", "252/5"),
    ],
)
def test_a_syringe_that_the_loading_dose_nearly_empties(
    loading: Fraction, full_use: str, continuous: str
) -> None:
    """1 mg left: the demand at 0 takes it, and the rate finds none. 2 mg left: 1 + 0.5, not 1 at 10 min."""
    source = replace(FULL, loading=loading, limits=())
    figures = plain(dose_math(source, IN_USE))
    assert (figures["syringe_lasts_full_use"], figures["syringe_lasts_continuous"]) == (full_use, continuous)


def test_priming_that_takes_more_than_there_is() -> None:
    figures = plain(dose_math(replace(FULL, loading=Fraction(0)), SetInUse(prime_volume=Fraction(51))))
    assert (figures["syringe_lasts_full_use"], figures["syringe_lasts_continuous"]) == ("0", "0")
    silent = replace(NO_MODE, loading=Fraction(0))
    assert plain(dose_math(silent, SetInUse(prime_volume=Fraction(51))))["syringe_lasts_full_use"] is None


def test_a_loading_dose_that_leaves_exactly_nothing_can_be_given() -> None:
    """96 mg after priming. Where nothing more is drawn, nothing is ever found missing."""
    assert plain(dose_math(replace(NO_MODE, loading=Fraction(96)), IN_USE))["syringe_lasts_full_use"] is None
    # The loading dose fills the limit of the first 4 h: the first demand, not there any more, is at 240 min.
    limit = Limit(amount=Fraction(96), window=Fraction(240))
    source = replace(DEMAND, loading=Fraction(96), limits=(limit,))
    assert plain(dose_math(source, IN_USE))["syringe_lasts_full_use"] == "240"


def test_thirty_days_are_the_longest() -> None:
    # 96 mg at 96 mg in 30 days, and at the least bit less.
    thirty_days = Fraction(96, 30 * 24)
    lasting = replace(CONTINUOUS, loading=Fraction(0), rate=thirty_days)
    assert plain(dose_math(lasting, IN_USE))["syringe_lasts_continuous"] == "43200"
    longer = replace(lasting, rate=thirty_days * Fraction(999_999, 1_000_000))
    assert plain(dose_math(longer, IN_USE))["syringe_lasts_continuous"] is None


def test_a_day_is_the_longest_that_a_refusal_is_looked_for() -> None:
    """72 demands, one every 20 min: the 73rd at 1,440 min. 71 demands: the 72nd at 1,420 min."""
    for count, refused_at in ((71, "1420"), (72, None)):
        limit = Limit(amount=Fraction(count), window=Fraction(1440))
        source = replace(DEMAND, lockout=Fraction(20), limits=(limit,), loading=Fraction(0))
        figures = plain(dose_math(source, IN_USE))
        assert figures["limit_first_refuses_at"] == refused_at
        assert figures["demands_before_limit"] == (None if refused_at is None else count)
        # 1,440 - 70 x 20 min, and nothing to wait for but the lockout.
        assert figures["longest_wait"] == ("40" if refused_at else "20")


def test_a_wait_that_begins_after_a_day_is_not_looked_at() -> None:
    """One demand a day, the first only when the loading dose no longer counts."""
    limit = Limit(amount=Fraction(4), window=Fraction(1440))
    figures = plain(dose_math(replace(DEMAND, limits=(limit,)), IN_USE))
    assert (figures["limit_first_refuses_at"], figures["demands_before_limit"]) == ("0", 0)
    assert figures["longest_wait"] is None


def test_what_the_policy_says_counts() -> None:
    """Without the loading dose 20 demands less what the rate takes; without the rate 16 demands."""
    counts = {
        (True, True): "110",
        # 1 + 1.5 n <= 20 up to n = 12
        (False, True): "130",
        # 4 + n + 1 <= 20 up to n = 15
        (True, False): "160",
        (False, False): "200",
    }
    for (loading, continuous), refused_at in counts.items():
        in_use = SetInUse(counting=Counting(loading=loading, continuous=continuous))
        assert plain(dose_math(FULL, in_use))["limit_first_refuses_at"] == refused_at


def test_everything_counts_unless_the_policy_says_otherwise() -> None:
    assert plain(dose_math(FULL, SetInUse()))["limit_first_refuses_at"] == "110"
    assert Counting() == Counting(loading=True, continuous=True)


def over_time(hour: str, four_hours: str, day: str) -> dict[str, object]:
    """Drug over time as the contract writes it."""
    amounts = {"1 h": hour, "4 h": four_hours, "24 h": day}
    return {time: {"exact": mg, "unit": "mg", "shown": f"{mg} mg"} for time, mg in amounts.items()}


def test_as_json_has_the_contract_s_keys_in_its_order() -> None:
    made = dose_math(FULL, IN_USE).as_json()
    assert list(made) == [name for name in BY_HAND if name != "first_windows_with_loading"]
    assert made == {
        "concentration": {"exact": "2", "unit": "mg/mL", "shown": "2 mg/mL"},
        "demand_volume": {"exact": "0.5", "unit": "mL", "shown": "0.5 mL"},
        "demands_per_hour": 6,
        "by_lockout": over_time("9", "36", "216"),
        "full_use": over_time("9", "23", "123"),
        "first_hour_with_loading": {"exact": "13", "unit": "mg", "shown": "13 mg"},
        "limit_first_refuses_at": {"exact": "110", "unit": "min", "shown": "110 min"},
        "demands_before_limit": 11,
        "longest_wait": {"exact": "170", "unit": "min", "shown": "170 min"},
        "syringe_lasts_full_use": {"exact": "1040", "unit": "min", "shown": "1,040 min"},
        "syringe_lasts_continuous": {"exact": "1840", "unit": "min", "shown": "1,840 min"},
        "primed_amount": {"exact": "4", "unit": "mg", "shown": "4 mg"},
        "junction_bolus": {"exact": "1", "unit": "mg", "shown": "1 mg"},
        "carrier_delay": {"exact": "60/23", "unit": "min", "shown": "2.61 min"},
    }
    assert dose_math(replace(FULL, concentration=None), IN_USE).as_json()["concentration"] is None


def given(order: SourceSettings, device: SourceSettings, syringe: Fraction | None) -> Delivery:
    return delivery(order=order, device=device, device_math=dose_math(device, IN_USE), syringe=syringe)


def test_what_device_and_syringe_deliver_together() -> None:
    device = replace(FULL, concentration=Fraction(4), demand_dose=Fraction(3), rate=Fraction(6))
    delivered = given(FULL, device, Fraction(2))
    assert delivered.as_json() == {
        "strength": {"exact": "0.5", "shown": "0.5"},
        "ordered_demand": {"exact": "1", "unit": "mg", "shown": "1 mg"},
        "actual_demand": {"exact": "1.5", "unit": "mg", "shown": "1.5 mg"},
        "ordered_continuous": {"exact": "3", "unit": "mg/h", "shown": "3 mg/h"},
        "actual_continuous": {"exact": "3", "unit": "mg/h", "shown": "3 mg/h"},
        "ordered_loading": {"exact": "4", "unit": "mg", "shown": "4 mg"},
        "actual_loading": {"exact": "2", "unit": "mg", "shown": "2 mg"},
        "factor": {"exact": "1.5", "shown": "1.5"},
        # In the first hour 4 demands of 3 mg, 6 mg by rate, 4 mg loading: 22 as set.
        "actual_first_hour": {"exact": "11", "unit": "mg", "shown": "11 mg"},
        "primed_drug": None,
    }


def test_a_continuous_device_is_measured_by_its_rate() -> None:
    device = replace(CONTINUOUS, rate=Fraction(6))
    assert given(FULL, device, Fraction(2)).factor == 2
    assert given(replace(FULL, rate=Fraction(0)), device, Fraction(2)).factor is None
    assert given(replace(FULL, rate=None), device, Fraction(2)).factor is None
    assert given(FULL, replace(device, rate=Fraction(0)), Fraction(2)).factor is None
    assert given(FULL, replace(device, rate=Fraction(0)), Fraction(2)).actual_continuous == Quantity(
        value=Fraction(0), dimension=Dimension.MASS_RATE
    )


def test_any_other_device_is_measured_by_its_demand() -> None:
    assert given(FULL, replace(DEMAND, demand_dose=Fraction(5)), Fraction(2)).factor == 5
    assert given(FULL, replace(NO_MODE, demand_dose=Fraction(5)), Fraction(2)).factor == 5
    assert given(replace(FULL, demand_dose=None), FULL, Fraction(2)).factor is None
    assert given(FULL, replace(FULL, demand_dose=None), Fraction(2)).factor is None


@pytest.mark.parametrize(
    ("device", "syringe"), [(replace(FULL, concentration=None), Fraction(2)), (FULL, None)]
)
def test_without_strength_nothing_actual_is_known(device: SourceSettings, syringe: Fraction | None) -> None:
    delivered = given(FULL, device, syringe)
    known = {name for name, figure in delivered.as_json().items() if figure is not None}
    assert known == {"ordered_demand", "ordered_continuous", "ordered_loading"}


def test_no_loading_dose_is_shown_as_none() -> None:
    none = replace(FULL, loading=Fraction(0))
    delivered = given(none, none, Fraction(2))
    assert (delivered.ordered_loading, delivered.actual_loading) == (None, None)
    assert given(FULL, replace(FULL, loading=None), Fraction(2)).actual_first_hour is None


def test_a_delivery_of_which_nothing_is_said() -> None:
    assert set(Delivery().as_json().values()) == {None}


@pytest.mark.parametrize(
    ("drug", "lasts"),
    [
        # The run at 60 and 70 min is whole from 4 + 7 mg on: 10.5 mg are not enough for the second, ...
        ("10.5", "70"),
        # ... 12.5 mg are, and the rate takes the last 8.5 - 7 mg 15 min later.
        ("12.5", "85"),
        # 17 mg: at 120 min 4 + 12 are gone, the demand takes the last, and the rate finds nothing.
        # 18 mg: 5 + 13 are gone at 130 min. 19.5 mg: 6 + 13 are, and the rate takes the rest by 135 min.
        ("17", "120"),
        ("18", "130"),
        ("19.5", "135"),
    ],
)
def test_a_syringe_that_ends_in_or_after_a_repeated_run(drug: str, lasts: str) -> None:
    """2 demands of 1 mg, 10 min apart, every hour; 0.1 mg/min beside them that does not count."""
    source = replace(
        FULL,
        concentration=Fraction(1),
        volume=Fraction(drug),
        rate=Fraction(6),
        limits=(Limit(amount=Fraction(2), window=Fraction(60)),),
        loading=Fraction(0),
    )
    in_use = SetInUse(counting=Counting(continuous=False))
    assert plain(dose_math(source, in_use))["syringe_lasts_full_use"] == lasts

"""What a limit makes of demands at full use: the shapes that a limit, a loading dose and a rate can give."""

from dataclasses import replace
from fractions import Fraction

import pytest

from app.dosing import Counting, Limit, SetInUse, SourceSettings, dose_math
from app.quantities import Dimension, Quantity
from tests.dosing.sources import DEMAND, FULL, IN_USE, plain


def limited(amount: str, hours: int, source: SourceSettings = DEMAND) -> SourceSettings:
    """The source with a limit of so many mg in so many hours."""
    return replace(source, limits=(Limit(amount=Fraction(amount), window=Fraction(60 * hours)),))


def test_a_limit_of_exactly_what_lockout_allows_refuses_nothing() -> None:
    """1 mg an hour, and 4 mg in 4 h."""
    source = limited("4", 4, replace(DEMAND, lockout=Fraction(60), loading=Fraction(0)))
    figures = plain(dose_math(source, IN_USE))
    assert (figures["limit_first_refuses_at"], figures["demands_before_limit"]) == (None, None)
    assert figures["full_use"] == figures["by_lockout"] == ("1", "4", "24")
    assert figures["longest_wait"] == "60"


def test_a_loading_dose_that_takes_most_of_the_first_window() -> None:
    """8 of 10 mg in 4 h: demands at 0 and 60 min, then, when it no longer counts, one an hour for ever."""
    source = limited("10", 4, replace(DEMAND, lockout=Fraction(60), loading=Fraction(8)))
    figures = plain(dose_math(source, IN_USE))
    assert (figures["limit_first_refuses_at"], figures["demands_before_limit"]) == ("120", 2)
    # 24 h: 2, and 20 from 240 to 1,380 min.
    assert figures["full_use"] == ("1", "2", "22")
    assert figures["longest_wait"] == "180"
    # 50 mL less 2 for priming hold 96 mg: 8, 2 and 86, the last at 240 + 85 x 60; the next finds nothing.
    assert figures["syringe_lasts_full_use"] == "5400"
    # 7 mL: 10 mg, gone with the demand at 60 min; the next that the limit allows is at 240 min.
    less = plain(dose_math(replace(source, volume=Fraction(7)), IN_USE))
    assert less["syringe_lasts_full_use"] == "240"


def test_runs_of_more_than_one_milligram() -> None:
    """2 mg every 10 min, 20 mg in 4 h: ten demands from 0, 240, 480 min and so on."""
    source = limited("20", 4, replace(DEMAND, demand_dose=Fraction(2), loading=Fraction(0)))
    figures = plain(dose_math(source, IN_USE))
    assert (figures["limit_first_refuses_at"], figures["demands_before_limit"]) == ("100", 10)
    assert figures["full_use"] == ("12", "20", "120")
    assert figures["longest_wait"] == "150"
    # 96 mg are 48 demands: 10, three runs of 10 more, and 8 from 960 to 1,030 min.
    assert figures["syringe_lasts_full_use"] == "1040"


def test_the_rate_takes_what_demands_of_two_milligrams_leave() -> None:
    """4.6 mg at 3 mg/h, no limit: 2 at 0, 2 at 10 min, and the last 0.6 by 12 min.

    12.5 mg at 6 mg/h that does not count, 4 mg in 1 h: 4 by 10 min, 2 at 60, and the last 6.5 by 65 min.
    """
    two = replace(FULL, concentration=Fraction(1), demand_dose=Fraction(2), loading=Fraction(0), limits=())
    unlimited = dose_math(replace(two, volume=Fraction("4.6")), SetInUse())
    assert plain(unlimited)["syringe_lasts_full_use"] == "12"
    source = limited("4", 1, replace(two, volume=Fraction("12.5"), rate=Fraction(6)))
    in_runs = dose_math(source, SetInUse(counting=Counting(continuous=False)))
    assert plain(in_runs)["syringe_lasts_full_use"] == "65"


def test_a_rate_that_uses_the_limit_up() -> None:
    """1 + 1.5 n <= 12.5 up to n = 7; after 4 h the rate takes 12 of 12.5 mg, and no demand of 1 mg fits."""
    figures = plain(dose_math(limited("12.5", 4, replace(FULL, loading=Fraction(0))), IN_USE))
    assert (figures["limit_first_refuses_at"], figures["demands_before_limit"]) == ("80", 8)
    assert figures["full_use"] == ("9", "20", "80")
    assert figures["longest_wait"] is None
    # 96 mg less 8 demands, at 3 mg/h.
    assert figures["syringe_lasts_full_use"] == "1760"


def test_a_refusal_at_a_day_is_none_before_a_day() -> None:
    """3 mg/h and 143 mg in 24 h: at 1,420 min 71 + 72 mg are given, at 1,440 one more would be too many.

    A later day holds 71 demands beside the rate's 72 mg, so the next waits until 1,440 + 20 min.
    """
    source = limited("143", 24, replace(FULL, lockout=Fraction(20), loading=Fraction(0)))
    figures = plain(dose_math(source, IN_USE))
    assert (figures["limit_first_refuses_at"], figures["demands_before_limit"]) == (None, None)
    assert figures["longest_wait"] == "40"


@pytest.mark.parametrize(
    ("limit", "hours", "lockout", "longest_wait"),
    [
        # Demands at 240, 250, 260 and 270 min, and the next at 480.
        ("4", 4, 10, "210"),
        # Hourly from 960 min on. Eight: the last at 1,380, and the next at 960 + 960.
        ("8", 16, 60, "540"),
        # Nine: the last at 1,440, no longer before 24 h.
        ("9", 16, 60, "60"),
    ],
)
def test_a_loading_dose_that_takes_the_whole_first_window(
    limit: str, hours: int, lockout: int, longest_wait: str
) -> None:
    source = limited(limit, hours, replace(DEMAND, lockout=Fraction(lockout), loading=Fraction(limit)))
    figures = plain(dose_math(source, IN_USE))
    assert (figures["limit_first_refuses_at"], figures["demands_before_limit"]) == ("0", 0)
    assert figures["longest_wait"] == longest_wait


def test_a_demand_in_the_last_minute_of_the_hour() -> None:
    """Every 59 min: at 0 and 59, in 4 h up to 236, in 24 h up to 24 x 59 = 1,416."""
    figures = plain(dose_math(replace(DEMAND, lockout=Fraction(59)), IN_USE))
    assert figures["by_lockout"] == ("2", "5", "25")
    assert figures["demands_per_hour"] == 2


def test_what_the_first_window_holds_is_an_amount_of_drug() -> None:
    """11 demands in 4 h, 12 mg by the rate and the loading dose of 4 mg."""
    held = dose_math(FULL, IN_USE).first_windows_with_loading
    assert held == (Quantity(value=Fraction(27), dimension=Dimension.MASS),)

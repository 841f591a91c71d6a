"""Several limits at once, by hand; and that one limit, stepped through, is what is computed without steps."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.dosing import Counting, Limit, SetInUse, SourceSettings, dose_math
from app.dosing.pump import first_refusal, granted_before, grants_at_full_use, longest_wait
from app.dosing.pump_settings import PumpSettings
from app.dosing.several_limits import GrantsByStep
from app.dosing.syringe import Draw, lasts
from tests.dosing.sources import DEMAND, FULL, plain


def limited(*limits: tuple[str, int], source: SourceSettings = DEMAND) -> SourceSettings:
    """The source with limits of so many mg in so many hours."""
    made = tuple(Limit(amount=Fraction(amount), window=Fraction(60 * hours)) for amount, hours in limits)
    return replace(source, loading=Fraction(0), limits=made)


def test_two_windows_hold_each_in_its_own_time() -> None:
    """By hand: 1 mg every 6 min, at most 8 mg in 1 h and 20 mg in 4 h.

    Eight demands by 42 min; refused at 48; at 60 the first leaves the hour. 60 to 102 and 120 to 138 min make
    twenty, and the next is at 240 min: 102 min later. Full use in 24 h: 20 in each 4 h, 120 mg.
    """
    source = replace(limited(("8", 1), ("20", 4)), lockout=Fraction(6), concentration=Fraction(1))
    figures = plain(dose_math(source, SetInUse()))
    assert (figures["limit_first_refuses_at"], figures["demands_before_limit"]) == ("48", 8)
    assert figures["full_use"] == ("8", "20", "120")
    assert figures["longest_wait"] == "102"
    assert figures["first_windows_with_loading"] == ["8", "20"]
    # 50 mL of 1 mg/mL: 20 by 138, 20 by 378, the fifty-first is the eleventh from 480 on: 540 + 2 x 6 min.
    assert figures["syringe_lasts_full_use"] == "552"


def test_a_second_limit_that_never_binds_changes_nothing() -> None:
    one = plain(dose_math(limited(("8", 1)), SetInUse()))
    two = plain(dose_math(limited(("8", 1), ("1000", 24)), SetInUse()))
    assert two.pop("first_windows_with_loading") == ["6", "144"]
    assert one.pop("first_windows_with_loading") == ["6"]
    assert one == two


def test_a_limit_below_the_dose_lets_nothing_through_beside_another() -> None:
    figures = plain(dose_math(limited(("0.5", 1), ("20", 4)), SetInUse()))
    assert (figures["limit_first_refuses_at"], figures["demands_before_limit"]) == ("0", 0)
    assert figures["full_use"] == ("0", "0", "0")
    assert figures["longest_wait"] is None
    assert figures["syringe_lasts_full_use"] is None


def test_a_rate_fills_the_longer_limit_and_the_last_demand_has_no_next_one() -> None:
    """3 mg/h fills 12 mg in 4 h: demands while 1 + n + 3 t <= 12 holds, and none after it."""
    source = limited(("8", 1), ("12", 4), source=FULL)
    figures = plain(dose_math(source, SetInUse()))
    assert figures["longest_wait"] is None
    # 12 demands at most: at 10 n min the counted rate is 0.5 n, so 1.5 n + 1 <= 8 lets n = 0 to 4 through in
    # the hour; from 60 min on the hour holds 5 demands beside 3 mg. At 60 it is 5 + 3 + 1 = 9 mg in 4 h.
    assert (figures["limit_first_refuses_at"], figures["demands_before_limit"]) == ("50", 5)
    # 60, 70 and 80 min: 8 + 4 = 12 mg. At 90 min it would be 8 + 4.5 + 1.
    assert figures["full_use"] == ("8", str(8 + 12), str(8 + 72))
    # 100 mg after 50 mL of 2 mg/mL: 8 demands leave 92, gone at 92 / 3 h.
    assert figures["syringe_lasts_full_use"] == "1840"


def test_waiting_for_one_limit_can_make_another_wait() -> None:
    """What the hour lets through at 60 min the four hours soon do no more: the rate was counted on."""
    source = limited(("4", 1), ("6", 4), source=replace(FULL, rate=Fraction(1, 2)))
    figures = plain(dose_math(source, SetInUse()))
    # 1 + n + n / 12 <= 4: 0, 10, 20 min. At 60 min 3 + 0.5 + 1 <= 6, at 70 min 4 + 7 / 12 + 1 <= 6, and
    # at 80 min no more.
    assert figures["full_use"][1] == str(Fraction(5 + 2))
    assert (figures["limit_first_refuses_at"], figures["demands_before_limit"]) == ("30", 3)


def test_a_syringe_that_lasts_longer_than_thirty_days() -> None:
    rare = limited(("1", 24), ("1", 23), source=replace(DEMAND, volume=Fraction(500)))
    assert plain(dose_math(rare, SetInUse()))["syringe_lasts_full_use"] is None


amounts = st.integers(1, 300).map(lambda tenths: Fraction(tenths, 10))


@given(
    dose=amounts,
    lockout=st.integers(1, 300),
    rate=st.sampled_from((Fraction(0), Fraction(1, 120), Fraction(1, 7))),
    loading=st.sampled_from((Fraction(0), Fraction(3), Fraction(1, 3))),
    limit=st.tuples(amounts, st.integers(60, 1440)),
    counting=st.tuples(st.booleans(), st.booleans()),
    drug=amounts,
)
def test_one_limit_stepped_through_is_what_is_computed_without_steps(  # noqa: PLR0917  # as many settings
    dose: Fraction,
    lockout: int,
    rate: Fraction,
    loading: Fraction,
    limit: tuple[Fraction, int],
    counting: tuple[bool, bool],
    drug: Fraction,
) -> None:
    settings = PumpSettings(
        demand_dose=dose,
        lockout=Fraction(lockout),
        rate=rate,
        loading=loading,
        limits=(Limit(amount=limit[0], window=Fraction(limit[1])),),
        counting=Counting(loading=counting[0], continuous=counting[1]),
    )
    computed, stepped = grants_at_full_use(settings), GrantsByStep(settings)
    assert not isinstance(computed, GrantsByStep)
    assert first_refusal(stepped) == first_refusal(computed)
    assert longest_wait(stepped) == longest_wait(computed)
    for time in (Fraction(60), Fraction(240), Fraction(1440), Fraction(1999, 7)):
        assert granted_before(stepped, time) == granted_before(computed, time)
    draw = Draw(rate=rate, demand_dose=dose)
    assert lasts(stepped, draw, drug) == lasts(computed, draw, drug)


@pytest.mark.parametrize("parts", [1, 3, 60])
def test_nothing_depends_on_the_parts_in_which_time_is_counted(parts: int) -> None:
    """A lockout of a third of a minute, or of one: the same demands at the same multiples of it."""
    lockout = Fraction(1, parts)
    limits = (Limit(amount=Fraction(5), window=60 * lockout), Limit(amount=Fraction(9), window=90 * lockout))
    grants = grants_at_full_use(PumpSettings(demand_dose=Fraction(1), lockout=lockout, limits=limits))
    assert isinstance(grants, GrantsByStep)
    times = grants.times()
    assert [next(times) / lockout for _ in range(11)] == [0, 1, 2, 3, 4, 60, 61, 62, 63, 90, 120]
    assert [grants.count_before(each * lockout) for each in (0, 1, 60, 61)] == [0, 1, 5, 6]
    assert [grants.refused_before(each * lockout) for each in (3, 5, 6, 100)] == [
        None,
        None,
        5 * lockout,
        5 * lockout,
    ]
    waits = [grants.longest_wait_from_before(each * lockout) for each in (0, 4, 5, 91)]
    assert waits == [None, lockout, 56 * lockout, 56 * lockout]


@pytest.mark.parametrize("time", [Fraction(1), Fraction(1, 7), Fraction(5, 3)])
@pytest.mark.parametrize("amount", [Fraction(1), Fraction(1, 11), Fraction(4, 3)])
def test_in_another_measure_of_time_and_of_amounts_the_same_demands_are_granted(
    time: Fraction, amount: Fraction
) -> None:
    """By hand in min and mg: 1 mg every 10 min beside 1/20 mg/min; at most 5 in 60 min and 12.5 in 240.

    The hour lets 0, 10 and 20 min through, as n + 1 + t / 20 <= 5; from 60 min on it holds 3 mg of the rate,
    so two demands: 70 once that at 10 has left, 80 and 130 likewise. At 130 min the four hours hold
    5 + 1 + 6.5 = 12.5 mg; later the rate alone leaves no room for one more.
    """
    grants = GrantsByStep(
        PumpSettings(
            demand_dose=amount,
            lockout=10 * time,
            rate=Fraction(1, 20) * amount / time,
            limits=(
                Limit(amount=5 * amount, window=60 * time),
                Limit(amount=Fraction(25, 2) * amount, window=240 * time),
            ),
        )
    )
    assert [each / time for each in grants.times()] == [0, 10, 20, 70, 80, 130]
    assert [grants.count_through(each * time) for each in (0, 9, 10, 69, 70)] == [1, 1, 2, 3, 4]


def test_a_window_is_as_long_as_it_says_beside_a_lockout_in_whole_minutes() -> None:
    """By hand: 1 mg every 10 min, at most 2 mg in 60.5 min: a demand leaves at 60.5 min, and not at 60."""
    limits = (
        Limit(amount=Fraction(2), window=Fraction(121, 2)),
        Limit(amount=Fraction(9), window=Fraction(600)),
    )
    grants = GrantsByStep(PumpSettings(demand_dose=Fraction(1), lockout=Fraction(10), limits=limits))
    found = grants.times()
    assert [next(found) for _ in range(5)] == [0, 10, Fraction(121, 2), Fraction(141, 2), 121]

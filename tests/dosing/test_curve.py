"""The curve of a picture beside the figures, which are counted without stepping through the demands."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from app.dosing import Curve, Limit, SetInUse, SourceSettings, curve_of
from app.dosing.dose_math import full_use_of
from tests.dosing.sources import CONTINUOUS, DEMAND, FULL, NO_MODE

IN_USE = SetInUse()
FOUR_HOURS = Fraction(240)
# The limit of 20 mg in 240 min holds twenty demands of 1 mg; two in 30 min leave waits between them.
OFTEN = replace(DEMAND, loading=Fraction(0), limits=(Limit(amount=Fraction(2), window=Fraction(30)),))


def drawn(source: SourceSettings, *, strength: Fraction = Fraction(1)) -> Curve:
    curve = curve_of(source, IN_USE, until=FOUR_HOURS, strength=strength)
    assert curve is not None
    return curve


def in_min(spans: tuple[tuple[Fraction, Fraction], ...]) -> list[tuple[int, int]]:
    assert all(each.denominator == 1 for span in spans for each in span)
    return [(int(start), int(end)) for start, end in spans]


def test_every_demand_is_a_step_on_the_continuous_part() -> None:
    curve = drawn(replace(FULL, lockout=Fraction(100), loading=Fraction(0), limits=()))

    # 3 mg/h is 5 mg in 100 min.
    steps = [(0, 0), (0, 1), (100, 6), (100, 7), (200, 12), (200, 13)]
    assert in_min(curve.corners()) == [(0, 0), (0, 0), *steps, (240, 15)]
    assert curve.waits == ()


def test_a_loading_dose_is_given_at_once() -> None:
    curve = drawn(replace(FULL, lockout=Fraction(200), limits=()))

    assert in_min(curve.corners())[:4] == [(0, 0), (0, 4), (0, 4), (0, 5)]
    assert curve.before(Fraction(0)) == 4
    # What is granted at the very end of a span is not in it.
    assert curve.before(Fraction(200)) == 4 + 1 + 10
    assert curve.before(Fraction(201)) == 4 + 2 + Fraction("10.05")


def test_without_demands_it_is_a_straight_line() -> None:
    assert in_min(drawn(CONTINUOUS).corners()) == [(0, 0), (0, 4), (240, 16)]
    assert drawn(CONTINUOUS).waits == ()


def test_after_the_first_window_only_the_lockout_counts_where_the_limit_holds_as_many() -> None:
    # 20 demands, 12 min apart, fill 240 min; the loading dose of 4 mg takes the place of four in the first.
    curve = curve_of(replace(DEMAND, lockout=Fraction(12)), IN_USE, until=Fraction(290))
    assert curve is not None
    assert curve.demands == (*range(0, 192, 12), 240, 252, 264, 276, 288)
    assert in_min(curve.waits) == [(192, 240)]


def test_the_limit_makes_a_wait_from_the_next_lockout_to_the_next_demand() -> None:
    # 16 demands beside 4 mg of loading: the last is granted at 150 min, and lockout allows another at 160.
    assert in_min(drawn(DEMAND).waits) == [(160, 240)]
    assert in_min(drawn(OFTEN).waits) == [(start, start + 10) for start in range(20, 240, 30)]


def test_of_several_limits_each_makes_its_waits() -> None:
    two = (Limit(amount=Fraction(4), window=Fraction(60)), Limit(amount=Fraction(7), window=Fraction(240)))
    curve = drawn(replace(DEMAND, loading=Fraction(0), limits=two))

    # Four demands of 1 mg from 0 on, at 60 min three more, and then the 7 mg of four hours are full.
    assert in_min(curve.waits) == [(40, 60), (90, 240)]
    assert curve.before(FOUR_HOURS) == 7


def test_a_loading_dose_that_fills_the_limit_makes_the_patient_wait_from_the_beginning() -> None:
    full = replace(OFTEN, loading=Fraction(2))

    assert in_min(drawn(full).waits)[0] == (0, 30)
    assert drawn(full).demands[0] == 30
    assert in_min(drawn(full).corners()[:3]) == [(0, 0), (0, 2), (30, 2)]


def test_a_wait_that_the_lockout_imposes_is_not_the_limits() -> None:
    assert drawn(replace(DEMAND, limits=())).waits == ()
    assert drawn(replace(OFTEN, lockout=Fraction(15))).waits == ()


def test_a_stronger_syringe_makes_every_dose_greater_and_moves_none() -> None:
    once, fivefold = drawn(FULL), drawn(FULL, strength=Fraction(5))

    assert fivefold.demands == once.demands
    assert fivefold.waits == once.waits
    assert fivefold.corners() == tuple((time, 5 * amount) for time, amount in once.corners())


@pytest.mark.parametrize(
    "source",
    [NO_MODE, replace(FULL, limits_read=False), replace(FULL, loading=None), replace(FULL, lockout=None)],
)
def test_what_was_not_read_is_not_drawn(source: SourceSettings) -> None:
    assert curve_of(source, IN_USE, until=FOUR_HOURS) is None


tenths = st.integers(1, 200).map(lambda each: Fraction(each, 10))


@settings(max_examples=60)
@given(
    dose=tenths,
    lockout=st.integers(1, 90).map(Fraction),
    rate=st.sampled_from((Fraction(0), Fraction(1, 2), Fraction(7))),
    loading=st.sampled_from((Fraction(0), Fraction(3))),
    limit=st.none() | st.tuples(tenths, st.integers(20, 300)),
    time=st.integers(0, 300).map(Fraction),
)
def test_the_steps_are_the_demands_that_the_figures_count(  # noqa: PLR0917  # a pump has as many settings
    dose: Fraction,
    lockout: Fraction,
    rate: Fraction,
    loading: Fraction,
    limit: tuple[Fraction, int] | None,
    time: Fraction,
) -> None:
    source = replace(
        FULL,
        demand_dose=dose,
        lockout=lockout,
        rate=rate,
        loading=loading,
        limits=() if limit is None else (Limit(amount=limit[0], window=Fraction(limit[1])),),
    )
    use = full_use_of(source, IN_USE)
    curve = curve_of(source, IN_USE, until=Fraction(300))
    assume(use is not None)
    assert use is not None
    assert curve is not None

    assert curve.before(time) == loading + use.delivered_before(time)
    amounts = [amount for _, amount in curve.corners()]
    assert amounts == sorted(amounts)
    assert all(b - a >= lockout for a, b in zip(curve.demands, curve.demands[1:], strict=False))


def test_under_two_limits_a_demand_at_the_picture_s_end_is_no_step_of_it() -> None:
    two = (Limit(amount=Fraction(2), window=Fraction(30)), Limit(amount=Fraction(100), window=FOUR_HOURS))
    curve = drawn(replace(DEMAND, loading=Fraction(0), lockout=Fraction(10), limits=two))

    # Two at 0 and 10, 30 and 40 ... 210 and 220 min; the next at 240.
    assert in_min(curve.corners())[-1] == (240, 16)
    assert len(curve.demands) == 16

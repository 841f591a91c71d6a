"""The pump that is computed beside one that is stepped tick by tick: two ways of computing, one result."""

from fractions import Fraction
from operator import itemgetter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.dosing import Counting, DoseMath, Limit, SetInUse, SourceSettings, dose_math
from app.quantities import Quantity
from tests.dosing.ticking_pump import TickingPump, syringe_lasts
from tests.support.sampling import examples

# Examples by hand take every branch; watched by the coverage tool these would take three times as long.
pytestmark = pytest.mark.no_cover

DAY = 1440
THIRTY_DAYS = 30 * DAY

# One tenth of a mg an hour is one such part a minute.
PARTS_OF_MG = 600

doses = st.integers(1, 40).map(lambda tenths: tenths * PARTS_OF_MG // 10)
rates_a_minute = st.one_of(st.just(0), st.integers(1, 40))
lockouts = st.one_of(st.integers(1, 15), st.integers(1, 120), st.integers(1, DAY))
windows = st.one_of(st.sampled_from((60, 240, 1440)), st.integers(60, DAY))
limits = st.lists(
    st.tuples(st.integers(1, 400).map(lambda tenths: tenths * PARTS_OF_MG // 10), windows),
    max_size=3,
    unique_by=itemgetter(1),
).map(tuple)
loadings = st.one_of(st.just(0), st.integers(1, 150).map(lambda tenths: tenths * PARTS_OF_MG // 10))


@st.composite
def pumps(draw: st.DrawFn) -> TickingPump:
    has_demands = draw(st.integers(0, 9)) > 0
    return TickingPump(
        dose=draw(doses) if has_demands else None,
        lockout=draw(lockouts),
        rate=draw(rates_a_minute),
        loading=draw(loadings),
        limits=draw(limits),
        counts_loading=draw(st.booleans()),
        counts_continuous=draw(st.booleans()),
    )


def mg(parts: int) -> Fraction:
    return Fraction(parts, PARTS_OF_MG)


def figures(pump: TickingPump, *, minutes_a_tick: Fraction = Fraction(1), drug: int = 1) -> DoseMath:
    """What the engine computes for the same settings, with 1 mg/mL."""
    return dose_math(
        SourceSettings(
            has_demands=pump.dose is not None,
            has_continuous=True,
            concentration=Fraction(1),
            volume=mg(drug),
            demand_dose=None if pump.dose is None else mg(pump.dose),
            lockout=None if pump.dose is None else pump.lockout * minutes_a_tick,
            rate=mg(pump.rate) * 60 / minutes_a_tick,
            limits=tuple(
                Limit(amount=mg(limit), window=window * minutes_a_tick) for limit, window in pump.limits
            ),
            limits_read=True,
            loading=mg(pump.loading),
        ),
        SetInUse(counting=Counting(loading=pump.counts_loading, continuous=pump.counts_continuous)),
    )


def value(quantity: Quantity | None) -> Fraction | None:
    return None if quantity is None else quantity.value


def in_windows(computed: DoseMath) -> list[Fraction]:
    return [each.value for each in computed.first_windows_with_loading]


def longest_wait(pump: TickingPump) -> int | None:
    """From the grants of two days and more: nobody waits longer than a window and a lockout."""
    waits: list[int] = []
    for place, granted in enumerate(pump.granted):
        if granted >= DAY:
            break
        if place + 1 == len(pump.granted):
            return None
        waits.append(pump.granted[place + 1] - granted)
    return max(waits, default=None)


@settings(max_examples=examples(sample=200, whole=5000))
@given(pumps())
def test_demands_and_refusals_are_those_of_the_stepped_pump(pump: TickingPump) -> None:
    pump.run(3 * DAY + 1)
    computed = figures(pump)
    assert computed.full_use is not None
    assert computed.full_use.hour.value == mg(pump.delivered_before(60))
    assert computed.full_use.four_hours.value == mg(pump.delivered_before(240))
    assert computed.full_use.day.value == mg(pump.delivered_before(DAY))
    first = computed.first_hour_with_loading
    assert value(first) == mg(pump.delivered_before(60) + pump.loading)
    refusals = [tick for tick in pump.refused_by_limit if tick < DAY]
    assert value(computed.limit_first_refuses_at) == (refusals[0] if refusals else None)
    granted_before = [tick for tick in pump.granted if refusals and tick < refusals[0]]
    assert computed.demands_before_limit == (len(granted_before) if refusals else None)
    assert value(computed.longest_wait) == longest_wait(pump)
    assert in_windows(computed) == [
        mg(pump.delivered_before(window) + pump.loading) for _, window in pump.limits
    ]


@settings(max_examples=examples(sample=60, whole=1500))
@given(pumps())
def test_by_lockout_is_full_use_without_a_limit(pump: TickingPump) -> None:
    computed = figures(pump)
    pump.limits = ()
    pump.run(DAY)
    assert computed.by_lockout is not None
    delivered = [mg(pump.delivered_before(tick)) for tick in (60, 240, DAY)]
    by_lockout = computed.by_lockout
    assert [by_lockout.hour.value, by_lockout.four_hours.value, by_lockout.day.value] == delivered


@settings(max_examples=examples(sample=80, whole=2000))
@given(pumps(), st.integers(1, 100 * PARTS_OF_MG))
def test_the_syringe_lasts_as_long_as_the_stepped_pump(pump: TickingPump, drug: int) -> None:
    computed = figures(pump, drug=drug)
    assert value(computed.syringe_lasts_full_use) == syringe_lasts(pump, drug, THIRTY_DAYS)
    pump.dose = None
    assert value(computed.syringe_lasts_continuous) == syringe_lasts(pump, drug, THIRTY_DAYS)


@settings(max_examples=examples(sample=50, whole=1000))
@given(pumps(), st.sampled_from((Fraction(1, 60), Fraction(1, 3), Fraction(1, 2), Fraction(7, 4))))
def test_nothing_depends_on_the_length_of_a_tick(pump: TickingPump, minutes_a_tick: Fraction) -> None:
    """The same pump in shorter or longer ticks delivers the same at the same tick."""
    pump.run(max((window for _, window in pump.limits), default=0))
    computed = figures(pump, minutes_a_tick=minutes_a_tick)
    delivered = [mg(pump.delivered_before(window) + pump.loading) for _, window in pump.limits]
    assert in_windows(computed) == delivered


@settings(max_examples=examples(sample=40, whole=500))
@given(pumps())
def test_pressing_between_the_ticks_changes_nothing(pump: TickingPump) -> None:
    """The stepped pump itself may be trusted: pressed four times as often, it grants the same demands."""
    finer = TickingPump(
        dose=None if pump.dose is None else pump.dose * 4,
        lockout=pump.lockout * 4,
        rate=pump.rate,
        loading=pump.loading * 4,
        limits=tuple((limit * 4, window * 4) for limit, window in pump.limits),
        counts_loading=pump.counts_loading,
        counts_continuous=pump.counts_continuous,
    )
    pump.run(DAY)
    finer.run(4 * DAY)
    assert finer.granted == [4 * tick for tick in pump.granted]

"""Full use for weeks under one limit and under several, beside a pump stepped tick by tick."""

from dataclasses import dataclass
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.dosing import Counting, Limit, LongUse
from tests.support.sampling import examples

DAY = 1440
THIRTY_DAYS = 30 * DAY
PARTS_OF_MG = 60


def mg(parts: int) -> Fraction:
    return Fraction(parts, PARTS_OF_MG)


@dataclass(frozen=True, kw_only=True, slots=True)
class Pump:
    """In parts of a mg, min, and parts of a mg a minute; limits as amount and window."""

    dose: int | None
    lockout: int = 10
    rate: int = 0
    limits: tuple[tuple[int, int], ...] = ()

    def long_use(self, *, counts_continuous: bool = True) -> LongUse:
        return LongUse(
            demand_dose=None if self.dose is None else mg(self.dose),
            lockout=None if self.dose is None else Fraction(self.lockout),
            rate=mg(self.rate),
            limits=tuple(Limit(amount=mg(amount), window=Fraction(window)) for amount, window in self.limits),
            counting=Counting(continuous=counts_continuous),
        )

    def stepped(self, until: int) -> list[int]:
        """When it grants if it is pressed at every tick up to one, that one included."""
        granted: list[int] = []
        dose = self.dose or 0
        for tick in range(until + 1):
            if granted and tick < granted[-1] + self.lockout:
                continue
            over = (
                dose * (1 + sum(tick - window < time for time in granted))
                + self.rate * min(tick, window)
                - amount
                for amount, window in self.limits
            )
            if all(each <= 0 for each in over):
                granted.append(tick)
        return granted


@st.composite
def pumps(draw: st.DrawFn, fewest_limits: int = 0) -> Pump:
    limits = st.lists(
        st.tuples(st.integers(1, 900), st.integers(60, 500)),
        min_size=fewest_limits,
        max_size=3,
        unique_by=lambda each: each[1],
    )
    return Pump(
        dose=draw(st.integers(1, 90)),
        lockout=draw(st.integers(1, 120)),
        rate=draw(st.integers(0, 3)),
        limits=tuple(draw(limits)),
    )


def test_both_instants_are_included_without_a_limit() -> None:
    use = Pump(dose=60, lockout=8, rate=0).long_use()
    assert [use.demands_through(Fraction(time)) for time in (0, 7, 8, 482)] == [1, 1, 2, 61]
    assert use.demands_through(Fraction(47, 2)) == 3


def test_one_limit_by_hand() -> None:
    """Four mg in four hours, a mg every ten minutes: at 0, 10, 20, 30, then at 240 and so on."""
    use = Pump(dose=60, lockout=10, rate=0, limits=((4 * 60, 240),)).long_use()
    assert [use.demands_through(Fraction(time)) for time in (30, 239, 240, 270, 480)] == [4, 4, 5, 8, 9]


def test_two_limits_by_hand() -> None:
    """Two mg in one hour and five in four: at 0, 10, 60, 70, 120, and again after 240 min."""
    use = Pump(
        dose=60,
        lockout=10,
        rate=0,
        limits=(
            (2 * 60, 60),
            (5 * 60, 240),
        ),
    ).long_use()
    times = (0, 10, 59, 60, 70, 120, 239, 240, 250, 300, 310, 360, 480)
    assert [use.demands_through(Fraction(time)) for time in times] == [
        1,
        2,
        2,
        3,
        4,
        5,
        5,
        6,
        7,
        8,
        9,
        10,
        11,
    ]
    # Thirty days are 180 windows of five demands; the last instant begins one more.
    assert use.demands_through(Fraction(THIRTY_DAYS)) == 901


def test_a_limit_that_leaves_no_room_grants_nothing_any_more() -> None:
    """A mg an hour by itself fills four mg in four hours: three demands before, none after."""
    use = Pump(
        dose=60,
        lockout=10,
        rate=1,
        limits=(
            (4 * 60, 240),
            (60 * 60, 60),
        ),
    ).long_use()
    assert use.demands_through(Fraction(239)) == use.demands_through(Fraction(THIRTY_DAYS)) == 3


def test_a_dose_above_both_limits_is_never_granted() -> None:
    use = Pump(
        dose=60,
        lockout=10,
        rate=0,
        limits=(
            (30, 60),
            (59, 240),
        ),
    ).long_use()
    assert use.demands_through(Fraction(THIRTY_DAYS)) == 0
    assert use.lasts(Fraction(5)) is None


def test_no_demands_without_a_dose() -> None:
    use = Pump(dose=None, lockout=8, rate=2).long_use()
    assert use.demands_through(Fraction(100)) == 0
    assert use.lasts(mg(240)) == 120
    assert Pump(dose=None, lockout=8, rate=0).long_use().lasts(Fraction(1)) is None


@pytest.mark.parametrize(
    ("drug", "rate", "lasts"),
    [
        # Five mg in each four hours: the sixth demand, at 240 min, finds nothing left.
        (5 * 60, 0, 240),
        # Less than the first demand.
        (59, 0, 0),
        # A sixtieth of a mg a minute beside them: the fourth demand, at 70 min, finds one part too few.
        (4 * 60 + 69, 1, 70),
        # The continuous part uses what the demands leave, before the next one is due.
        (3 * 60 + 62, 1, 62),
        # 180 windows of five mg in 30 days, and the first of the next.
        (901 * 60, 0, None),
    ],
)
def test_how_long_a_syringe_lasts_under_two_limits(drug: int, rate: int, lasts: int | None) -> None:
    use = Pump(
        dose=60,
        lockout=10,
        rate=rate,
        limits=(
            (2 * 60, 60),
            (5 * 60, 240),
        ),
    ).long_use(counts_continuous=False)
    assert use.lasts(mg(drug)) == lasts


@pytest.mark.no_cover
@settings(max_examples=examples(sample=75, whole=3000))
@given(pumps(), st.integers(0, 3 * DAY))
def test_demands_are_those_of_the_stepped_pump(pump: Pump, until: int) -> None:
    assert pump.long_use().demands_through(Fraction(until)) == len(pump.stepped(until))


@pytest.mark.no_cover
@settings(max_examples=examples(sample=50, whole=2000))
@given(pumps(fewest_limits=2), st.integers(1, 4000))
def test_a_syringe_lasts_as_long_as_with_the_stepped_pump(pump: Pump, drug: int) -> None:
    until, dose = 3 * DAY, pump.dose or 0
    granted = pump.stepped(until)
    short = [time for number, time in enumerate(granted) if (number + 1) * dose + pump.rate * time > drug]
    ends = [Fraction(time) for time in short[:1]]
    given_whole = granted.index(short[0]) if short else len(granted)
    if pump.rate:
        ends.append(Fraction(drug - given_whole * dose, pump.rate))
    lasts = pump.long_use().lasts(mg(drug))
    if min(ends, default=until) < until:
        assert lasts == min(ends)
    else:
        assert lasts is None or lasts >= until


@pytest.mark.parametrize(("dose", "lockout"), [(None, Fraction(10)), (Fraction(1), None), (None, None)])
def test_without_both_a_dose_and_a_lockout_there_is_no_demand(
    dose: Fraction | None, lockout: Fraction | None
) -> None:
    use = LongUse(demand_dose=dose, lockout=lockout, rate=Fraction(1, 60), limits=(), counting=Counting())

    assert use.demands_through(Fraction(600)) == 0
    assert use.lasts(Fraction(1)) == 60

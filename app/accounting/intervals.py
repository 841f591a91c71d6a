"""Between two readings of one series: what the device says it gave, and out of which syringe."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from app.accounting.case import Primed, Totals
from app.accounting.course import Course, Stretch
from app.accounting.series import Point
from app.accounting.sums import total

_NOTHING = Fraction(0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Delivered:
    """What the device gave out of a syringe, in mL and in mg."""

    volume: Fraction
    amount: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class GivenApart:
    """Boluses (mg) and primes (mL) between two entries, which the totals count or do not."""

    boluses_counted: Fraction = _NOTHING
    boluses_not_counted: Fraction = _NOTHING
    primes_counted: Fraction = _NOTHING


@dataclass(frozen=True, kw_only=True, slots=True)
class Interval:
    """From one reading of totals to the next; no `delivered` where nothing moved, or nobody knows whence."""

    begin: int
    end: int
    minutes: Fraction
    amount: Fraction | None
    volume: Fraction | None
    loadings: frozenset[tuple[str, int]]
    """The syringes on the device at any point in it, with the entries that loaded them."""
    syringe: str | None
    delivered: Delivered | None
    is_attributed: bool


def interval_of(course: Course, one: Point, other: Point) -> Interval:
    """The interval between two readings that follow each other in one series."""
    begin, end = one.entry, other.entry
    stretches = course.stretches(begin, end)
    amount, volume = rise(one.totals, other.totals)
    states = course.states[begin + 1 : end + 1]
    loadings = frozenset(
        (state.on, state.loading) for state in states if state.on is not None and state.loading is not None
    )
    apart = given_apart(course, begin, end)
    is_read = amount is not None or volume is not None
    moves = bool(not is_read or amount or volume or apart.boluses_not_counted or apart.primes_counted)
    syringes = {syringe for syringe, _ in loadings}
    concentration = concentration_in(course, stretches, end)
    delivered = None
    if moves and is_read and len(syringes) == 1 and concentration is not None:
        delivered = _delivered(amount, volume, concentration, apart)
    return Interval(
        begin=begin,
        end=end,
        minutes=total(stretch.minutes for stretch in stretches),
        amount=amount,
        volume=volume,
        loadings=loadings,
        syringe=next(iter(syringes)) if delivered else None,
        delivered=delivered,
        is_attributed=delivered is not None or not moves,
    )


def _delivered(
    amount: Fraction | None, volume: Fraction | None, concentration: Fraction, apart: GivenApart
) -> Delivered:
    """The one that is not read follows from the concentration set."""
    if volume is None:
        assert amount is not None  # noqa: S101  # one of the two is read
        volume = amount / concentration
    elif amount is None:
        amount = volume * concentration
    return Delivered(
        volume=volume + apart.boluses_not_counted / concentration - apart.primes_counted,
        amount=amount + apart.boluses_not_counted - apart.primes_counted * concentration,
    )


def rise(one: Totals, other: Totals) -> tuple[Fraction | None, Fraction | None]:
    """By how much amount and volume rose, where both ends give them."""
    return _less(other.amount, one.amount), _less(other.volume, one.volume)


def concentration_in(course: Course, stretches: Sequence[Stretch], end: int) -> Fraction | None:
    """The one concentration set in all stretches that took time; without such, the one set at the end."""
    real = {stretch.in_force.concentration for stretch in stretches if stretch.minutes}
    if len(real) > 1:
        return None
    if real:
        return real.pop()
    in_force = course.states[end].in_force
    return None if in_force is None else in_force.concentration


def given_apart(course: Course, begin: int, end: int) -> GivenApart:
    """What was given or primed between two entries besides demands and the continuous part."""
    counted = not_counted = primes = _NOTHING
    for place in course.given_apart_between(begin, end):
        entry, counts = course.given_apart[place], course.totals_count[place]
        if isinstance(entry, Primed):
            primes += entry.volume if counts.totals_count_prime else _NOTHING
            continue
        amount = course.bolus_amount(place, entry)
        is_counted = counts.totals_count_loading if entry.loading else counts.totals_count_bolus
        counted += amount if is_counted else _NOTHING
        not_counted += _NOTHING if is_counted else amount
    return GivenApart(boluses_counted=counted, boluses_not_counted=not_counted, primes_counted=primes)


def _less(one: Fraction | None, other: Fraction | None) -> Fraction | None:
    return None if one is None or other is None else one - other

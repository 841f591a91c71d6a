"""What a total should rise by between two readings of one series, and how far off an honest one can be."""

from dataclasses import dataclass
from fractions import Fraction
from typing import Self

from app.accounting.course import Course, Stretch
from app.accounting.intervals import concentration_in, given_apart, rise
from app.accounting.series import Point
from app.accounting.sums import times, total
from app.quantities import Dimension

_NOTHING = Fraction(0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Prediction:
    """The least and the most that a total should rise by, beside what it did; in mg or in mL."""

    dimension: Dimension
    at_beginning: Fraction
    least: Fraction
    most: Fraction
    rise: Fraction
    tolerance: Fraction
    by_possible: bool
    """Whether the most is what was possible: there is a demand dose, and nobody read the doses."""
    arrears: Fraction
    """In mg: what is counted as given by now, and may be shown only by the next reading."""
    is_above: bool
    """Whether more is shown than can be."""
    is_below: bool
    """Whether less is shown than must be."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Span:
    """What a prediction is made from: two readings, and the demands between them where they are known."""

    begin: Point
    end: Point
    begins_series: bool
    demands: int | None
    possible: int
    arrears: Fraction
    """In mg: those of the reading where it begins."""


def predict(course: Course, span: Span) -> Prediction | None:
    """The prediction; None where neither total is read, or something that it needs is not known."""
    begin, end = span.begin.entry, span.end.entry
    stretches = course.stretches(begin, end)
    doses = [each.in_force.demand_dose for each in stretches if each.in_force.demand_dose is not None]
    shown = _Shown.find(course, span, stretches)
    if shown is None or (span.demands and not doses):
        return None
    apart = given_apart(course, begin, end)
    if apart.primes_counted and shown.concentration is None:
        return None
    flowed = total(each.minutes * each.in_force.rate for each in stretches if each.in_force.rate)
    primed = times(apart.primes_counted, shown.concentration or _NOTHING)
    besides = total((flowed, apart.boluses_counted, primed))
    smallest, largest = min(doses, default=_NOTHING), max(doses, default=_NOTHING)
    fewest = 0 if span.demands is None else span.demands
    most_demands = span.possible if span.demands is None else span.demands
    least = most = shown.in_unit(total((fewest * smallest, besides)))
    if fewest != most_demands or smallest != largest:
        most = shown.in_unit(total((most_demands * largest, besides)))
    late = times(total(each.in_force.rate for each in stretches), 2 * course.case.policy.time_accuracy)
    owed = shown.in_unit(span.arrears)
    tolerance = total((shown.half_steps, shown.in_unit(late), owed))
    rest = shown.in_mg(total((most, owed, -shown.rise)))
    return Prediction(
        dimension=shown.dimension,
        at_beginning=shown.at_beginning,
        least=least,
        most=most,
        rise=shown.rise,
        tolerance=tolerance,
        by_possible=span.demands is None and bool(doses),
        arrears=min(rest, largest) if rest.numerator > 0 else _NOTHING,
        is_above=shown.rise > most + tolerance,
        is_below=shown.rise < least - tolerance,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Shown:
    """The total that is judged: mass where both ends give it, else volume."""

    dimension: Dimension
    at_beginning: Fraction
    rise: Fraction
    half_steps: Fraction
    concentration: Fraction | None

    @classmethod
    def find(cls, course: Course, span: Span, stretches: list[Stretch]) -> Self | None:
        """What both ends give; None where they give neither, or a volume whose mass is not known."""
        first, last = span.begin.totals, span.end.totals
        amount, volume = rise(first, last)
        concentration = concentration_in(course, stretches, span.end.entry)
        if amount is not None:
            dimension, step = Dimension.MASS, course.case.step_amount
            begins, risen = first.amount, amount
        elif volume is not None and concentration is not None:
            dimension, step = Dimension.VOLUME, course.case.step_volume
            begins, risen = first.volume, volume
        else:
            return None
        assert begins is not None  # noqa: S101  # both ends give it
        rounded_ends = 1 if span.begins_series and not begins else 2
        return cls(
            dimension=dimension,
            at_beginning=begins,
            rise=risen,
            half_steps=step if rounded_ends > 1 else step / 2,
            concentration=concentration,
        )

    def in_unit(self, amount: Fraction) -> Fraction:
        """So many mg in the unit that is judged."""
        if self.dimension is Dimension.MASS or self.concentration is None:
            return amount
        return amount / self.concentration

    def in_mg(self, judged: Fraction) -> Fraction:
        """The reverse."""
        if self.dimension is Dimension.MASS or self.concentration is None:
            return judged
        return judged * self.concentration

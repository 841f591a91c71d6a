"""How many demands a device could have granted between two entries, the button pressed at every instant."""

from functools import cached_property
from itertools import accumulate

from app.accounting.course import Course, InForce, Stretch
from app.dosing import LongUse


def long_use(in_force: InForce, course: Course) -> LongUse:
    """The model pump, set so."""
    return LongUse(
        demand_dose=in_force.demand_dose,
        lockout=in_force.lockout,
        rate=in_force.rate,
        limits=in_force.limits,
        counting=course.case.policy.counting,
    )


class PossibleDemands:
    """Summed over stretches, in each of which the model pump starts anew."""

    def __init__(self, course: Course) -> None:
        self._course = course
        self._slack = 2 * course.case.policy.time_accuracy
        self._between: dict[tuple[int, int], int] = {}
        self._known: dict[tuple[int, tuple[int, int]], int] = {}

    @cached_property
    def _before(self) -> list[int]:
        """In all whole runs before each."""
        whole = (self._in(self._course.run(number)) for number in range(self._course.runs))
        return list(accumulate(whole, initial=0))

    def between(self, begin: int, end: int) -> int:
        """From after one entry to before another: only the first and the last run can be cut."""
        if (begin, end) not in self._between:
            self._between[begin, end] = self._sum(begin, end)
        return self._between[begin, end]

    def _sum(self, begin: int, end: int) -> int:
        first, after = self._course.runs_between(begin, end)
        if first >= after:
            return 0
        cut, last = self._in(self._course.clipped_run(first, begin, end)), after - 1
        if first == last:
            return cut
        whole = self._before[last] - self._before[first + 1]
        return cut + whole + self._in(self._course.clipped_run(last, begin, end))

    def _in(self, stretch: Stretch) -> int:
        in_force, minutes = stretch.in_force, stretch.minutes
        # Numerator and denominator: to hash a fraction takes longer than to count the demands.
        key = id(in_force), minutes.as_integer_ratio()
        if key not in self._known:
            self._known[key] = long_use(in_force, self._course).demands_through(minutes + self._slack)
        return self._known[key]

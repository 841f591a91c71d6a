"""How long a syringe lasts in the model pump. Times in min, amounts in mg, rates in mg/min; all exact."""

from dataclasses import dataclass
from fractions import Fraction
from math import floor

from app.dosing.pump import Grants, RepeatedRun

_LONGEST = Fraction(30 * 24 * 60)


@dataclass(frozen=True, kw_only=True, slots=True)
class Draw:
    """What is drawn from the syringe: mg for each demand, mg/min all the time."""

    demand_dose: Fraction
    rate: Fraction


def lasts(grants: Grants | None, draw: Draw, drug: Fraction) -> Fraction | None:
    """When a demand cannot be given whole or the continuous part has used the last drug; None after 30 days.

    `drug` (mg) is what is left after priming and the loading dose: below zero, that could not be given whole.
    """
    if drug < 0:
        return Fraction(0)
    given, refused_at = (0, None) if grants is None else _first_not_whole(grants, draw, drug)
    ends = [] if refused_at is None else [refused_at]
    if draw.rate:
        ends.append((drug - given * draw.demand_dose) / draw.rate)
    end = min(ends, default=None)
    return None if end is None or end > _LONGEST else end


def _first_not_whole(grants: Grants, draw: Draw, drug: Fraction) -> tuple[int, Fraction | None]:
    """How many demands are given whole, and when the next one is not; None when there is no next one."""
    lockout = grants.lockout
    given = _given_whole(Fraction(0), lockout, draw, drug)
    if grants.first_count is None or given < grants.first_count:
        return given, given * lockout
    given = grants.first_count
    if grants.later is None:
        return given, None
    start = grants.later.start
    if isinstance(grants.later, RepeatedRun):
        rounds = _whole_rounds(grants.later, lockout, draw, drug - given * draw.demand_dose)
        given += rounds * grants.later.count
        start += rounds * grants.later.period
    in_run = _given_whole(start, lockout, draw, drug - given * draw.demand_dose)
    return given + in_run, start + in_run * lockout


def _given_whole(start: Fraction, lockout: Fraction, draw: Draw, drug: Fraction) -> int:
    """How many demands, one lockout apart from `start` on, are given whole."""
    left_after_first = drug - draw.demand_dose - draw.rate * start
    return max(0, floor(left_after_first / (draw.demand_dose + draw.rate * lockout)) + 1)


def _whole_rounds(later: RepeatedRun, lockout: Fraction, draw: Draw, drug: Fraction) -> int:
    """How many of the repeated runs are given whole to their last demand."""
    last_in_first = later.start + (later.count - 1) * lockout
    drawn_by_run = later.count * draw.demand_dose
    left_after_first = drug - drawn_by_run - draw.rate * last_in_first
    return max(0, floor(left_after_first / (drawn_by_run + draw.rate * later.period)) + 1)

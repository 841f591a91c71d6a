"""How long a syringe lasts in the model pump. Times in min, amounts in mg, rates in mg/min; all exact."""

from dataclasses import dataclass
from fractions import Fraction
from math import floor

from app.dosing.pump import Grants, RepeatedRun
from app.dosing.several_limits import GrantsByStep

LONGEST = Fraction(30 * 24 * 60)


@dataclass(frozen=True, kw_only=True, slots=True)
class Draw:
    """What is drawn from the syringe: mg/min all the time, mg for each demand."""

    rate: Fraction
    demand_dose: Fraction = Fraction(0)


def lasts(grants: Grants | GrantsByStep | None, draw: Draw, drug: Fraction) -> Fraction | None:
    """When a demand cannot be given whole or the continuous part has used the last drug; None after 30 days.

    `drug` (mg) is what is left after priming and the loading dose: below zero, that could not be given whole.
    """
    if drug < 0:
        return Fraction(0)
    left, refused_at = (drug, None) if grants is None else _first_not_whole(grants, draw, drug)
    ends = [] if refused_at is None else [refused_at]
    if draw.rate:
        ends.append(left / draw.rate)
    end = min(ends, default=None)
    return None if end is None or end > LONGEST else end


def _first_not_whole(
    grants: Grants | GrantsByStep, draw: Draw, drug: Fraction
) -> tuple[Fraction, Fraction | None]:
    """What demands leave to the rate, and when one is not given whole; None when no more are granted."""
    if isinstance(grants, GrantsByStep):
        whole, refused_at = grants.first_not_whole(drug, before=LONGEST)
        return drug - whole * draw.demand_dose, refused_at
    lockout, dose = grants.lockout, draw.demand_dose
    given = _given_whole(Fraction(0), lockout, draw, drug)
    if grants.first_count is None or given < grants.first_count:
        return drug - given * dose, given * lockout
    left = drug - grants.first_count * dose
    if grants.later is None:
        return left, None
    start = grants.later.start
    if isinstance(grants.later, RepeatedRun):
        rounds = _whole_rounds(grants.later, lockout, draw, left)
        left -= rounds * grants.later.count * dose
        start += rounds * grants.later.period
    in_run = _given_whole(start, lockout, draw, left)
    return left - in_run * dose, start + in_run * lockout


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

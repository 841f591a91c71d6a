"""The worst case of the first hours as ordered and as set: how the dose adds up at full use. All exact."""

from dataclasses import dataclass
from fractions import Fraction

from app.comparison.case import Case
from app.comparison.figures import Figures, figures_of
from app.dosing import Curve, Limit, SetInUse, curve_of

_AT_LEAST = Fraction(4 * 60)


@dataclass(frozen=True, kw_only=True, slots=True)
class WorstCase:
    """What one clinician's readings come to in the first `until` min, the button pressed at every instant.

    `given` is as the device is set, with the syringe's real strength; None where an input is absent.
    """

    until: Fraction
    ordered: Curve | None
    given: Curve | None
    limits: tuple[Limit, ...]
    """As ordered; where the order has none, what the device's let through of this syringe."""


def worst_cases(case: Case) -> tuple[WorstCase, WorstCase]:
    """The worst case by the readings of A and by those of B."""
    first, second = figures_of(case)
    return _worst_case(first, case.policy.in_use), _worst_case(second, case.policy.in_use)


def _worst_case(figures: Figures, in_use: SetInUse) -> WorstCase:
    order, device, strength = figures.order_settings, figures.device_settings, figures.delivery.strength
    windows = [limit.window for each in (order, device) for limit in each.limits]
    until = max([_AT_LEAST, *windows])
    given = None if strength is None else curve_of(device, in_use, until=until, strength=strength)
    limits = order.limits
    if not limits and strength is not None:
        limits = tuple(Limit(amount=limit.amount * strength, window=limit.window) for limit in device.limits)
    return WorstCase(until=until, ordered=curve_of(order, in_use, until=until), given=given, limits=limits)

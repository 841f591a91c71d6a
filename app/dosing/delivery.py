"""What the patient would get from this device with this syringe."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from app.dosing.dose_math import DoseMath, SourceSettings
from app.quantities import Dimension, Quantity, exact, show_number


@dataclass(frozen=True, kw_only=True, slots=True)
class Delivery:
    """Ordered doses beside those that the device as read would give with the syringe as read."""

    strength: Fraction | None = None
    """The syringe's concentration divided by the one that the device believes."""
    ordered_demand: Quantity | None = None
    actual_demand: Quantity | None = None
    ordered_continuous: Quantity | None = None
    actual_continuous: Quantity | None = None
    ordered_loading: Quantity | None = None
    actual_loading: Quantity | None = None
    factor: Fraction | None = None
    """The actual dose divided by the ordered one."""
    actual_first_hour: Quantity | None = None
    primed_drug: Quantity | None = None
    """What ran out at priming."""

    def as_json(self) -> dict[str, object]:
        """As the contract writes it."""
        return {
            "strength": number_json(self.strength),
            "ordered_demand": _json(self.ordered_demand),
            "actual_demand": _json(self.actual_demand),
            "ordered_continuous": _json(self.ordered_continuous),
            "actual_continuous": _json(self.actual_continuous),
            "ordered_loading": _json(self.ordered_loading),
            "actual_loading": _json(self.actual_loading),
            "factor": number_json(self.factor),
            "actual_first_hour": _json(self.actual_first_hour),
            "primed_drug": _json(self.primed_drug),
        }


def delivery(
    *,
    order: SourceSettings,
    device: SourceSettings,
    device_math: DoseMath,
    syringe: Fraction | None,
    primed: Fraction | None = None,
) -> Delivery:
    """What the device would deliver from a syringe of this strength (mg/mL), `primed` mL of it run out."""
    strength = None
    if syringe is not None and device.concentration is not None:
        strength = syringe / device.concentration
    actual_demand = _times(device.demand_dose, strength)
    actual_continuous = _times(device.rate, strength)
    if device.has_continuous and not device.has_demands:
        factor = _ratio(actual_continuous, order.rate)
    else:
        factor = _ratio(actual_demand, order.demand_dose)
    first_hour = device_math.first_hour_with_loading
    set_first_hour = None if first_hour is None else first_hour.value
    return Delivery(
        strength=strength,
        ordered_demand=_quantity(order.demand_dose, Dimension.MASS),
        actual_demand=_quantity(actual_demand, Dimension.MASS),
        ordered_continuous=_quantity(order.rate, Dimension.MASS_RATE),
        actual_continuous=_quantity(actual_continuous, Dimension.MASS_RATE),
        ordered_loading=_quantity(order.loading or None, Dimension.MASS),
        actual_loading=_quantity(_times(device.loading or None, strength), Dimension.MASS),
        factor=factor,
        actual_first_hour=_quantity(_times(set_first_hour, strength), Dimension.MASS),
        primed_drug=primed_drug(primed, syringe),
    )


def primed_drug(primed: Fraction | None, syringe: Fraction | None) -> Quantity | None:
    """What `primed` mL of a syringe of this strength (mg/mL) hold."""
    return _quantity(_times(primed, syringe), Dimension.MASS)


def at_strength(counted: Mapping[str, str], strength: Mapping[str, str]) -> dict[str, str]:
    """What the patient gets where the device counts so much: both as a result has them, and so is this."""
    value = Fraction(counted["exact"]) * Fraction(strength["exact"])
    return Quantity(value=value, dimension=Dimension(counted["unit"])).as_json()


def number_json(value: Fraction | None) -> dict[str, str] | None:
    """A bare number as the contract writes it: exact and shown."""
    return None if value is None else {"exact": exact(value), "shown": show_number(value)}


def _times(one: Fraction | None, other: Fraction | None) -> Fraction | None:
    return None if one is None or other is None else one * other


def _ratio(one: Fraction | None, other: Fraction | None) -> Fraction | None:
    """None also where either is zero: a rate of zero is none."""
    return one / other if one and other else None


def _quantity(value: Fraction | None, dimension: Dimension) -> Quantity | None:
    return None if value is None else Quantity(value=value, dimension=dimension)


def _json(figure: Quantity | None) -> dict[str, str] | None:
    return None if figure is None else figure.as_json()

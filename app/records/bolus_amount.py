"""How much a bolus given by staff was, as the account writes it: by the order, as the device is set."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from app.quantities import Dimension, Quantity, exact, parse_quantity


def bolus_amount(order: object, device: Mapping[str, Any], label: Mapping[str, Any]) -> str:
    """A mass, or the volume of it on a device that is set in volumes; blank where that has no number."""
    dose = str(order["dose"]) if isinstance(order, Mapping) and "dose" in order else ""
    if not str(device.get("demand_dose", "")).endswith("mL") or not dose:
        return dose
    return _in_volume(dose, label)


def _in_volume(dose: str, label: Mapping[str, Any]) -> str:
    """The volume that holds a dose, by what the label says; blank where that is no finite number."""
    strength = (
        _read(label["amount"], Dimension.MASS) / _read(label["volume"], Dimension.VOLUME)
        if "amount" in label
        else _read(label["concentration"], Dimension.CONCENTRATION)
    )
    written = exact(_read(dose, Dimension.MASS) / strength)
    return "" if "/" in written else f"{written} mL"


def _read(text: str, dimension: Dimension) -> Fraction:
    """The value of a quantity that both read alike, and that was understood."""
    read = parse_quantity(text, dimension)
    assert isinstance(read, Quantity)  # noqa: S101  # what was compared
    return read.value

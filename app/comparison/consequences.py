"""What a difference between order, label and device would do to the dose, in one sentence."""

from collections.abc import Callable, Mapping
from fractions import Fraction

from app.comparison.fields import LIMITS
from app.comparison.readings import Amount, DoseAsVolume, Reading
from app.comparison.slips import ratio
from app.comparison.wording import as_set, times

_OTHER_WORDS = {
    "drug": "The device would run with the settings of another drug.",
    "mode": "The patient would get the drug in another way than ordered.",
    "carrier.fluid": "The fluid might not go with the drug.",
}
_MONITOR_WORDS = "The patient would be watched in another way than ordered."


def of_device(field: str, ordered: Reading, device: Reading, strength: Fraction | None) -> str:
    """What the device's value would do where another is ordered."""
    if field == "concentration":
        return _of_device_concentration(strength)
    tell = _OF_DEVICE.get(field)
    if tell is not None:
        return tell(ordered, device)
    return _OTHER_WORDS.get(field, _MONITOR_WORDS)


def of_label(field: str, strength: Fraction | None) -> str | None:
    """What the syringe in the hand would do where another drug or strength is ordered."""
    if field == "drug":
        return "The syringe in the hand holds another drug than ordered."
    return _of_label_concentration(strength)


def _of_device_concentration(strength: Fraction | None) -> str:
    if strength is None:
        return "Device and syringe would not measure the same dose."
    return f"Each dose given would be {times(strength)} the dose that the device shows."


def _of_label_concentration(strength: Fraction | None) -> str | None:
    if strength is None:
        return None
    if strength == 1:
        return "The device is set to the label's concentration, so each dose given would be the dose set."
    return f"As the device is set, each dose given would be {times(strength)} the dose set."


def _of_demand_dose(ordered: Reading, device: Reading) -> str:
    return f"Each demand would give {_factor(ordered, device)} the ordered dose."


def _of_lockout(ordered: Reading, device: Reading) -> str:
    if is_less(device, ordered):
        return f"Demands could be given up to {_factor(device, ordered)} as often as ordered."
    return f"The wait between demands would be {_factor(ordered, device)} as long as ordered."


def _of_continuous_rate(ordered: Reading, device: Reading) -> str:
    if not device.value:
        return "The ordered continuous part would not run."
    if not ordered.value:
        return f"A continuous part of {as_set(device)} would run that is not ordered."
    return f"The continuous part would give {_factor(ordered, device)} the ordered dose."


def _of_limit(ordered: Reading, device: Reading) -> str:
    if not device.value:
        return "Nothing would limit the dose in that time."
    if not ordered.value:
        return "The device would refuse demands that the order allows."
    if is_less(device, ordered):
        return "The device would refuse demands sooner than ordered."
    return f"The limit would let through {_factor(ordered, device)} the ordered amount."


def _of_window(ordered: Reading, device: Reading) -> str:
    if not device.value:
        return "Nothing would limit the dose in that time."
    if not ordered.value:
        return "The device would refuse demands that the order allows."
    if is_less(device, ordered):
        return f"The amount of the limit would be allowed {_factor(device, ordered)} as often as ordered."
    return f"The amount of the limit would have to last {_factor(ordered, device)} as long as ordered."


def _of_loading_dose(ordered: Reading, device: Reading) -> str:
    if not device.value:
        return "The ordered loading dose would not be given."
    if not ordered.value:
        return f"A loading dose of {as_set(device)} would be given that is not ordered."
    return f"The loading dose would be {_factor(ordered, device)} the ordered one."


_OF_DEVICE: Mapping[str, Callable[[Reading, Reading], str]] = {
    "demand_dose": _of_demand_dose,
    "lockout": _of_lockout,
    "continuous_rate": _of_continuous_rate,
    "loading_dose": _of_loading_dose,
    **{amount: _of_limit for amount, _ in LIMITS},
    **{window: _of_window for _, window in LIMITS},
}


def is_less(one: Reading, other: Reading) -> bool:
    """Whether one amount is less than another, of volumes their masses."""
    return (
        isinstance(one, Amount | DoseAsVolume)
        and isinstance(other, Amount | DoseAsVolume)
        and one.value is not None
        and other.value is not None
        # Only readings that differ are asked about: what is said of equal ones makes no difference.
        and one.value < other.value  # pragma: no mutate
    )


def _factor(p: Reading, q: Reading) -> str:
    factor = ratio(p, q)
    # Only what has a factor comes here, amounts above zero: the other word is never said.
    return "another" if factor is None else times(factor)  # pragma: no mutate

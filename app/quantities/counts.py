"""A count as a device shows it: a whole number, in digits alone."""

from app.quantities.amounts import Quantity
from app.quantities.faults import Fault, FaultCode
from app.quantities.parsing import parse_quantity
from app.quantities.units import Dimension

MOST = 999_999
"""As many as any device shows."""


def parse_count(text: str) -> int | Fault:
    """The count that a text such as `12` states; how a number is written is refused as everywhere."""
    # A number is read with a unit, and any will do.
    read = parse_quantity(f"{text} mL", Dimension.VOLUME, zero_allowed=True)
    if not isinstance(read, Quantity):
        return read
    if read.value.denominator != 1:
        says = "This is a count: a whole number. Look at the device and read it again."
        return Fault(code=FaultCode.NOT_A_NUMBER.value, says=says)
    if read.value > MOST:
        says = "No device counts as far. Look at it and read it again."
        return Fault(code=FaultCode.OUT_OF_RANGE.value, says=says)
    return int(read.value)

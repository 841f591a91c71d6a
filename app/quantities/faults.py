"""What can be wrong with a typed quantity, and how to write it instead; never which value to write."""

from dataclasses import dataclass
from enum import StrEnum


class FaultCode(StrEnum):
    """Ways of writing that are refused; where several apply, the one named first here is reported."""

    NAKED_DECIMAL = "naked-decimal"
    TRAILING_ZERO = "trailing-zero"
    THOUSANDS_SEPARATOR = "thousands-separator"
    DECIMAL_COMMA = "decimal-comma"
    LEADING_ZERO = "leading-zero"
    NOT_A_NUMBER = "not-a-number"
    MISSING_SPACE = "missing-space"
    MISSING_UNIT = "missing-unit"
    UNSAFE_UNIT = "unsafe-unit"
    UNKNOWN_UNIT = "unknown-unit"
    WRONG_DIMENSION = "wrong-dimension"
    MIXED_UNITS = "mixed-units"
    TOO_MANY_DIGITS = "too-many-digits"
    NOT_POSITIVE = "not-positive"
    OUT_OF_RANGE = "out-of-range"


@dataclass(frozen=True, kw_only=True, slots=True)
class Fault:
    """Why a text was refused: a code, and a sentence that says how to write it."""

    code: str
    says: str


_ORDER = {code: place for place, code in enumerate(FaultCode)}


def first_of(faults: list[Fault]) -> Fault:
    """Of several faults the one to report."""
    return min(faults, key=lambda fault: _ORDER[FaultCode(fault.code)])


def fault(code: FaultCode, units: tuple[str, ...]) -> Fault:
    """The fault, its sentence naming the units that would do."""
    return Fault(code=code.value, says=_SAYS[code].format(units=_either(units)))


def out_of_range(least: str, most: str) -> Fault:
    """The fault of a value that no such setting can have."""
    return Fault(
        code=FaultCode.OUT_OF_RANGE.value,
        says=f"This must lie between {least} and {most}. Look at the source and read it again.",
    )


def a_range(code: FaultCode) -> Fault:
    """Two numbers where one is asked; the code is that of how it is written."""
    return Fault(
        code=code.value,
        says=(
            "A range cannot be set. Write the one number that stands there. "
            "Where the source itself has a range, leave this blank and ask whoever wrote it."
        ),
    )


def dose_for_weight() -> Fault:
    """The fault of a dose for each kg of body weight."""
    return Fault(
        code=FaultCode.UNKNOWN_UNIT.value,
        says="A dose for each kg of body weight is not for this tool: use the children's protocol.",
    )


def _either(words: tuple[str, ...]) -> str:
    """Words joined as in `mg, mcg or g`."""
    *head, last = words
    return f"{', '.join(head)} or {last}" if head else last


# Sources of the rules: the Joint Commission's do-not-use list (trailing zero, naked decimal, symbols), and
# ISMP's list of error-prone abbreviations, symbols and dose designations (spaces, commas, cc, the Greek mu).
_SAYS = {
    FaultCode.NAKED_DECIMAL: "Write a zero before the decimal point: a point alone is easily overlooked.",
    FaultCode.TRAILING_ZERO: (
        "Leave out zeros at the end of the decimals: if the point is overlooked, they multiply the dose."
    ),
    FaultCode.THOUSANDS_SEPARATOR: "Write the digits without commas or spaces between them.",
    FaultCode.DECIMAL_COMMA: "Write a decimal point, not a comma.",
    FaultCode.LEADING_ZERO: "Leave out zeros before the number; only a number below one begins with a zero.",
    FaultCode.NOT_A_NUMBER: (
        "Write a number first, in digits with at most one decimal point: no sign, no exponent, nothing else."
    ),
    FaultCode.MISSING_SPACE: "Write one ordinary space between the number and the unit, and no other space.",
    FaultCode.MISSING_UNIT: "Write the unit after the number: {units}.",
    FaultCode.UNSAFE_UNIT: "This way of writing the unit is easily misread. Write the unit as {units}.",
    FaultCode.UNKNOWN_UNIT: "This unit is not known here. Write the unit as {units}.",
    FaultCode.WRONG_DIMENSION: "This unit measures something else. Here the unit is {units}.",
    FaultCode.MIXED_UNITS: (
        "A device takes all its doses as amounts of drug or all as volumes. "
        "By what stands before, write {units}."
    ),
    FaultCode.TOO_MANY_DIGITS: "Write at most 9 digits before the decimal point and 6 after it.",
    FaultCode.NOT_POSITIVE: "The number must be above zero.",
}

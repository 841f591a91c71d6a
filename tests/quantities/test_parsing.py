"""How a quantity may be written, as a table; each row of the contract's, and where two faults meet."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.quantities import Dimension, Fault, Quantity, Range, parse_one_of_two, parse_quantity

ACCEPTED = [
    ("0.2 mg", Dimension.MASS, Fraction(1, 5)),
    ("1000 mcg", Dimension.MASS, Fraction(1)),
    ("2 g", Dimension.MASS, Fraction(2000)),
    ("10.05 mg", Dimension.MASS, Fraction(201, 20)),
    ("999999999 mg", Dimension.MASS, Fraction(999999999)),
    ("0.000001 mg", Dimension.MASS, Fraction(1, 1000000)),
    ("123456789.123456 mcg", Dimension.MASS, Fraction(123456789123456, 10**9)),
    ("50 mL", Dimension.VOLUME, Fraction(50)),
    ("0.5 L", Dimension.VOLUME, Fraction(500)),
    ("90 s", Dimension.TIME, Fraction(3, 2)),
    ("8 min", Dimension.TIME, Fraction(8)),
    ("1.5 h", Dimension.TIME, Fraction(90)),
    ("0.5 mg/h", Dimension.MASS_RATE, Fraction(1, 2)),
    ("10 mcg/h", Dimension.MASS_RATE, Fraction(1, 100)),
    ("0.1 mg/min", Dimension.MASS_RATE, Fraction(6)),
    ("1 mcg/min", Dimension.MASS_RATE, Fraction(6, 100)),
    ("20 mL/h", Dimension.VOLUME_RATE, Fraction(20)),
    ("1 mL/min", Dimension.VOLUME_RATE, Fraction(60)),
    ("1 mg/mL", Dimension.CONCENTRATION, Fraction(1)),
    ("50 mcg/mL", Dimension.CONCENTRATION, Fraction(1, 20)),
    ("2 g/L", Dimension.CONCENTRATION, Fraction(2)),
    ("2 mg/L", Dimension.CONCENTRATION, Fraction(1, 500)),
    ("50 mg/50 mL", Dimension.CONCENTRATION, Fraction(1)),
    ("10 mg/60 mL", Dimension.CONCENTRATION, Fraction(1, 6)),
    ("250 mcg/0.5 L", Dimension.CONCENTRATION, Fraction(1, 2000)),
    ("82 kg", Dimension.WEIGHT, Fraction(82)),
    ("8 /min", Dimension.FREQUENCY, Fraction(8)),
    ("90 %", Dimension.PERCENT, Fraction(90)),
    ("60 mmHg", Dimension.PRESSURE, Fraction(60)),
]

# Where more than one fault is in a text, the one that stands higher in the contract's table is reported.
REFUSED = [
    (".2 mg", "naked-decimal"),
    (".20 mg", "naked-decimal"),
    ("-.5 mg", "naked-decimal"),
    ("+.5 mg", "naked-decimal"),
    (".5mg", "naked-decimal"),
    (".5.5 mg", "naked-decimal"),
    (".5 xyz", "naked-decimal"),
    ("2.0 mg", "trailing-zero"),
    ("0.20 mg", "trailing-zero"),
    ("0.0 mg", "trailing-zero"),
    ("2.0mg", "trailing-zero"),
    ("-2.0 mg", "trailing-zero"),
    ("00.20 mg", "trailing-zero"),
    ("1,000.50 mg", "trailing-zero"),
    ("1,000 mcg", "thousands-separator"),
    ("1 000 mcg", "thousands-separator"),
    ("1,000,000 mcg", "thousands-separator"),
    ("1 000,000 mcg", "thousands-separator"),
    ("1,000.5 mcg", "thousands-separator"),
    ("-1,000 mcg", "thousands-separator"),
    ("+1,000 mcg", "thousands-separator"),
    ("0,200 mg", "thousands-separator"),
    ("12,345mcg", "thousands-separator"),
    ("0,2 mg", "decimal-comma"),
    ("0,0215 mg", "decimal-comma"),
    ("-0,2 mg", "decimal-comma"),
    ("1,00 mg", "decimal-comma"),
    (",5 mg", "decimal-comma"),
    ("007 mg", "leading-zero"),
    ("00.2 mg", "leading-zero"),
    ("00 mg", "leading-zero"),
    ("-007 mg", "leading-zero"),
    ("+02 mg", "leading-zero"),
    ("-1 mg", "not-a-number"),
    ("+1 mg", "not-a-number"),
    ("1e1 mg", "not-a-number"),
    ("1E-1 mg", "not-a-number"),
    ("1e+10 mg", "not-a-number"),
    ("2.0e1 mg", "not-a-number"),
    ("1_0 mg", "not-a-number"),
    ("1.2.3 mg", "not-a-number"),
    ("1..2 mg", "not-a-number"),
    ("2. mg", "not-a-number"),
    ("\u0661 mg", "not-a-number"),
    ("2\u0661 mg", "not-a-number"),
    ("\u0661e\u0661 mg", "not-a-number"),
    ("1,00,000 mg", "not-a-number"),
    ("1 00 mg", "not-a-number"),
    ("1 2 mg", "not-a-number"),
    ("10 000 00 mg", "not-a-number"),
    ("1 .5 mg", "not-a-number"),
    ("", "not-a-number"),
    (" 2 mg", "not-a-number"),
    ("mg", "not-a-number"),
    (".", "not-a-number"),
    ("-", "not-a-number"),
    ("--1 mg", "not-a-number"),
    ("_1 mg", "not-a-number"),
    ("2mg", "missing-space"),
    ("2_ mg", "missing-space"),
    ("1e mg", "missing-space"),
    ("2\u00b5g", "missing-space"),
    ("2  mg", "missing-space"),
    ("2\tmg", "missing-space"),
    ("2\u00a0mg", "missing-space"),
    ("2 mg ", "missing-space"),
    ("2 mg\n", "missing-space"),
    ("2 m g", "missing-space"),
    ("2\n", "missing-space"),
    ("2", "missing-unit"),
    ("2 ", "missing-unit"),
    ("0", "missing-unit"),
    ("1234567890", "missing-unit"),
    ("2 \u00b5g", "unsafe-unit"),
    ("2 \u03bcg", "unsafe-unit"),
    ("2 ug", "unsafe-unit"),
    ("2 MG", "unsafe-unit"),
    ("2 Mg", "unsafe-unit"),
    ("2 ml", "unsafe-unit"),
    ("2 ML", "unsafe-unit"),
    ("2 cc", "unsafe-unit"),
    ("2 U", "unsafe-unit"),
    ("2 IU", "unsafe-unit"),
    ("2 mg/ml", "unsafe-unit"),
    ("2 ug/h", "unsafe-unit"),
    ("2 U/h/kg", "unsafe-unit"),
    ("2 xyz", "unknown-unit"),
    ("2 micrograms", "unknown-unit"),
    ("2 mlx", "unknown-unit"),
    ("2 mg/h/h", "unknown-unit"),
    ("2 mg.", "unknown-unit"),
    ("2 /", "unknown-unit"),
    ("2 mg/kg", "unknown-unit"),
    ("2 mL", "wrong-dimension"),
    ("2 kg", "wrong-dimension"),
    ("2 mg/h", "wrong-dimension"),
    ("0 mL", "wrong-dimension"),
    ("50 mg/50 mL", "wrong-dimension"),
    ("1234567890 mg", "too-many-digits"),
    ("0.0000001 mg", "too-many-digits"),
    ("1234567890 mL", "wrong-dimension"),
    ("0 mg", "not-positive"),
]

REFUSED_CONCENTRATIONS = [
    ("50 mg/50 ml", "unsafe-unit"),
    ("50 mg/50", "missing-unit"),
    ("50/50 mL", "missing-unit"),
    ("50 mL/50 mg", "wrong-dimension"),
    ("50 mg/0 mL", "not-positive"),
    ("0 mg/50 mL", "not-positive"),
    ("0 mg/.5 mL", "missing-space"),
    ("50 mg/50.0 mL", "trailing-zero"),
    # The higher of the two halves' faults, whichever half it is in.
    ("50.0 mg/50 ml", "trailing-zero"),
    ("50 MG/50.0 mL", "trailing-zero"),
    ("50 MG/050 mL", "leading-zero"),
    ("050 mg/50 ml", "leading-zero"),
    ("50 mg/50 mL/2 h", "missing-space"),
    ("50 mg/ 50 mL", "missing-space"),
    ("0 mg/mL", "not-positive"),
    ("2 mg", "wrong-dimension"),
]


@pytest.mark.parametrize(("text", "dimension", "value"), ACCEPTED)
def test_accepted(text: str, dimension: Dimension, value: Fraction) -> None:
    assert parse_quantity(text, dimension) == Quantity(value=value, dimension=dimension)


@pytest.mark.parametrize(("text", "code"), REFUSED)
def test_refused(text: str, code: str) -> None:
    refused = parse_quantity(text, Dimension.MASS)
    assert isinstance(refused, Fault)
    assert refused.code == code


@pytest.mark.parametrize(("text", "code"), REFUSED_CONCENTRATIONS)
def test_refused_concentration(text: str, code: str) -> None:
    refused = parse_quantity(text, Dimension.CONCENTRATION)
    assert isinstance(refused, Fault)
    assert refused.code == code


def test_half_a_concentration_is_judged_as_what_was_asked_for() -> None:
    refused = parse_quantity("50 mg/50 ml", Dimension.MASS)
    assert isinstance(refused, Fault)
    assert refused.code == "missing-space"


def test_zero_is_a_value_only_where_it_is_allowed() -> None:
    assert parse_quantity("0 mg/h", Dimension.MASS_RATE, zero_allowed=True) == Quantity(
        value=Fraction(0), dimension=Dimension.MASS_RATE
    )
    refused = parse_quantity("0 mg/h", Dimension.MASS_RATE)
    assert isinstance(refused, Fault)
    assert refused.code == "not-positive"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("60 s", ""),
        ("1 min", ""),
        ("24 h", ""),
        # In the unit that was typed, where that is a whole number of it.
        ("59 s", "60 s and 86,400 s"),
        ("1440.5 min", "1 min and 1,440 min"),
        ("25 h", "1 min and 24 h"),
    ],
)
def test_the_bounds_of_a_range_are_inside_and_said_in_the_unit_typed(text: str, said: str) -> None:
    read = parse_quantity(text, Dimension.TIME, allowed=Range(least=Fraction(1), most=Fraction(1440)))
    if not said:
        assert isinstance(read, Quantity)
        return
    assert read == Fault(
        code="out-of-range",
        says=f"This must lie between {said}. Look at the source and read it again.",
    )


SAYS = [
    (".2 mg", "Write a zero before the decimal point: a point alone is easily overlooked."),
    (
        "2.0 mg",
        "Leave out zeros at the end of the decimals: if the point is overlooked, they multiply the dose.",
    ),
    ("1,000 mg", "Write the digits without commas or spaces between them."),
    ("0,2 mg", "Write a decimal point, not a comma."),
    ("007 mg", "Leave out zeros before the number; only a number below one begins with a zero."),
    (
        "-1 mg",
        "Write a number first, in digits with at most one decimal point: no sign, no exponent, nothing else.",
    ),
    ("2mg", "Write one ordinary space between the number and the unit, and no other space."),
    ("2", "Write the unit after the number: mg, mcg or g."),
    ("2 ug", "This way of writing the unit is easily misread. Write the unit as mg, mcg or g."),
    ("2 xyz", "This unit is not known here. Write the unit as mg, mcg or g."),
    ("2 mL", "This unit measures something else. Here the unit is mg, mcg or g."),
    ("2 mg/50 mL/kg", "Write one ordinary space between the number and the unit, and no other space."),
    ("50 mg/50 mL", "This unit measures something else. Here the unit is mg, mcg or g."),
    ("1234567890 mg", "Write at most 9 digits before the decimal point and 6 after it."),
    ("0 mg", "The number must be above zero."),
    ("2 mg/kg", "A dose for each kg of body weight is not for this tool: use the children's protocol."),
    ("2 kg/mg", "A dose for each kg of body weight is not for this tool: use the children's protocol."),
]


@pytest.mark.parametrize(("text", "says"), SAYS)
def test_a_fault_says_how_to_write_it(text: str, says: str) -> None:
    refused = parse_quantity(text, Dimension.MASS)
    assert isinstance(refused, Fault)
    assert refused.says == says


def test_one_unit_is_named_alone_and_two_with_or() -> None:
    weight, volume = parse_quantity("82", Dimension.WEIGHT), parse_quantity("2", Dimension.VOLUME)
    assert isinstance(weight, Fault)
    assert isinstance(volume, Fault)
    assert weight.says == "Write the unit after the number: kg."
    assert volume.says == "Write the unit after the number: mL or L."


@given(
    st.text(alphabet="0123456789.,_ +-eE/mgcuMLh\u00b5\u0661\u00a0", max_size=14), st.sampled_from(Dimension)
)
def test_no_text_is_read_otherwise_than_it_is_written(text: str, dimension: Dimension) -> None:
    """What is accepted is one number in its only form, a space and a unit; anything else is refused."""
    read = parse_quantity(text, dimension, zero_allowed=True)
    if isinstance(read, Quantity):
        number, _, unit = text.partition(" ")
        assert number == str(int(number)) if "." not in number else number.rstrip("0") == number
        assert unit
        assert read.value >= 0
    else:
        assert read.says.endswith(".")


# A dose on a device, which takes all of them as masses or all as volumes: text, what is settled, what it is.
ONE_OF_TWO = [
    ("0.4 mL", None, Dimension.VOLUME),
    ("0.4 mg", None, Dimension.MASS),
    ("0.4 mL", Dimension.VOLUME, Dimension.VOLUME),
    ("0.4 mg", Dimension.MASS, Dimension.MASS),
    ("0.4 mL", Dimension.MASS, "mixed-units"),
    ("0.4 mg", Dimension.VOLUME, "mixed-units"),
    # What stands higher in the table goes before it, what stands lower behind it.
    ("0.40 mL", Dimension.MASS, "trailing-zero"),
    ("0.4 ml", Dimension.MASS, "unsafe-unit"),
    ("4 h", Dimension.MASS, "wrong-dimension"),
    ("4 h", None, "wrong-dimension"),
    ("0 mL", Dimension.MASS, "mixed-units"),
    ("0 mL", None, "not-positive"),
    ("0.0000001 mL", Dimension.MASS, "mixed-units"),
]


@pytest.mark.parametrize(("text", "settled", "is_what"), ONE_OF_TWO)
def test_one_of_two_kinds(text: str, settled: Dimension | None, is_what: Dimension | str) -> None:
    kinds = (Dimension.MASS, Dimension.VOLUME)
    read = parse_one_of_two(text, kinds, settled=settled, zero_allowed=False)

    assert (read.code if isinstance(read, Fault) else read.dimension) == is_what


@pytest.mark.parametrize(
    "text",
    [
        "6-8 min",
        "6 - 8 min",
        "6\u20138 min",
        "6\u22128 min",
        "6 to 8 min",
        "6 or 8 min",
        "6..8 min",
        "6~8 min",
        "6.5-8 min",
        "6-8",
    ],
)
def test_of_a_range_it_is_said_that_it_cannot_be_set(text: str) -> None:
    read = parse_quantity(text, Dimension.TIME)

    assert isinstance(read, Fault)
    assert read.says == (
        "A range cannot be set. Write the one number that stands there. "
        "Where the source itself has a range, leave this blank and ask whoever wrote it."
    )


@pytest.mark.parametrize("text", ["-6 min", "6- min", "6 minutes to", "6 8 min", "to 8 min"])
def test_what_is_no_range_is_told_otherwise(text: str) -> None:
    read = parse_quantity(text, Dimension.TIME)

    assert isinstance(read, Fault)
    assert "range" not in read.says

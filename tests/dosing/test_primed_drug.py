"""What ran out at priming: drug that leaves the syringe and reaches nobody."""

from dataclasses import replace
from fractions import Fraction

from app.dosing import SetInUse, delivery, dose_math
from app.quantities import Dimension, Quantity
from tests.dosing.sources import FULL


def test_what_ran_out_at_priming_is_of_the_syringes_strength() -> None:
    """1.5 mL of 2 mg/mL, whatever the device believes."""
    device = replace(FULL, concentration=Fraction(4))
    math = dose_math(device, SetInUse())
    primed = delivery(
        order=FULL, device=device, device_math=math, syringe=Fraction(2), primed=Fraction("1.5")
    ).primed_drug
    assert primed == Quantity(value=Fraction(3), dimension=Dimension.MASS)
    unknown = delivery(order=FULL, device=device, device_math=math, syringe=None, primed=Fraction("1.5"))
    assert unknown.primed_drug is None

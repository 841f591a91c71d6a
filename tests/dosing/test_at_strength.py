"""What the device counts, given at the strength that the syringe really has."""

from fractions import Fraction

from app.dosing import at_strength
from app.quantities import Dimension, Quantity


def test_what_the_device_counts_is_given_at_the_syringes_strength() -> None:
    # The published fatal case: a limit of 30 mg in 4 h, 5 mg/mL in the syringe, 1 mg/mL on the device
    # (Hicks RW, "Death by PCA", AHRQ WebM&M, February 2013). That 150 mg pass is arithmetic on these.
    limit = Quantity(value=Fraction(30), dimension=Dimension.MASS).as_json()

    given = at_strength(limit, {"exact": "5", "shown": "5"})

    assert given == {"exact": "150", "unit": "mg", "shown": "150 mg"}


def test_no_rounded_figure_is_computed_with() -> None:
    limit = {"exact": "1/3", "unit": "mg", "shown": "0.333 mg"}

    assert at_strength(limit, {"exact": "1/3", "shown": "0.333"})["exact"] == "1/9"

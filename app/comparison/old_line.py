"""What a primed line still holds of a syringe that was replaced."""

from fractions import Fraction

from app.comparison.case import Case
from app.comparison.wording import typed
from app.quantities import Dimension, Quantity


def on_label(case: Case) -> tuple[str, Fraction] | None:
    """Drug and strength as both read them on the label; None where they did not read them alike."""
    labels = [entry.label for entry in case.entries]
    strengths = {each.find_number("concentration") for each in labels}
    drugs = {each.find_text("drug") for each in labels}
    (strength, *other), (drug, *another) = strengths, drugs
    return None if other or another or strength is None or drug is None else (drug, strength)


def has_other_strength(case: Case) -> bool:
    """Whether both read another strength on the label than what was in force, or ordered, before."""
    read = on_label(case)
    known = [each.find_number("concentration") for each in (case.previous, case.order_of_record)]
    before = next((each for each in known if each is not None), None)
    return read is not None and before is not None and read[1] != before


def held_in_line(case: Case) -> tuple[str, Quantity] | None:
    """The drug, as on the label of the syringe it was primed from, and how much of it the line set holds.

    None where the two did not read the label alike, or the site does not say what the set holds.
    """
    holds, read = case.policy.in_use.prime_volume, on_label(case)
    if read is None or not holds:
        return None
    _, strength = read
    mass = Quantity(value=holds * strength, dimension=Dimension.MASS)
    return typed(case.entries[0].label.by_field["drug"]), mass

"""What a primed line still holds of a syringe that was replaced."""

from app.comparison.case import Case
from app.comparison.wording import typed
from app.quantities import Dimension, Quantity


def held_in_line(case: Case) -> tuple[str, Quantity] | None:
    """The drug, as on the label of the syringe it was primed from, and how much of it the line set holds.

    None where the two did not read the label alike, or the site does not say what the set holds.
    """
    holds = case.policy.in_use.prime_volume
    first, second = (entry.label for entry in case.entries)
    strengths = {each.find_number("concentration") for each in (first, second)}
    drugs = {each.find_text("drug") for each in (first, second)}
    (strength, *other), (drug, *another) = strengths, drugs
    if other or another or strength is None or drug is None or not holds:
        return None
    return typed(first.by_field["drug"]), Quantity(value=holds * strength, dimension=Dimension.MASS)

"""What an account says to people: what was read, what follows, by how much; never a cause or a person."""

from fractions import Fraction

from app.accounting.budget import Budget
from app.accounting.case import Policy
from app.accounting.findings import Difference
from app.accounting.writing import root
from app.quantities import Dimension, Quantity, show, show_number

_RECOUNT = "Recount together."


def volume(value: Fraction) -> str:
    """A volume, without a sign."""
    return show(Quantity(value=abs(value), dimension=Dimension.VOLUME))


def allowed_volume(budget: Budget, policy: Policy) -> str:
    """How much a stage may differ: what decides, or what is always allowed if that is more."""
    if policy.root_decides and policy.at_least * policy.at_least < budget.square:
        return root(budget.square)["shown"]
    return volume(policy.at_least if policy.root_decides else max(policy.at_least, budget.worst_case))


def shown(difference: Difference) -> str:
    """A difference, without a sign."""
    return show(Quantity(value=abs(difference.value), dimension=difference.dimension))


def doses(number: int) -> str:
    """`1 dose`, `12 doses`."""
    return f"{number:,} dose" if number == 1 else f"{number:,} doses"


def presses(number: int) -> str:
    """`1 press`, `12 presses`."""
    return f"{number:,} press" if number == 1 else f"{number:,} presses"


def times(factor: Fraction) -> str:
    """`5 times`."""
    return f"{show_number(factor)} times"


def recount(sentence: str) -> str:
    """A sentence after the call to count once more."""
    return f"{_RECOUNT} {sentence}"

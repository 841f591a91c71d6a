"""When the clock of observations starts again: what was set anew lets more drug flow than before."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from app.quantities import Dimension, Quantity, parse_quantity
from app.records.field_table import MODES_WITH_CONTINUOUS
from app.records.known import Known

# What may be more, and what may be less often; on a device that takes doses as volumes either is.
_MORE: dict[str, tuple[Dimension, ...]] = {
    "demand_dose": (Dimension.MASS, Dimension.VOLUME),
    "continuous_rate": (Dimension.MASS_RATE, Dimension.VOLUME_RATE),
}
_STRENGTH = ("amount", "volume", "concentration")


def starts_the_clock(before: Known, after: Known) -> bool:
    """Whether a start with these settings is an increase, a new strength, or comes with a loading dose.

    What cannot be told apart, such as a dose that is read in two ways, counts: the patient is looked at.
    """
    old, new = before.previous, after.previous
    if not old or new.get("loading_dose"):
        return True
    if any(old.get(name) != new.get(name) for name in _STRENGTH):
        return True
    is_more = any(_is_more(old.get(name), new.get(name), kinds) for name, kinds in _MORE.items())
    shorter = _is_more(new.get("lockout"), old.get("lockout"), (Dimension.TIME,))
    return is_more or shorter or old.get("limit") != new.get("limit")


def is_continuous(known: Known) -> bool:
    """Whether a continuous part is set."""
    rate = known.previous.get("continuous_rate") or ""
    is_none = 0 in {_value(rate, kind) for kind in _MORE["continuous_rate"]}
    return known.previous.get("mode") in MODES_WITH_CONTINUOUS and not is_none


def is_at_risk(told: Mapping[str, Any]) -> bool:
    """Whether the comparison of what is in force found a reason of risk in the patient."""
    codes = {each["code"] for each in told["findings"]}
    return bool(codes & {"patient-at-risk", "continuous-in-patient-at-risk"})


def _is_more(before: str | None, after: str | None, kinds: tuple[Dimension, ...]) -> bool:
    """Whether what is set is more than it was, or cannot be told."""
    if before == after or not after:
        return False
    read = ((_value(before or "", kind), _value(after, kind)) for kind in kinds)
    told = [(one, other) for one, other in read if one is not None and other is not None]
    return not told or any(other > one for one, other in told)


def _value(text: str, kind: Dimension) -> Fraction | None:
    read = parse_quantity(text, kind, zero_allowed=True)
    return read.value if isinstance(read, Quantity) else None

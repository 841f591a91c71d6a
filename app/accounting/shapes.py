"""The plain structure of an object in a case: what is needed, what may be absent, and of what type it is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from app.comparison.documents import Node, Quantities, RefusedError, find_switch, get, refuse, text
from app.quantities import FaultCode, units_of
from app.records.measures import Measure

MOST_COUNTED = 999_999
COUNTS = ("totals_count_bolus", "totals_count_loading", "totals_count_prime", "doses_count_bolus")
"""Whether a device's totals count these: as the policy has it, or as a device's own entry says."""


@dataclass(frozen=True, kw_only=True, slots=True)
class EitherKind:
    """A dose that is typed as a mass or, on a device in volumes, as a volume."""

    mass: Measure
    volume: Measure


@dataclass(frozen=True, slots=True)
class Part:
    """An object of the case, while it is read."""

    given: Node
    path: str
    quantities: Quantities

    def below(self, key: str) -> str:
        """The path of one of its keys."""
        return f"{self.path}.{key}"

    def get(self, key: str) -> object:
        """A value that must be there."""
        return get(self.given, self.path, key)

    def name(self, key: str) -> str:
        """A text that must be there; blank is absent."""
        typed = text(self.get(key), self.below(key))
        if not typed.strip():
            refuse(self.below(key), "missing-key", "This must not be blank.")
        return typed

    def quantity(self, key: str, measure: Measure) -> Fraction:
        """A quantity that must be there."""
        return self.quantities.get(self.get(key), self.below(key), measure).value

    def find_quantity(self, key: str, measure: Measure) -> Fraction | None:
        """A quantity that may be absent or null."""
        return self.quantities.find_value(self.given, self.path, key, measure)

    def dose(self, key: str, kind: EitherKind, *, in_volumes: bool) -> Fraction:
        """A dose that must be there, of the kind in which the device is set."""
        value, path = self.get(key), self.below(key)
        own, other = (kind.volume, kind.mass) if in_volumes else (kind.mass, kind.volume)
        try:
            return self.quantities.get(value, path, own).value
        except RefusedError as refused:
            unit = str(value).rpartition(" ")[2]
            if refused.error.code == FaultCode.WRONG_DIMENSION and unit in units_of(other.dimension):
                refuse(path, "mixed-units", "One device is set in masses or in volumes, not in both.")
            raise

    def switch(self, key: str) -> bool:
        """True or false, which must be there."""
        value = self.get(key)
        if not isinstance(value, bool):
            refuse(self.below(key), "wrong-type", "True or false is expected here.")
        return value

    def find_switch(self, key: str) -> bool | None:
        """True or false, or absent or null."""
        return find_switch(self.given, self.path, key)

    def switches(self, keys: Sequence[str]) -> Mapping[str, bool]:
        """Those of some switches that are given."""
        found = ((key, self.find_switch(key)) for key in keys)
        return {key: switch for key, switch in found if switch is not None}


def count(value: object, path: str, *, least: int = 0) -> int | None:
    """A count, or null."""
    if value is None:
        return None
    if not isinstance(value, int) or isinstance(value, bool):
        refuse(path, "wrong-type", "A whole number is expected here, without a point.")
    if not least <= value <= MOST_COUNTED:
        refuse(path, "out-of-range", f"This must lie between {least} and {MOST_COUNTED}.")
    return value

"""What is changed of the settings in force, and by how much: the figures of both, side by side."""

from dataclasses import dataclass
from fractions import Fraction

from app.comparison.case import Case
from app.comparison.figures import used_settings
from app.comparison.readings import Readings
from app.comparison.source_reader import with_masses
from app.dosing import dose_math, number_json
from app.quantities import Dimension, Quantity


@dataclass(frozen=True, kw_only=True)
class Change:
    """One figure before and now; None: there is none, or what it needs is not known."""

    what: str
    before: Quantity | None
    now: Quantity | None

    @property
    def factor(self) -> Fraction | None:
        """How many times as much it is now."""
        if self.before is None or self.now is None or not self.before.value:
            return None
        return self.now.value / self.before.value

    def as_json(self) -> dict[str, object]:
        """As a comparison keeps it."""
        return {
            "what": self.what,
            "before": None if self.before is None else self.before.as_json(),
            "now": None if self.now is None else self.now.as_json(),
            "factor": number_json(self.factor),
        }


def what_changed(case: Case) -> tuple[Change, ...]:
    """Each figure of the device as it was set before and as A reads it now, alike or not."""
    entry = case.entries[0]
    # Where settings are changed the syringe stays: its label serves for both.
    previous = with_masses(case.previous, entry.label.find_number("concentration"))
    before, now = (_figures(case, source) for source in (previous, entry.device))
    told = (Change(what=what, before=before[what], now=now[what]) for what in before)
    return tuple(each for each in told if each.before is not None or each.now is not None)


def _figures(case: Case, source: Readings) -> dict[str, Quantity | None]:
    used = used_settings(source, case.entries[0].label)
    most = dose_math(used, case.policy.in_use).full_use
    return {
        "demand_dose": _quantity(used.demand_dose, Dimension.MASS),
        "lockout": _quantity(used.lockout, Dimension.TIME),
        "continuous_rate": _quantity(used.rate, Dimension.MASS_RATE),
        "hour": most.hour if most else None,
        "four_hours": most.four_hours if most else None,
        "day": most.day if most else None,
    }


def _quantity(value: Fraction | None, dimension: Dimension) -> Quantity | None:
    return None if value is None else Quantity(value=value, dimension=dimension)

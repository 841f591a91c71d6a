"""The model pump at full use for weeks, under any number of limits. In min and mg; all exact."""

from dataclasses import dataclass
from fractions import Fraction

from app.dosing.pump import Grants, granted_through, grants_at_full_use
from app.dosing.pump_settings import Counting, Limit, PumpSettings
from app.dosing.several_limits import GrantsByStep
from app.dosing.syringe import Draw, lasts


@dataclass(frozen=True, kw_only=True, slots=True)
class LongUse:
    """A device that runs without a loading dose: mg, min and mg/min; no demands without a dose."""

    demand_dose: Fraction | None
    lockout: Fraction | None
    rate: Fraction
    limits: tuple[Limit, ...]
    counting: Counting

    def demands_through(self, time: Fraction) -> int:
        """How many demands are granted in [0, time], the button pressed at every instant."""
        grants = self._grants()
        return 0 if grants is None else granted_through(grants, time)

    def lasts(self, drug: Fraction) -> Fraction | None:
        """How long this much drug lasts at full use; None beyond 30 days."""
        draw = Draw(rate=self.rate, demand_dose=self.demand_dose or Fraction(0))
        return lasts(self._grants(), draw, drug)

    def _grants(self) -> Grants | GrantsByStep | None:
        """The demands granted; None where there are none to grant."""
        if self.demand_dose is None or self.lockout is None:
            return None
        return grants_at_full_use(
            PumpSettings(
                demand_dose=self.demand_dose,
                lockout=self.lockout,
                rate=self.rate,
                limits=self.limits,
                counting=self.counting,
            )
        )

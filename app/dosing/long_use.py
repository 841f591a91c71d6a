"""The model pump at full use for weeks, under any number of limits. In min and mg; all exact."""

from dataclasses import dataclass
from fractions import Fraction

from app.dosing.pump import granted_through, grants_without_steps
from app.dosing.pump_settings import Counting, Limit, PumpSettings
from app.dosing.rhythm import Rhythm
from app.dosing.syringe import LONGEST, Draw, lasts


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
        if self.demand_dose is None or self.lockout is None:
            return 0
        if len(self.limits) > 1:
            return self._rhythm(self.demand_dose, self.lockout).count_through(time)
        return granted_through(grants_without_steps(self._pump(self.demand_dose, self.lockout)), time)

    def lasts(self, drug: Fraction) -> Fraction | None:
        """How long this much drug lasts at full use; None beyond 30 days."""
        draw = Draw(rate=self.rate, demand_dose=self.demand_dose or Fraction(0))
        if self.demand_dose is None or self.lockout is None:
            return lasts(None, draw, drug)
        if len(self.limits) > 1:
            return self._lasts_under_several(self._rhythm(self.demand_dose, self.lockout), draw, drug)
        return lasts(grants_without_steps(self._pump(self.demand_dose, self.lockout)), draw, drug)

    def _pump(self, demand_dose: Fraction, lockout: Fraction) -> PumpSettings:
        return PumpSettings(
            demand_dose=demand_dose,
            lockout=lockout,
            rate=self.rate,
            limits=self.limits,
            counting=self.counting,
        )

    def _rhythm(self, demand_dose: Fraction, lockout: Fraction) -> Rhythm:
        rate = self.rate if self.counting.continuous else Fraction(0)
        return Rhythm(demand_dose=demand_dose, lockout=lockout, counted_rate=rate, limits=self.limits)

    def _lasts_under_several(self, rhythm: Rhythm, draw: Draw, drug: Fraction) -> Fraction | None:
        """When a demand cannot be given whole, or the continuous part has used what the demands leave."""
        whole, refused_at = rhythm.first_not_whole(draw.demand_dose, self.rate, drug, before=LONGEST)
        ends = [] if refused_at is None else [refused_at]
        if self.rate:
            ends.append((drug - whole * draw.demand_dose) / self.rate)
        end = min(ends, default=None)
        return None if end is None or end > LONGEST else end

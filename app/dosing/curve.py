"""How the dose adds up when the button is pressed at every instant: a curve for a picture. All exact."""

from dataclasses import dataclass
from fractions import Fraction

from app.dosing.dose_math import SetInUse, SourceSettings, full_use_of
from app.dosing.pump import granted_times

_NOTHING = Fraction(0)
Span = tuple[Fraction, Fraction]


@dataclass(frozen=True, kw_only=True, slots=True)
class Curve:
    """The dose (mg) in the first `until` min: the loading dose at once, a rate in mg/min, steps of a demand.

    `waits` are the spans in which the lockout would allow a demand and the limit refuses it.
    """

    until: Fraction
    loading: Fraction
    rate: Fraction
    dose: Fraction
    demands: tuple[Fraction, ...]
    waits: tuple[Span, ...]

    def before(self, time: Fraction) -> Fraction:
        """The mg given in [0, time), the loading dose included."""
        return self._flowed(time) + sum(time > each for each in self.demands) * self.dose

    def corners(self) -> tuple[Span, ...]:
        """The points (min, mg) of the line: for each demand one below and one above its step."""
        made = [(_NOTHING, _NOTHING), (_NOTHING, self.loading)]
        for number, time in enumerate(self.demands):
            below = self._flowed(time) + number * self.dose
            made += [(time, below), (time, below + self.dose)]
        return (*made, (self.until, self.before(self.until)))

    def _flowed(self, time: Fraction) -> Fraction:
        return self.loading + self.rate * time


def curve_of(
    source: SourceSettings, in_use: SetInUse, *, until: Fraction, strength: Fraction = Fraction(1)
) -> Curve | None:
    """The curve of one source; None where a setting that its mode uses, the limit or the loading is absent.

    `strength` is what the syringe holds in a mL, divided by what the source believes that it holds.
    """
    use = full_use_of(source, in_use)
    if use is None:
        return None
    demands = tuple(granted_times(use.grants, until)) if use.grants else ()
    return Curve(
        until=until,
        loading=(source.loading or _NOTHING) * strength,
        rate=use.rate * strength,
        dose=use.dose * strength,
        demands=demands,
        waits=_waits(demands, use.grants.lockout, until) if use.grants else (),
    )


def _waits(demands: tuple[Fraction, ...], lockout: Fraction, until: Fraction) -> tuple[Span, ...]:
    allowed = (_NOTHING, *(each + lockout for each in demands))
    granted = (*demands, until)
    return tuple((start, end) for start, end in zip(allowed, granted, strict=True) if start < end)

"""What the model pump is set to: mg, min and mg/min; all exact."""

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class Limit:
    """At most `amount` mg counted in any `window` min."""

    amount: Fraction
    window: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class Counting:
    """What a limit counts besides demands."""

    loading: bool = True
    continuous: bool = True


COUNTS_EVERYTHING = Counting()


@dataclass(frozen=True, kw_only=True, slots=True)
class PumpSettings:
    """What a pump with demands is set to: mg, min and mg/min."""

    demand_dose: Fraction
    lockout: Fraction
    rate: Fraction = Fraction(0)
    loading: Fraction = Fraction(0)
    limits: tuple[Limit, ...] = ()
    counting: Counting = COUNTS_EVERYTHING

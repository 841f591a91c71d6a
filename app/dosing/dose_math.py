"""Everything that is computed from one source: strength, doses over time, limit, syringe, set volumes."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from app.dosing.pump import (
    Grants,
    first_refusal,
    granted_before,
    grants_at_full_use,
    longest_wait,
)
from app.dosing.pump_settings import COUNTS_EVERYTHING, Counting, Limit, PumpSettings
from app.dosing.several_limits import GrantsByStep
from app.dosing.syringe import Draw, lasts
from app.quantities import Dimension, Quantity

_HOUR = Fraction(60)
_NOTHING = Fraction(0)


@dataclass(frozen=True, kw_only=True, slots=True)
class SourceSettings:
    """What one source states, as far as its mode uses it; None: not read. mg, mL, min, mg/h, mL/h, mg/mL.

    A `loading` of zero and no `limits` where `limits_read` say that there is none. A source whose mode is not
    known has neither demands nor a continuous part, and nothing is said of its use.
    """

    has_demands: bool
    has_continuous: bool
    mode_known: bool = True
    concentration: Fraction | None = None
    volume: Fraction | None = None
    demand_dose: Fraction | None = None
    lockout: Fraction | None = None
    rate: Fraction | None = None
    limits: tuple[Limit, ...] = ()
    limits_read: bool = False
    loading: Fraction | None = None
    carrier_rate: Fraction | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class SetInUse:
    """The set between syringe and patient (mL), and what the limit counts."""

    prime_volume: Fraction = _NOTHING
    dead_volume: Fraction | None = None
    counting: Counting = COUNTS_EVERYTHING


@dataclass(frozen=True, kw_only=True, slots=True)
class OverTime:
    """Drug delivered in the first hour, the first four hours, the first day."""

    hour: Quantity
    four_hours: Quantity
    day: Quantity

    def as_json(self) -> dict[str, object]:
        """As the contract writes it."""
        return {"1 h": self.hour.as_json(), "4 h": self.four_hours.as_json(), "24 h": self.day.as_json()}


@dataclass(frozen=True, kw_only=True, slots=True)
class DoseMath:
    """The figures of one source; None where an input is absent. What each one is: CONTRACT.md, MATH."""

    concentration: Quantity | None
    demand_volume: Quantity | None
    demands_per_hour: int | None
    by_lockout: OverTime | None
    full_use: OverTime | None
    first_hour_with_loading: Quantity | None
    limit_first_refuses_at: Quantity | None
    demands_before_limit: int | None
    longest_wait: Quantity | None
    syringe_lasts_full_use: Quantity | None
    syringe_lasts_continuous: Quantity | None
    primed_amount: Quantity | None
    junction_bolus: Quantity | None
    carrier_delay: Quantity | None
    first_windows_with_loading: tuple[Quantity, ...]
    """Beside the contract's MATH: what full use and loading dose deliver in each limit's first window."""

    def as_json(self) -> dict[str, object]:
        """As the contract writes it."""
        return {
            "concentration": _json(self.concentration),
            "demand_volume": _json(self.demand_volume),
            "demands_per_hour": self.demands_per_hour,
            "by_lockout": _json(self.by_lockout),
            "full_use": _json(self.full_use),
            "first_hour_with_loading": _json(self.first_hour_with_loading),
            "limit_first_refuses_at": _json(self.limit_first_refuses_at),
            "demands_before_limit": self.demands_before_limit,
            "longest_wait": _json(self.longest_wait),
            "syringe_lasts_full_use": _json(self.syringe_lasts_full_use),
            "syringe_lasts_continuous": _json(self.syringe_lasts_continuous),
            "primed_amount": _json(self.primed_amount),
            "junction_bolus": _json(self.junction_bolus),
            "carrier_delay": _json(self.carrier_delay),
        }


@dataclass(frozen=True, kw_only=True, slots=True)
class Use:
    """A pump in use: the rate in mg/min, its granted demands (None without demands), and what each gives."""

    rate: Fraction
    grants: Grants | GrantsByStep | None = None
    dose: Fraction = _NOTHING

    def delivered_before(self, time: Fraction) -> Fraction:
        """The mg delivered in [0, time), the loading dose left out."""
        demands = granted_before(self.grants, time) * self.dose if self.grants else _NOTHING
        return demands + self.rate * time

    def over_time(self) -> OverTime:
        """What is delivered in one hour, four hours and a day."""
        hour, four_hours, day = (self.delivered_before(hours * _HOUR) for hours in (1, 4, 24))
        return OverTime(hour=_mass(hour), four_hours=_mass(four_hours), day=_mass(day))


def dose_math(source: SourceSettings, in_use: SetInUse) -> DoseMath:
    """Every figure of one source."""
    lockout_only = _use(source, in_use, limits=())
    full_use = full_use_of(source, in_use)
    loading = source.loading or _NOTHING
    grants = full_use.grants if full_use else None
    refusal = first_refusal(grants) if grants else None
    concentration, over_time = source.concentration, full_use.over_time() if full_use else None
    return DoseMath(
        concentration=_quantity(concentration, Dimension.CONCENTRATION),
        demand_volume=_quantity(_ratio(source.demand_dose, concentration), Dimension.VOLUME),
        demands_per_hour=ceil(_HOUR / source.lockout) if source.lockout else None,
        by_lockout=lockout_only.over_time() if lockout_only else None,
        full_use=over_time,
        first_hour_with_loading=_mass(over_time.hour.value + loading) if over_time else None,
        limit_first_refuses_at=_quantity(refusal.time if refusal else None, Dimension.TIME),
        demands_before_limit=refusal.granted_before if refusal else None,
        longest_wait=_quantity(longest_wait(grants) if grants else None, Dimension.TIME),
        syringe_lasts_full_use=_quantity(_syringe_at_full_use(source, in_use, full_use), Dimension.TIME),
        syringe_lasts_continuous=_quantity(_syringe_by_continuous(source, in_use), Dimension.TIME),
        primed_amount=_quantity(_product(in_use.prime_volume, concentration), Dimension.MASS),
        junction_bolus=_quantity(_product(in_use.dead_volume, concentration), Dimension.MASS),
        carrier_delay=_quantity(_carrier_delay(source, in_use.dead_volume), Dimension.TIME),
        first_windows_with_loading=_first_windows(full_use, source.limits, loading),
    )


def full_use_of(source: SourceSettings, in_use: SetInUse) -> Use | None:
    """The pump at full use; None where a setting that its mode uses, the limit or the loading is absent."""
    limits_known = source.limits_read and source.loading is not None
    return _use(source, in_use, limits=source.limits) if limits_known else None


def _use(source: SourceSettings, in_use: SetInUse, *, limits: tuple[Limit, ...]) -> Use | None:
    """The pump in use as the source sets it; None where the mode, or a setting that it uses, is absent."""
    if not source.mode_known:
        return None
    rate = source.rate / _HOUR if source.has_continuous and source.rate is not None else _NOTHING
    if source.has_continuous and source.rate is None:
        return None
    if not source.has_demands:
        return Use(rate=rate)
    if source.demand_dose is None or source.lockout is None:
        return None
    settings = PumpSettings(
        demand_dose=source.demand_dose,
        lockout=source.lockout,
        rate=rate,
        loading=source.loading or _NOTHING,
        limits=limits,
        counting=in_use.counting,
    )
    return Use(grants=grants_at_full_use(settings), dose=source.demand_dose, rate=rate)


def _first_windows(
    full_use: Use | None, limits: tuple[Limit, ...], loading: Fraction
) -> tuple[Quantity, ...]:
    if full_use is None:
        return ()
    return tuple(_mass(full_use.delivered_before(limit.window) + loading) for limit in limits)


def _drug_after_loading(source: SourceSettings, in_use: SetInUse) -> Fraction | None:
    """The mg in the syringe after priming and the loading dose; below zero when there is not enough."""
    if source.volume is None or source.concentration is None or source.loading is None:
        return None
    return (source.volume - in_use.prime_volume) * source.concentration - source.loading


def _syringe_at_full_use(source: SourceSettings, in_use: SetInUse, full_use: Use | None) -> Fraction | None:
    drug = _drug_after_loading(source, in_use)
    if drug is None or full_use is None:
        return None
    return lasts(full_use.grants, Draw(demand_dose=full_use.dose, rate=full_use.rate), drug)


def _syringe_by_continuous(source: SourceSettings, in_use: SetInUse) -> Fraction | None:
    drug = _drug_after_loading(source, in_use)
    if drug is None or not source.has_continuous or source.rate is None:
        return None
    return lasts(None, Draw(rate=source.rate / _HOUR), drug)


def _carrier_delay(source: SourceSettings, dead_volume: Fraction | None) -> Fraction | None:
    """How long drug takes from the junction to the patient, in min: plug flow through the dead volume."""
    if dead_volume is None or source.carrier_rate is None or (source.has_continuous and source.rate is None):
        return None
    flow = source.carrier_rate
    if source.rate:
        if source.concentration is None:
            return None
        flow += source.rate / source.concentration
    return dead_volume / flow * _HOUR


def _ratio(one: Fraction | None, other: Fraction | None) -> Fraction | None:
    return None if one is None or other is None else one / other


def _product(one: Fraction | None, other: Fraction | None) -> Fraction | None:
    return None if one is None or other is None else one * other


def _mass(value: Fraction) -> Quantity:
    return Quantity(value=value, dimension=Dimension.MASS)


def _quantity(value: Fraction | None, dimension: Dimension) -> Quantity | None:
    return None if value is None else Quantity(value=value, dimension=dimension)


def _json(figure: Quantity | OverTime | None) -> Mapping[str, object] | None:
    return None if figure is None else figure.as_json()

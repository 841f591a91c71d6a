"""The settings of a device, as an entry states them: in masses or in volumes, with one limit or several."""

from collections.abc import Iterator
from fractions import Fraction

from app.accounting.case import At, Settings
from app.accounting.shapes import COUNTS, EitherKind, Part
from app.comparison.documents import node, refuse, text
from app.dosing import Limit
from app.quantities import Dimension, units_of
from app.records.field_table import MODES, MODES_WITH_CONTINUOUS, MODES_WITH_DEMANDS
from app.records.measures import CONCENTRATION, CONTINUOUS_RATE, LOCKOUT, MASS, VOLUME, WINDOW, Measure

BOLUS = EitherKind(mass=MASS, volume=VOLUME)
_DOSE = BOLUS
_RATE = EitherKind(mass=CONTINUOUS_RATE, volume=Measure(dimension=Dimension.VOLUME_RATE, zero_allowed=True))
_LIMIT_KEYS = frozenset({"amount", "window"})
_MOST_LIMITS = 3
_VOLUME_UNITS = frozenset({*units_of(Dimension.VOLUME), *units_of(Dimension.VOLUME_RATE)})


def read_settings(part: Part, at: At) -> Settings:
    """The settings; a value that the mode does not use is read and left out."""
    in_volumes = part.given.get("concentration") is None and _is_in_volumes(part)
    concentration = None if in_volumes else part.quantity("concentration", CONCENTRATION)
    mode = text(part.get("mode"), part.below("mode"))
    if mode not in MODES:
        refuse(part.below("mode"), "unknown-value", f"This must be {' or '.join(MODES)}.")
    limits = _limits(part, in_volumes=in_volumes)
    has_demands, has_continuous = mode in MODES_WITH_DEMANDS, mode in MODES_WITH_CONTINUOUS
    demand_dose = _find_dose(part, "demand_dose", _DOSE, needed=has_demands, in_volumes=in_volumes)
    lockout = part.quantity("lockout", LOCKOUT) if has_demands else part.find_quantity("lockout", LOCKOUT)
    rate = _find_dose(part, "continuous_rate", _RATE, needed=has_continuous, in_volumes=in_volumes)
    return Settings(
        at=at,
        concentration=concentration,
        demand_dose=demand_dose if has_demands else None,
        lockout=lockout if has_demands else None,
        rate=rate if has_continuous and rate is not None else Fraction(0),
        limits=limits,
        totals_count=part.switches(COUNTS),
    )


def _is_in_volumes(part: Part) -> bool:
    """Whether the first dose that is given is a volume."""
    first = next((each for each in _doses(part) if each is not None), None)
    return isinstance(first, str) and first.rpartition(" ")[2] in _VOLUME_UNITS


def _doses(part: Part) -> Iterator[object]:
    """In the order in which `evaluate` looks for the first one."""
    yield part.given.get("demand_dose")
    yield part.given.get("continuous_rate")
    limit = part.given.get("limit")
    for each in limit if isinstance(limit, list) else [limit]:
        yield each.get("amount") if isinstance(each, dict) else None


def _find_dose(part: Part, key: str, kind: EitherKind, *, needed: bool, in_volumes: bool) -> Fraction | None:
    if not needed and part.given.get(key) is None:
        return None
    return part.dose(key, kind, in_volumes=in_volumes)


def _limits(part: Part, *, in_volumes: bool) -> tuple[Limit, ...]:
    """One limit, a list of one to three with different windows, or none."""
    given, path = part.get("limit"), part.below("limit")
    if given is None:
        return ()
    if not isinstance(given, list):
        return (_limit(given, path, part, in_volumes=in_volumes),)
    if not 1 <= len(given) <= _MOST_LIMITS:
        refuse(path, "wrong-count", "There are one to three limits, or none.")
    limits: list[Limit] = []
    for place, each in enumerate(given):
        limit = _limit(each, f"{path}[{place}]", part, in_volumes=in_volumes)
        if any(limit.window == other.window for other in limits):
            refuse(f"{path}[{place}].window", "same-window", "Two limits have different windows.")
        limits.append(limit)
    return tuple(limits)


def _limit(given: object, path: str, parent: Part, *, in_volumes: bool) -> Limit:
    limit = Part(node(given, path, _LIMIT_KEYS), path, parent.quantities)
    amount = limit.dose("amount", _DOSE, in_volumes=in_volumes)
    return Limit(amount=amount, window=limit.quantity("window", WINDOW))

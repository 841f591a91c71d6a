"""What a message's dosage says of how a device is set; what it cannot say is not stated, never none.

R4 has no element for a lockout, for two limits at once, for a carrier or for a bolus given by staff. What is
read instead, and what never is, stands in ORDERS.md.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import Enum, auto
from fractions import Fraction
from typing import Any

from app.quantities import Dimension, Quantity, parse_quantity
from app.records.measures import LOCKOUT, WINDOW
from app.records.order_json import (
    Node,
    amount,
    find_node,
    find_switch,
    items,
    number,
    quantity,
    ratio,
    refuse,
    text,
    written,
)


class _Part(Enum):
    DEMAND = auto()
    CONTINUOUS = auto()
    LOADING = auto()


@dataclass(kw_only=True)
class _Found:
    """What the parts say so far; a limit by its window, both as they are written."""

    parts: set[_Part] = field(default_factory=set)
    settings: dict[str, Any] = field(default_factory=dict)
    limits: dict[Fraction, tuple[str, str]] = field(default_factory=dict)


_MODES = {
    frozenset({_Part.DEMAND}): "demand",
    frozenset({_Part.CONTINUOUS}): "continuous",
    frozenset({_Part.DEMAND, _Part.CONTINUOUS}): "demand-and-continuous",
}
_MOST_LIMITS = 3


def read_dosage(message: Node, path: str) -> dict[str, Any]:
    """Mode, doses, rate, lockout and limits, in the words of the engine's contract."""
    found = _Found()
    given = items(message, path, "dosageInstruction")
    for dosage, here in given:
        _read_one(found, dosage, here)
    mode = _MODES.get(frozenset(found.parts - {_Part.LOADING}))
    if mode is None:
        # A dose given once is no patient-controlled analgesia.
        refuse(f"{path}.dosageInstruction", "unclear-dose" if given else "not-stated")
    # Each part has at most one, so there are never more than a device has.
    limits = [{"amount": most, "window": window} for most, window in found.limits.values()]
    return {"mode": mode, **found.settings, **({"limit": limits} if limits else {})}


def _read_one(found: _Found, dosage: Node, path: str) -> None:
    rates = items(dosage, path, "doseAndRate")
    if len(rates) != 1:
        refuse(f"{path}.doseAndRate", "several-doses" if rates else "not-stated")
    ((given, here),) = rates
    for key in ("doseRange", "rateRange"):
        if key in given:
            refuse(f"{here}.{key}", "a-range")
    part = _part_of(dosage, given, path)
    if part in found.parts:
        refuse(path, "several-doses")
    found.parts.add(part)
    if part is _Part.CONTINUOUS:
        found.settings["continuous_rate"] = _rate(given, here)
    else:
        key = "demand_dose" if part is _Part.DEMAND else "loading_dose"
        dose = found.settings[key] = quantity(
            given.get("doseQuantity"), f"{here}.doseQuantity", Dimension.MASS
        )
        if part is _Part.DEMAND:
            _read_lockout(found, dosage, dose, path)
            return
    _read_limit(found, dosage, "", path)


def _part_of(dosage: Node, given: Node, path: str) -> _Part:
    """Which of the three that are read a dosage is."""
    as_needed = (
        find_switch(dosage, path, "asNeededBoolean") is True
        or find_node(dosage, path, "asNeededCodeableConcept") is not None
    )
    has_rate, has_dose = "rateQuantity" in given or "rateRatio" in given, "doseQuantity" in given
    if as_needed and has_dose and not has_rate:
        return _Part.DEMAND
    if not as_needed and has_rate and not has_dose:
        return _Part.CONTINUOUS
    repeat = _repeat(dosage, path)
    is_once = repeat is not None and repeat.get("count") == "1"
    if as_needed or not has_dose or has_rate or not is_once:
        refuse(path, "unclear-dose")
    return _Part.LOADING


def _repeat(dosage: Node, path: str) -> Node | None:
    timing = find_node(dosage, path, "timing")
    return None if timing is None else find_node(timing, f"{path}.timing", "repeat")


def _rate(given: Node, path: str) -> str:
    if "rateQuantity" in given:
        return quantity(given["rateQuantity"], f"{path}.rateQuantity", Dimension.MASS_RATE)
    (one, one_at), (other, other_at) = ratio(given["rateRatio"], f"{path}.rateRatio")
    mass, unit = amount(one, one_at, Dimension.MASS)
    time, per = amount(other, other_at, Dimension.TIME)
    if not time or per == "s" or unit == "g":
        refuse(f"{path}.rateRatio", "unit-not-read" if time else "bad-number")
    return written(mass / time, f"{unit}/{per}", f"{path}.rateRatio", Dimension.MASS_RATE)


def _read_lockout(found: _Found, dosage: Node, dose: str, path: str) -> None:
    """From timing, as *one dose every 8 min, as needed*; or from the most for a period, *1 mg in 8 min*."""
    by_timing = _period(_repeat(dosage, path), f"{path}.timing.repeat")
    by_most = _read_limit(found, dosage, dose, path)
    said = [each for each in (by_timing, by_most) if each]
    if len({_value(each, Dimension.TIME) for each in said}) > 1:
        refuse(path, "unclear-lockout")
    if said:
        found.settings["lockout"] = said[0]


def _period(repeat: Node | None, path: str) -> str:
    """The one period in which one dose may be given; blank where timing says none."""
    if repeat is None or "period" not in repeat:
        return ""
    unit = text(repeat.get("periodUnit"), f"{path}.periodUnit")
    if not _MAY_SAY.issuperset(repeat) or repeat.get("frequency", "1") != "1" or unit not in _PERIODS:
        refuse(path, "unclear-lockout")
    return written(number(repeat["period"], path), unit, path, Dimension.TIME, allowed=LOCKOUT.allowed)


_PERIODS = ("s", "min", "h")
# Bounds say how long the order holds, which is another question.
_MAY_SAY = {"frequency", "period", "periodUnit", "boundsDuration", "boundsPeriod", "boundsRange"}


def _read_limit(found: _Found, dosage: Node, dose: str, path: str) -> str:
    """The most for a period: a limit from an hour on, and below a lockout, which is given back."""
    path = f"{path}.maxDosePerPeriod"
    if "maxDosePerPeriod" not in dosage:
        return ""
    (one, one_at), (other, other_at) = ratio(dosage["maxDosePerPeriod"], path)
    most = quantity(one, one_at, Dimension.MASS)
    minutes, unit = amount(other, other_at, Dimension.TIME)
    window = written(minutes, unit, other_at, Dimension.TIME)
    length = _value(window, Dimension.TIME)
    if length < _HOUR:
        if not dose or _value(most, Dimension.MASS) != _value(dose, Dimension.MASS):
            refuse(path, "unclear-limit")
        return written(minutes, unit, other_at, Dimension.TIME, allowed=LOCKOUT.allowed)
    written(minutes, unit, other_at, Dimension.TIME, allowed=WINDOW.allowed)
    earlier = found.limits.setdefault(length, (most, window))
    if _value(earlier[0], Dimension.MASS) != _value(most, Dimension.MASS):
        refuse(path, "unclear-limit")
    return ""


_HOUR = Fraction(60)


def _value(typed: str, dimension: Dimension) -> Fraction:
    """The value of what was written a moment ago."""
    read = parse_quantity(typed, dimension)
    assert isinstance(read, Quantity)  # noqa: S101  # it was understood then
    return read.value


def with_windows_of(order: Mapping[str, Any], read: Iterable[Any]) -> dict[str, Any]:
    """An order whose limits say nothing of the other windows that were read: R4 has room for few.

    `read` are limits as somebody read them, each with its window, or what is no limit at all.
    """
    stated = order.get("limit")
    if not stated:
        return dict(order)
    known = {_value(each["window"], Dimension.TIME) for each in stated}
    limits = list(stated)
    for each in read:
        window = each.get("window") if isinstance(each, Mapping) else None
        length = _parsed(window)
        if length is not None and length not in known and len(limits) < _MOST_LIMITS:
            known.add(length)
            limits.append({"amount": None, "window": window})
    return {**order, "limit": limits}


def _parsed(window: object) -> Fraction | None:
    if not isinstance(window, str):
        return None
    found = parse_quantity(window, Dimension.TIME)
    return found.value if isinstance(found, Quantity) else None


def limits_of(settings: Mapping[str, Any]) -> tuple[Any, ...]:
    """The limits of an order or a device as a case has them: one, a list, or none."""
    given = settings.get("limit")
    if given is None:
        return ()
    return tuple(given) if isinstance(given, list) else (given,)


def strength(value: object, path: str) -> str:
    """A concentration from a Ratio: `1 mg/mL`, or `50 mg/50 mL`."""
    (one, one_at), (other, other_at) = ratio(value, path)
    mass, unit = amount(one, one_at, Dimension.MASS)
    volume, per = amount(other, other_at, Dimension.VOLUME)
    if volume == 1 and f"{unit}/{per}" in _STRENGTHS:
        return written(mass, f"{unit}/{per}", path, Dimension.CONCENTRATION)
    parts = written(mass, unit, one_at, Dimension.MASS), written(volume, per, other_at, Dimension.VOLUME)
    return "/".join(parts)


_STRENGTHS = ("mg/mL", "mcg/mL", "g/L", "mg/L")

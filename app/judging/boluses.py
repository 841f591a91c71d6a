"""Whether staff may give a bolus now: only as the order says, and never more of it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from app.quantities import Dimension, Quantity, parse_quantity


@dataclass(frozen=True, kw_only=True)
class BolusOrder:
    """What the order lets staff give: so much, not more often than that, and no more than that in a window.

    The texts are as they were read.
    """

    dose: str
    interval: str
    most: str
    window: str


@dataclass(frozen=True, kw_only=True)
class TooSoon:
    """The last one was given less than the interval before."""

    until: datetime


@dataclass(frozen=True, kw_only=True)
class TooMuch:
    """With this one more would have been given in a window than the order allows."""

    until: datetime


def bolus_order(order: Mapping[str, object]) -> BolusOrder | None:
    """What an order says of it, as both read it; None where it says nothing, or not all."""
    told = order.get("staff_bolus")
    names = BolusOrder.__dataclass_fields__
    if not isinstance(told, Mapping) or not names.keys() <= told.keys():
        return None
    return BolusOrder(**{name: str(told[name]) for name in names})


def refuse_by_order(
    order: BolusOrder, given: Iterable[tuple[datetime, str]], now: datetime
) -> TooSoon | TooMuch | None:
    """Why the order forbids a bolus now, if so; `given` is when each was given, and how much.

    What was given later than now, by a clock that was put back, counts as given now.
    """
    told = [(min(at, now), _value(dose, Dimension.MASS)) for at, dose in given]
    interval = _span(order.interval)
    last = max((at for at, _ in told), default=None)
    if last is not None and now - last < interval:
        return TooSoon(until=last + interval)
    window, dose, most = (
        _span(order.window),
        _value(order.dose, Dimension.MASS),
        _value(order.most, Dimension.MASS),
    )
    counting = sorted((at, each) for at, each in told if now - at < window)
    over = dose + sum(each for _, each in counting) - most
    if over <= 0:
        return None
    for at, each in counting:
        over -= each
        if over <= 0:
            return TooMuch(until=at + window)
    # One alone is more than may be given: never.
    return TooMuch(until=now + window)


def peak_of(text: str) -> timedelta:
    """How long after a dose its effect is greatest, as the library has it."""
    return _span(text)


def _span(text: str) -> timedelta:
    """A span that was checked before, to the microsecond."""
    minutes = _value(text, Dimension.TIME)
    return timedelta(microseconds=round(minutes * 60_000_000))


def _value(text: str, dimension: Dimension) -> Fraction:
    """The value of a quantity that was understood before: when it was read, or when it was published."""
    read = parse_quantity(text, dimension, zero_allowed=True)
    assert isinstance(read, Quantity)  # noqa: S101
    return read.value

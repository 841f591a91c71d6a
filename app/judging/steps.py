"""What is judged while the safety steps are taken: whether anything may start."""

from fractions import Fraction

from app.quantities import Dimension, Quantity, parse_quantity
from app.records.policy import BaselineRule


def forbids_start(rule: BaselineRule, *, sedation: str, respiratory_rate: str, spo2: str) -> bool:
    """Whether the site's protocol forbids to start an opioid on what was observed before any dose."""
    too_low = _value(spo2, Dimension.PERCENT) < _value(rule.lowest_spo2, Dimension.PERCENT)
    return too_low or is_too_sedated(rule, sedation) or breathes_too_slowly(rule, respiratory_rate)


def is_too_sedated(rule: BaselineRule, sedation: str) -> bool:
    """Whether the site's protocol forbids an opioid at this level of its scale."""
    return sedation not in rule.may_start_at


def breathes_too_slowly(rule: BaselineRule, respiratory_rate: str) -> bool:
    """Whether it forbids one at this rate."""
    return slower_than(respiratory_rate, rule.lowest_respiratory_rate)


def slower_than(respiratory_rate: str, lowest: str) -> bool:
    """Whether one rate of breathing is lower than another."""
    return _value(respiratory_rate, Dimension.FREQUENCY) < _value(lowest, Dimension.FREQUENCY)


def _value(text: str, dimension: Dimension) -> Fraction:
    """The value of a quantity that was checked before: when it was written, or when it was published."""
    read = parse_quantity(text, dimension, zero_allowed=True)
    assert isinstance(read, Quantity)  # noqa: S101
    return read.value

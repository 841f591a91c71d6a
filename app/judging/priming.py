"""Whether two readings of the primed volume hold together."""

from collections.abc import Mapping
from fractions import Fraction

from app.quantities import Dimension, Quantity, parse_quantity
from app.records.canonical import canonical
from app.records.formats import COMPARISON, READ


def within_tolerance(first: str, second: str, tolerance: str) -> bool:
    """Whether two volumes lie no further apart than the site's tolerance, exactly."""
    one, other, apart = (checked_value(text, Dimension.VOLUME) for text in (first, second, tolerance))
    return abs(one - other) <= apart


def checked_value(text: str, dimension: Dimension) -> Fraction:
    """The value of a quantity that was checked before: when it was written, or when it was published."""
    read = parse_quantity(text, dimension, zero_allowed=True)
    assert isinstance(read, Quantity)  # noqa: S101
    return read.value


def priming_compared(volumes: Mapping[str, str], *, within: bool, tolerance: str) -> tuple[bytes, bytes]:
    """Both readings and what they come to, as they are kept."""
    read = {"format": READ.newest, **volumes}
    told = {"format": COMPARISON.newest, "within": within, "tolerance": tolerance}
    return canonical(read), canonical(told)

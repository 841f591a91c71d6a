"""The likeliest human slip behind two different values (what is tried, in which order: CONTRACT.md, slip)."""

import re
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from app.comparison.fields import FIELDS, LIMITS
from app.comparison.readings import Amount, DoseAsVolume, Lookup, Reading, Readings, same

_THOUSAND = frozenset({Fraction(1000), Fraction(1, 1000)})
_SIXTY = frozenset({Fraction(60), Fraction(1, 60)})
_NUMBERS = tuple(field.name for field in FIELDS if field.is_number)
_DOSES = frozenset({"demand_dose", "continuous_rate", "loading_dose", *(amount for amount, _ in LIMITS)})
_PER_VOLUME = re.compile(r"/[0-9]")


def _touching(*lines: str) -> frozenset[frozenset[str]]:
    """The keys that lie side by side, or one above the other."""
    return frozenset(frozenset(pair) for line in lines for pair in pairwise(line))


_SEVEN_ON_TOP = _touching("789", "456", "123", "741", "8520", "963")
_ONE_ON_TOP = _touching("123", "456", "789", "147", "2580", "369")


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference:
    """Two different readings of a field, p and q, and all readings of the sources that they stand in."""

    field: str
    p: Reading
    q: Reading
    beside_p: Lookup
    beside_q: Lookup
    is_between_clinicians: bool

    @property
    def ratio(self) -> Fraction | None:
        """How many times p is q; None where there is no telling, or either is zero."""
        return ratio(self.p, self.q, is_between_clinicians=self.is_between_clinicians)


def find_slip(
    difference: Difference, *, previous: Readings, weight: Fraction | None, one_two_three_on_top: bool
) -> str | None:
    """The first slip that fits, if any; `weight` in kg."""
    if difference.field == "drug":
        return "drug-swap"
    if _is_swapped_with_other_field(difference):
        return "swapped-fields"
    if _is_stale(difference, previous.find(difference.field)):
        return "stale-value"
    p, q = difference.p, difference.q
    if not isinstance(p, Amount | DoseAsVolume) or not isinstance(q, Amount | DoseAsVolume):
        return None
    touching = _ONE_ON_TOP if one_two_three_on_top else _SEVEN_ON_TOP
    return _slip_of_sizes(difference, p, q, weight) or _slip_of_digits(p, q, touching)


def ratio(p: Reading, q: Reading, *, is_between_clinicians: bool = False) -> Fraction | None:
    """How many times p is q, of masses where one was given as a volume.

    None where either is none or zero, or where two people typed one as a mass and the other as a volume.
    """
    one, other = _size(p), _size(q)
    if isinstance(p, DoseAsVolume) and isinstance(q, DoseAsVolume):
        one, other = p.volume, q.volume
    elif is_between_clinicians and (isinstance(p, DoseAsVolume) or isinstance(q, DoseAsVolume)):
        return None
    return other / one if one and other else None


def _size(reading: Reading) -> Fraction | None:
    return reading.value if isinstance(reading, Amount | DoseAsVolume) else None


def number_and_unit(reading: Reading | None) -> tuple[str, str] | None:
    """The typed number and unit; None where it was not typed as one number and one unit."""
    if not isinstance(reading, Amount | DoseAsVolume) or _PER_VOLUME.search(reading.typed):
        return None
    number, _, unit = reading.typed.partition(" ")
    return number, unit


def _number(reading: Reading | None) -> str | None:
    typed = number_and_unit(reading)
    return None if typed is None else typed[0]


def _is_swapped_with_other_field(difference: Difference) -> bool:
    p, q = _number(difference.p), _number(difference.q)
    if p is None or q is None or p == q:
        return False
    # The field itself cannot match: p is not q.
    return any(
        _number(difference.beside_p(other)) == q and _number(difference.beside_q(other)) == p
        for other in _NUMBERS
    )


def _is_stale(difference: Difference, before: Reading | None) -> bool:
    """Whether the value that should not be there was set before; between clinicians, either may be it."""
    if before is None:
        return False
    p_is_it, q_is_it = _is_the_one_before(difference.p, before), _is_the_one_before(difference.q, before)
    return p_is_it != q_is_it if difference.is_between_clinicians else q_is_it and not p_is_it


def _is_the_one_before(reading: Reading, before: Reading) -> bool:
    """Whether a value is the one that was set before; a volume only where it is the same volume."""
    if isinstance(before, DoseAsVolume):
        return isinstance(reading, DoseAsVolume) and reading.volume == before.volume
    return same(reading, before) and not _is_unknown(reading)


def _is_unknown(reading: Reading) -> bool:
    """Whether it is a volume whose mass is not known."""
    return isinstance(reading, DoseAsVolume) and reading.value is None


def _slip_of_sizes(
    difference: Difference, p: Amount | DoseAsVolume, q: Amount | DoseAsVolume, weight: Fraction | None
) -> str | None:
    """A slip that shows in how many times p is q."""
    times = difference.ratio
    if _is_mass_for_volume(p, q):
        return "mass-for-volume"
    if _is_same_number_in_other_unit(p, q) or times in _THOUSAND:
        return "unit-slip"
    if times is None:
        return None
    if _is_power_of_ten(times):
        return "decimal-shift"
    if times in _SIXTY:
        return "minutes-for-hours"
    if difference.field in _DOSES and _is_amount_for_volume(p, q, difference.beside_p("concentration")):
        return "amount-for-volume"
    if weight is not None and times in {weight, 1 / weight}:
        return "weight-slip"
    return None


def _is_mass_for_volume(p: Amount | DoseAsVolume, q: Amount | DoseAsVolume) -> bool:
    """Whether one is a mass and the other a volume, of the same number: as typed, or in mg and mL."""
    match p, q:
        case (Amount() as mass, DoseAsVolume() as volume) | (DoseAsVolume() as volume, Amount() as mass):
            return _number(mass) == _number(volume) or mass.value == volume.volume
        case _:
            return False


def _is_same_number_in_other_unit(p: Reading, q: Reading) -> bool:
    number = _number(p)
    return number is not None and number == _number(q)


def _is_power_of_ten(times: Fraction) -> bool:
    numerator, denominator = str(times.numerator), str(times.denominator)
    return (numerator.rstrip("0"), denominator.rstrip("0")) == ("1", "1")


def _is_amount_for_volume(p: Reading, q: Reading, strength: Reading | None) -> bool:
    """Whether one number is the mL that hold the mg of the other."""
    if not (isinstance(p, Amount) and isinstance(q, Amount) and isinstance(strength, Amount)):
        return False
    return q.value * strength.value == p.value or p.value * strength.value == q.value


def _slip_of_digits(p: Reading, q: Reading, touching: frozenset[frozenset[str]]) -> str | None:
    """A slip that shows in the typed digits; only where both were typed in one and the same unit."""
    typed_p, typed_q = number_and_unit(p), number_and_unit(q)
    if typed_p is None or typed_q is None or typed_p[1] != typed_q[1]:
        return None
    one, other = sorted((typed_p[0], typed_q[0]), key=len)
    if len(one) == len(other):
        return _slip_of_equally_many(one, other, touching)
    if len(one) + 1 != len(other):
        return None
    left_out = [place for place in range(len(other)) if other[:place] + other[place + 1 :] == one]
    if not left_out:
        return None
    # Where a run of equal digits lost one, each of them can be the one that is left out.
    return "digit-doubled" if any(_is_doubled(other, place) for place in left_out) else "digit-dropped"


def _is_doubled(number: str, place: int) -> bool:
    """Whether the digit at a place stands beside an equal digit, the point overlooked."""
    before, from_here = number[:place].replace(".", ""), number[place:].replace(".", "")
    return number[place] in {before[-1:], from_here[1:2]}


def _slip_of_equally_many(one: str, other: str, touching: frozenset[frozenset[str]]) -> str | None:
    """A slip between two numbers of the same length, the point in the same place."""
    if one.find(".") != other.find("."):
        return None
    digits, other_digits = one.replace(".", ""), other.replace(".", "")
    differing = [place for place in range(len(digits)) if digits[place] != other_digits[place]]
    pairs = [(digits[place], other_digits[place]) for place in differing]
    match differing, pairs:
        case [first, second], [(a, b), (c, d)] if second == first + 1 and (a, b) == (d, c):
            return "digits-swapped"
        case [_], [(a, b)] if frozenset({a, b}) in touching:
            return "neighbour-key"
        case _:
            return None

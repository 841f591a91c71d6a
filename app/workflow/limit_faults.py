"""What the limits of a drug library say across each other: a slip in one of them shows in what it is beside.

The factors are common practice, no source, but the arithmetic of an hour; what is not set is not asked.
"""

import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from itertools import pairwise

from app.comparison.case import Bounds, ListedDrug
from app.comparison.readings import folded
from app.records.rules import LIBRARY
from app.workflow.rule_files import FILES, RuleFault

_BY_HEIGHT = ("hard_low", "soft_low", "soft_high", "hard_high")
_MINUTES = Fraction(60)
# A lockout is minutes; common practice, no source.
_SHORTEST_LOCKOUT, _LONGEST_LOCKOUT = Fraction(1), Fraction(60)
_FOUR = Fraction(4)


def limit_faults(drugs: Iterable[str], library: Mapping[str, ListedDrug]) -> Iterator[RuleFault]:
    """What is wrong with a library that can be read; `drugs` are the names as they are written."""
    spelled: dict[tuple[str, ...], str] = {}
    for name in drugs:
        other = spelled.setdefault(_letters(name), name)
        if other != name:
            yield _fault("drugs", f"{other} and {name} are two spellings of one drug")
    for name in spelled.values():
        bounds = library[folded(name)].bounds
        yield from (fault for at, row in enumerate(bounds) for fault in _row_faults(name, at, row))
        yield from _twice(name, bounds)
        found = (why for tolerant in (False, True) for why in _across(_highest(bounds, tolerant=tolerant)))
        yield from (_fault(f"drugs.{name}.limits", why) for why in dict.fromkeys(found))


def _letters(name: str) -> tuple[str, ...]:
    """A drug's name by its letters and digits alone, in whatever width, case and spacing."""
    return tuple(filter(str.isalnum, unicodedata.normalize("NFKC", name).casefold()))


def _fault(path: str, why: str) -> RuleFault:
    return RuleFault(file=FILES[LIBRARY], path=path, why=why)


def _row_faults(name: str, at: int, row: Bounds) -> Iterator[RuleFault]:
    path = f"drugs.{name}.limits.{at}"
    given = [(key, value) for key in _BY_HEIGHT if (value := getattr(row, key)) is not None]
    if not given:
        yield _fault(path, f"{_words(row.field)}: no bound is set")
    for (lower, low), (higher, high) in pairwise(given):
        if low > high:
            yield _fault(path, f"{_words(row.field)}: {_words(lower)} lies above {_words(higher)}")
    if row.field == "lockout" and any(
        not _SHORTEST_LOCKOUT <= value <= _LONGEST_LOCKOUT for _, value in given
    ):
        yield _fault(path, f"lockout: from {_SHORTEST_LOCKOUT} to {_LONGEST_LOCKOUT} min is sensible")


def _twice(name: str, bounds: Iterable[Bounds]) -> Iterator[RuleFault]:
    seen: set[tuple[str, bool | None]] = set()
    for at, row in enumerate(bounds):
        of = (row.field, row.tolerant)
        if of in seen:
            yield _fault(
                f"drugs.{name}.limits.{at}", f"{_words(row.field)}: is bounded twice for the same patients"
            )
        seen.add(of)


def _highest(bounds: Iterable[Bounds], *, tolerant: bool) -> dict[str, Fraction]:
    """What may at most be set for such a patient."""
    highest: dict[str, Fraction] = {}
    for row in bounds:
        if row.hard_high is not None and row.tolerant in (None, tolerant):
            highest[row.field] = min(row.hard_high, highest.get(row.field, row.hard_high))
    return highest


def _across(highest: Mapping[str, Fraction]) -> Iterator[str]:
    """What the hard highs come to within an hour and within four, beside the hard highs of these."""
    at = highest.get
    hour, four, first = at("amount_per_hour"), at("amount_per_4_hours"), at("first_hour_with_loading")
    rate, loading, lockout = at("continuous_rate"), at("loading_dose"), at("lockout")
    demands = _times(at("demand_dose"), _MINUTES / lockout) if lockout else None
    says = "the highest amount per"
    for what, most, why in (
        (demands, hour, f"the highest demand dose after each longest lockout passes {says} hour"),
        (rate, hour, f"the highest continuous rate passes {says} hour"),
        (_times(rate, _FOUR), four, f"the highest continuous rate passes {says} 4 hours"),
        (hour, four, f"{says} hour lies above that per 4 hours"),
        (four, _times(hour, _FOUR), f"{says} 4 hours lies above four times that per hour"),
        (
            _plus(loading, demands),
            first,
            "the highest loading dose, with demand doses, passes the first hour's",
        ),
        (first, _plus(loading, hour), "that of the first hour lies above loading dose and amount per hour"),
    ):
        if what is not None and most is not None and what > most:
            yield why


def _times(value: Fraction | None, factor: Fraction) -> Fraction | None:
    return None if value is None else value * factor


def _plus(one: Fraction | None, other: Fraction | None) -> Fraction | None:
    return None if one is None or other is None else one + other


def _words(name: str) -> str:
    return name.replace("_", " ")

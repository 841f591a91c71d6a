"""Names as the log has them: what people and units were called at a position of the log.

What it says of them first held before that too: whoever changes a name that the log does not know yet writes
the old one first.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from app.records.events import PersonNamed, UnitNamed
from app.records.kept import Entry

Named = TypeVar("Named", PersonNamed, UnitNamed)


@dataclass(frozen=True, kw_only=True)
class NamesInLog:
    """Every name that the log knows, by person or unit, each with the position from which it holds."""

    people: Mapping[str, tuple[tuple[int, PersonNamed], ...]] = field(default_factory=dict)
    units: Mapping[str, tuple[tuple[int, UnitNamed], ...]] = field(default_factory=dict)

    def find_person(self, person: str, at: int) -> PersonNamed | None:
        """What a person was called at a position; None where the log never says it."""
        return _holding(self.people.get(person, ()), at)

    def find_unit(self, unit: str, at: int) -> UnitNamed | None:
        """What a unit was called at a position; None where the log never says it."""
        return _holding(self.units.get(unit, ()), at)


def names_in_log(entries: Iterable[Entry]) -> NamesInLog:
    """The names that these entries of the log say, in its order."""
    people: dict[str, tuple[tuple[int, PersonNamed], ...]] = {}
    units: dict[str, tuple[tuple[int, UnitNamed], ...]] = {}
    for each in entries:
        match each.event:
            case PersonNamed(person=person) as named:
                people[person] = (*people.get(person, ()), (each.position, named))
            case UnitNamed(unit=unit) as named:
                units[unit] = (*units.get(unit, ()), (each.position, named))
            case _:
                pass
    return NamesInLog(people=people, units=units)


def _holding(said: tuple[tuple[int, Named], ...], at: int) -> Named | None:
    """The last that was said up to a position, or the first of all."""
    until = [named for position, named in said if position <= at]
    first = [named for _, named in said[:1]]
    return next(reversed(until or first), None)

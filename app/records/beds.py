"""The beds of a unit: what the log's entries about them add up to."""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from app.records.change_events import BedChanged, PatientTaken
from app.records.kept import Entry
from app.records.ward_events import BedAdded, BedRetired

LONGEST_BED = 20

_FIGURES = re.compile(r"(\d+)")


def plain(bed: str) -> str:
    """A bed as people may write it: in small or capital letters, with spaces, with the word bed."""
    return "".join(unicodedata.normalize("NFKC", bed).casefold().split()).removeprefix("bed")


@dataclass(frozen=True, kw_only=True)
class Beds:
    """The beds of one unit, in the order in which people count; `retired` are those that it has no longer."""

    known: tuple[str, ...]
    retired: tuple[str, ...]

    def find(self, typed: str) -> str | None:
        """The bed that somebody means, as it is written here."""
        return _find(self.known, typed)

    def find_retired(self, typed: str) -> str | None:
        """The same of the beds that there were."""
        return _find(self.retired, typed)


def beds_of(unit: str, entries: Iterable[Entry]) -> Beds:
    """The beds of a unit, from every entry about beds in the log's order."""
    stands: dict[str, bool] = {}
    for each in entries:
        event = each.event
        if isinstance(event, BedAdded | BedRetired) and event.unit == unit:
            stands[event.bed] = isinstance(event, BedAdded)
    return Beds(
        known=tuple(sorted((bed for bed, is_there in stands.items() if is_there), key=counted)),
        retired=tuple(sorted((bed for bed, is_there in stands.items() if not is_there), key=counted)),
    )


def _find(beds: tuple[str, ...], typed: str) -> str | None:
    return next((bed for bed in beds if plain(bed) == plain(typed)), None)


def counted(bed: str) -> list[tuple[int, str]]:
    """Bed 10 comes after bed 9."""
    return [(int(part) if part.isdecimal() else 0, part) for part in _FIGURES.split(bed)]


def place_then(now: tuple[str, str], course: Iterable[Entry], position: int) -> tuple[str, str]:
    """Unit and bed of an infusion before a position of the log, from its course and where it is now."""
    places = _places(now, course)
    return [place for at, place in places if at < position][-1]


def places_ever(now: tuple[str, str], course: Iterable[Entry]) -> frozenset[tuple[str, str]]:
    """Every unit and bed at which an infusion was."""
    return frozenset(place for _, place in _places(now, course))


def _places(now: tuple[str, str], course: Iterable[Entry]) -> list[tuple[int, tuple[str, str]]]:
    """Where it was, each from a position of the log on."""
    told = ((each.position, each.event) for each in course)
    moves = [(at, event) for at, event in told if isinstance(event, BedChanged | PatientTaken)]
    if not moves:
        return [(-1, now)]
    _, first = moves[0]
    opened = first.before_unit if isinstance(first, PatientTaken) else first.unit
    return [(-1, (opened, first.before)), *((at, (event.unit, event.bed)) for at, event in moves)]

"""Entries that stand where they cannot: looked for entry by entry, once all of them are well formed."""

from collections.abc import Sequence

from app.accounting.case import (
    Bolus,
    DeviceChanged,
    End,
    Entry,
    GivesAway,
    Issued,
    Kept,
    Loaded,
    Primed,
    Removed,
    Returned,
    Settings,
    Started,
    left_of,
)
from app.comparison.documents import refuse

LONGEST = 366 * 24 * 60
"""How long an account can be, in min from its first entry."""


class _Ward:
    """What is known between two entries of where things are."""

    def __init__(self) -> None:
        self.known: set[str] = set()
        self.on: str | None = None
        self.is_set = False
        self.has_ended = False


def refuse_misplaced(entries: Sequence[Entry]) -> None:
    """Refuses the first entry that cannot stand where it stands."""
    ward = _Ward()
    latest = entries[0].at.minutes + LONGEST
    for place, entry in enumerate(entries):
        path = f"entries[{place}]"
        if entry.at.minutes > latest:
            refuse(f"{path}.at", "out-of-range", "This is more than 366 days after the first entry.")
        if ward.has_ended:
            refuse(path, "out-of-place", "The account has ended.")
        _refuse_name(entry, ward, path)
        why = _find_obstacle(entry, ward)
        if why is not None:
            refuse(path, "out-of-place", why)
        _follow(entry, ward)


def _refuse_name(entry: Entry, ward: _Ward, path: str) -> None:
    if isinstance(entry, Issued):
        if entry.syringe in ward.known:
            refuse(f"{path}.syringe", "syringe-twice", "A syringe of this name has come in already.")
    elif isinstance(entry, Loaded | GivesAway) and entry.syringe not in ward.known:
        refuse(f"{path}.syringe", "unknown-syringe", "No syringe of this name has come in.")


def _find_obstacle(entry: Entry, ward: _Ward) -> str | None:
    """Why an entry cannot stand here, or None."""
    if isinstance(entry, Loaded | End):
        return None if ward.on is None else "A syringe is on the device."
    if isinstance(entry, Returned | Kept):
        return "This syringe is on the device." if entry.syringe == ward.on else None
    needs_syringe = isinstance(entry, Primed | Bolus | Started | Removed) or left_of(entry) is not None
    if needs_syringe and ward.on is None:
        return "No syringe is on the device."
    if isinstance(entry, Bolus | Started) and not ward.is_set:
        return "The device has not been set."
    return None


def _follow(entry: Entry, ward: _Ward) -> None:
    match entry:
        case Issued(syringe=syringe):
            ward.known.add(syringe)
        case Loaded(syringe=syringe):
            ward.on = syringe
        case Removed():
            ward.on = None
        case Settings():
            ward.is_set = True
        case DeviceChanged():
            ward.is_set = False
        case End():
            ward.has_ended = True
        case _:
            pass

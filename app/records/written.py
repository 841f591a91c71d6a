"""How an event is written down in the log, and read again."""

from dataclasses import fields
from datetime import UTC, datetime
from typing import Any

from app.records.canonical import canonical
from app.records.event_kinds import KINDS
from app.records.events import Event
from app.records.formats import LOG_ENTRY
from app.records.kept import Entry


def iso(moment: datetime) -> str:
    """ISO 8601 in UTC with microseconds and Z: always 27 characters, so that text order is time order."""
    if moment.tzinfo is None:
        message = "a stored time must be aware"
        raise ValueError(message)
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def entry_content(entry: Entry) -> bytes:
    """The canonical bytes of an entry, as they are written now."""
    return canonical(
        {
            "format": LOG_ENTRY.newest,
            "position": entry.position,
            "by": entry.by,
            "infusion": entry.infusion,
            "check": entry.check,
            "session": entry.session,
            "device": entry.device,
            "at": iso(entry.at),
            "signed_in_at": iso(entry.signed_in_at) if entry.signed_in_at else None,
            "kind": entry.event.kind,
            "data": as_data(entry.event),
        }
    )


def as_data(event: Event) -> dict[str, Any]:
    """The event's own fields as JSON values."""
    return {each.name: getattr(event, each.name) for each in fields(event)}


def from_data(kind: str, data: dict[str, Any]) -> Event:
    """The event that `as_data` wrote down; lists become tuples again."""
    return KINDS[kind](**{name: _frozen(value) for name, value in data.items()})


def _frozen(value: Any) -> Any:  # noqa: ANN401  # any JSON value
    return tuple(_frozen(each) for each in value) if isinstance(value, list) else value

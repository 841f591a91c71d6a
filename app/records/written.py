"""How an event is written down in the log, and read again."""

from dataclasses import fields
from typing import Any

from app.records.event_kinds import KINDS
from app.records.events import Event


def as_data(event: Event) -> dict[str, Any]:
    """The event's own fields as JSON values."""
    return {each.name: getattr(event, each.name) for each in fields(event)}


def from_data(kind: str, data: dict[str, Any]) -> Event:
    """The event that `as_data` wrote down; lists become tuples again."""
    return KINDS[kind](**{name: _frozen(value) for name, value in data.items()})


def _frozen(value: Any) -> Any:  # noqa: ANN401  # any JSON value
    return tuple(_frozen(each) for each in value) if isinstance(value, list) else value

"""One person's act: who, when, and a source of fresh ids, all handed in from outside."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, kw_only=True)
class Actor:
    """A signed-in person at one device; `session` is the digest of the session's token, never the token."""

    person: str
    session: str
    device: str
    signed_in_at: datetime
    unit: str


@dataclass(frozen=True, kw_only=True)
class Act:
    """The moment of an act (aware UTC), its actor, and a maker of unguessable ids."""

    now: datetime
    by: Actor
    new_id: Callable[[], str]

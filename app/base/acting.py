"""One person's act: who, when, and a source of fresh ids, all handed in from outside."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

# Whoever has the host's command line, where else a person's id stands.
OPERATOR = "operator"


class Method(StrEnum):
    """What whoever acts gave to be known at this screen."""

    SECRET = "secret"  # noqa: S105  # the word for it
    PIN = "pin"
    # Id and secret, where the site asks for more and this person has enrolled nothing: it opens that alone.
    UNENROLLED = "unenrolled"


@dataclass(frozen=True, kw_only=True)
class Actor:
    """A signed-in person at one device; `session` is the digest of the session's token, never the token.

    `shift_session` is what six digits open again here, if this person chose any.
    """

    person: str
    session: str
    device: str
    signed_in_at: datetime
    unit: str
    method: Method
    shift_session: str = ""


@dataclass(frozen=True, kw_only=True)
class Act:
    """The moment of an act (aware UTC), its actor, and a maker of unguessable ids."""

    now: datetime
    by: Actor
    new_id: Callable[[], str]

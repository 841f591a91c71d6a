"""Sessions: whose they are, how whoever has one was known, and how long one lasts at most."""

from dataclasses import dataclass
from datetime import timedelta

from app.base import Act, Actor, Method
from app.keys import new_id
from app.people import Person
from app.records.kept import Session

ABSOLUTE_LIFE = timedelta(hours=12)
# How long a reset stands on the page of one's key, and whoever is to know of it is told.
SHOWN = timedelta(days=90)


@dataclass(frozen=True, kw_only=True)
class SignedIn:
    """The token goes to the browser; only its digest is kept."""

    token: str
    person: Person
    actor: Actor


def actor_of(session: Session) -> Actor:
    """Whoever a session is of, at its device, known by what opened it."""
    return Actor(
        person=session.person,
        session=session.digest,
        device=session.device,
        signed_in_at=session.signed_in_at,
        unit=session.unit,
        method=Method(session.method),
        shift_session=session.shift_session,
    )


def act_of(session: Session) -> Act:
    """Signing in, as an act of the session that it begins."""
    return Act(now=session.signed_in_at, by=actor_of(session), new_id=new_id)

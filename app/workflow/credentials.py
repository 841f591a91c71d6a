"""Who is this? Id and secret, checked outside any transaction, throttled by account in the database."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from app.base import Act
from app.keys import verify_secret
from app.people import Person
from app.records import events
from app.records.kept import Throttle
from app.workflow.refusals import TooManyTries, WrongCredential
from app.workflow.site import Site

# A mistyped secret costs nothing; from the fourth failure on the account waits, longer each time, at most an hour.
FREE_TRIES = 3
FIRST_WAIT = timedelta(seconds=30)
LONGEST_WAIT = timedelta(hours=1)


@dataclass(frozen=True, kw_only=True)
class Known:
    """Id and secret belong together."""

    person: Person


def verify_credential(
    site: Site, now: datetime, *, login: str, secret: str, what: str
) -> Known | WrongCredential | TooManyTries:
    """Check id and secret; `what` (sign-in, signing, confirming) is noted when it fails."""
    key = login.strip().casefold()
    with site.store.read() as reader:
        throttle = reader.find_throttle(key)
        person = reader.find_person_by_login(login)
    if throttle and throttle.not_before and now < throttle.not_before:
        return TooManyTries(seconds=int((throttle.not_before - now).total_seconds()) + 1)
    # An unknown id costs the same time as a known one, so that ids cannot be told apart by the clock.
    usable = person if person is not None and person.active else None
    if not verify_secret(usable.secret_hash if usable else None, secret) or usable is None:
        _note_failure(site, now, key, person, what)
        return WrongCredential()
    if throttle is not None:
        with site.store.write() as tx:
            tx.clear_throttle(key)
    return Known(person=usable)


def _note_failure(site: Site, now: datetime, key: str, person: Person | None, what: str) -> None:
    with site.store.write() as tx:
        before = tx.find_throttle(key)
        failures = (before.failures if before else 0) + 1
        wait = min(FIRST_WAIT * 2 ** max(0, failures - FREE_TRIES - 1), LONGEST_WAIT)
        not_before = now + wait if failures > FREE_TRIES else None
        tx.set_throttle(Throttle(key=key, failures=failures, not_before=not_before))
        if person is not None:
            tx.append(events.SecurityNoted(person=person.id, what=f"{what} failed"), at=now)


def acting_as(act: Act, person: Person) -> Act:
    """The act of a person who confirmed with a credential of their own on a screen where another is signed in.

    The session's digest is marked, so that the record shows whose screen it was and that a credential was given.
    """
    if person.id == act.by.person:
        return act
    by = replace(act.by, person=person.id, session=f"{act.by.session}+credential", signed_in_at=act.now)
    return replace(act, by=by)

"""Who is this? Id and secret, checked outside any transaction, throttled by account in the database.

What fails is counted where it fails: with whoever is signed in, at a screen that knows the person, or, of all
other places together, as anybody's. So nobody far away keeps a nurse from signing.
"""

from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from app.base import OPERATOR, Act, Method
from app.keys import verify_secret
from app.people import Person, folded
from app.records.kept import Throttle
from app.site.installation import Site
from app.storage import Reader, Transaction
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import TooManyTries, WrongCredential
from app.workflow.refused_signings import note_failed

# A mistyped secret costs nothing; from the fourth failure on the account waits, longer each time.
FREE_TRIES = 3
FIRST_WAIT = timedelta(seconds=30)
LONGEST_WAIT = timedelta(hours=1)

# What is typed into the field of an id that nobody has may be anything.
_KEPT_OF_UNKNOWN_ID = 64


@dataclass(frozen=True, kw_only=True)
class Known:
    """Id and secret belong together; `counted` is under what the try was counted."""

    person: Person
    counted: str


@dataclass(frozen=True, kw_only=True)
class Where:
    """Who is signed in where it is tried (at the host the operator); with nobody, at which screen."""

    signed_in: str = ""
    device: str = ""


@dataclass(frozen=True, kw_only=True)
class Signatory:
    """Who answers for a command at the host: id and secret, looked at once."""

    login: str
    secret: str = field(repr=False)


AT_THE_HOST = Where(signed_in=OPERATOR)


def verify_credential(  # who, with what, where
    site: Site, now: datetime, *, login: str, secret: str, what: str, where: Where
) -> Known | WrongCredential | TooManyTries:
    """Check id and secret; `what` (sign-in, signing, confirming) is noted when it fails."""
    known = try_credential(site, now, login=login, secret=secret, what=what, where=where)
    if isinstance(known, Known):
        with site.store.write() as tx:
            forget_tries(tx, known)
    return known


def try_credential(  # who, with what, where
    site: Site, now: datetime, *, login: str, secret: str, what: str, where: Where
) -> Known | WrongCredential | TooManyTries:
    """The same for an act that follows at once: it forgets the try itself, in its own transaction."""
    tried = _count_try(site, now, login, where)
    if isinstance(tried, TooManyTries):
        return tried
    # An unknown id costs the same time as a known one, so that ids cannot be told apart by the clock.
    person = tried.person
    usable = person if person is not None and person.active else None
    if not verify_secret(usable.secret_hash if usable else None, secret) or usable is None:
        with site.store.write() as tx:
            who = person.id if person is not None else ""
            note_failed(tx, now, who, f"{what} failed")
        return WrongCredential()
    return Known(person=usable, counted=tried.key)


def forget_tries(tx: Transaction, known: Known) -> None:
    """What failed before does not count any more, now that one was right."""
    tx.clear_throttle(known.counted)


@dataclass(frozen=True, kw_only=True)
class _Try:
    key: str
    person: Person | None


def _count_try(site: Site, now: datetime, login: str, where: Where) -> _Try | TooManyTries:
    """Count a try before its secret is looked at: many at one instant would all come before the first failed.

    Counted by account, not by what was typed: one id can be typed in many ways.
    """
    with site.store.write() as tx:
        person = tx.find_person_by_login(login)
        named = f"account {person.id}" if person else f"id {folded(login)[:_KEPT_OF_UNKNOWN_ID]}"
        key = named + _counted_apart(tx, person, where)
        one_at_a_time(tx, f"trying {key}", now)
        before = tx.find_throttle(key)
        if before and before.not_before and now < before.not_before:
            return TooManyTries(seconds=int((before.not_before - now).total_seconds()) + 1)
        failures = (before.failures if before else 0) + 1
        wait = min(FIRST_WAIT * 2 ** min(16, max(0, failures - FREE_TRIES - 1)), LONGEST_WAIT)
        not_before = now + wait if failures > FREE_TRIES else None
        tx.set_throttle(Throttle(key=key, failures=failures, not_before=not_before))
    return _Try(key=key, person=person)


def _counted_apart(reader: Reader, person: Person | None, where: Where) -> str:
    if where.signed_in:
        return f" with {where.signed_in}"
    is_known = person is not None and reader.has_signed_in(person.id, device=where.device)
    return f" at {where.device}" if is_known else ""


def acting_as(act: Act, person: Person) -> Act:
    """The act of a person who gave id and secret where another is signed in, or where six digits were enough.

    The session's digest is marked: the record shows whose screen it was, and that a credential was given.
    """
    if person.id == act.by.person and act.by.method is Method.SECRET:
        return act
    by = replace(
        act.by,
        person=person.id,
        session=f"{act.by.session}+{person.id}",
        signed_in_at=act.now,
        method=Method.SECRET,
    )
    return replace(act, by=by)

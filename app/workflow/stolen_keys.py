"""Declare that a key of the site is in other hands from a moment on: two people together, at the host."""

from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum

from app.auditing.checkpointing import register_site_keys
from app.keys import Owner, list_site_keys, mark_stolen
from app.people import Person
from app.records import site_events
from app.records.kept import Entry
from app.site.installation import Site
from app.workflow.credentials import AT_THE_HOST, Known, verify_credential
from app.workflow.founding import Founder
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import TooManyTries


@dataclass(frozen=True, kw_only=True)
class Declared:
    """The log says so, the key is out of use, and a new one is in its place."""

    kid: str
    stolen_from: datetime


class Undeclared(StrEnum):
    """Why nothing was declared; the words are for whoever is at the host."""

    NO_SUCH_KEY = "the site has no such key"
    ALREADY = "the log says so already"
    NOT_ITS_TIME = "the moment is before the key was made, or has not come yet"
    WRONG = "id and secret do not belong together"
    TOO_MANY = "too many tries; wait and try again"
    NO_KEY = "whoever declares it has a confirmed signing key"
    ONE_PERSON = "two people are needed"


@dataclass(frozen=True, kw_only=True)
class NotDeclared:
    """Nothing was declared; `login` is whom it is about, blank for none of the two."""

    why: Undeclared
    login: str = ""


def declare_stolen(
    site: Site, now: datetime, *, kid: str, since: datetime, by: tuple[Founder, Founder], owner: Owner
) -> Declared | NotDeclared:
    """Two people, each known by a secret, take a key of the site out of use.

    The folder comes first: after a crash in between the same is declared again, and the log says it then.
    """
    key = next((each for each in list_site_keys(site.site_keys) if each.kid == kid), None)
    if key is None:
        return NotDeclared(why=Undeclared.NO_SUCH_KEY)
    if not key.made_at <= since <= now:
        return NotDeclared(why=Undeclared.NOT_ITS_TIME)
    people = []
    for each in by:
        person = _confirmed(site, now, each)
        if isinstance(person, NotDeclared):
            return person
        people.append(person)
    first, second = people
    if first.id == second.id:
        return NotDeclared(why=Undeclared.ONE_PERSON)
    with site.store.read() as reader:
        if any(_is_of(each, kid) for each in reader.entries_of_kind(site_events.SiteKeyStolen.kind)):
            return NotDeclared(why=Undeclared.ALREADY)
    mark_stolen(site.site_keys, key, since, now, owner=owner)
    register_site_keys(site, list_site_keys(site.site_keys), now)
    # What the folder says counts, should another moment have been written there before a crash.
    marked = next(each for each in list_site_keys(site.site_keys) if each.kid == kid).stolen_from or since
    with site.store.write() as tx:
        one_at_a_time(tx, f"declaring {kid}", now)
        if any(_is_of(each, kid) for each in tx.entries_of_kind(site_events.SiteKeyStolen.kind)):
            return tx.refuse(NotDeclared(why=Undeclared.ALREADY))
        told = site_events.SiteKeyStolen(
            kid=kid,
            stolen_from=marked.astimezone(UTC).isoformat(),
            declared_by=first.id,
            and_by=second.id,
        )
        tx.append(told, at=now)
    return Declared(kid=kid, stolen_from=marked)


def mark_declared(site: Site, now: datetime, *, owner: Owner) -> tuple[str, ...]:
    """Take out of use again what an older backup brought back of keys that the log says were stolen."""
    with site.store.read() as reader:
        told = [each.event for each in reader.entries_of_kind(site_events.SiteKeyStolen.kind)]
    declared = {each.kid: each.stolen_from for each in told if isinstance(each, site_events.SiteKeyStolen)}
    back = [each for each in list_site_keys(site.site_keys) if each.kid in declared and not each.stolen_from]
    for key in back:
        mark_stolen(site.site_keys, key, datetime.fromisoformat(declared[key.kid]), now, owner=owner)
    return tuple(each.kid for each in back)


def _is_of(entry: Entry, kid: str) -> bool:
    return isinstance(entry.event, site_events.SiteKeyStolen) and entry.event.kid == kid


def _confirmed(site: Site, now: datetime, who: Founder) -> Person | NotDeclared:
    what = "declaring a key stolen"
    known = verify_credential(site, now, login=who.login, secret=who.secret, what=what, where=AT_THE_HOST)
    if not isinstance(known, Known):
        too_many = isinstance(known, TooManyTries)
        return NotDeclared(why=Undeclared.TOO_MANY if too_many else Undeclared.WRONG, login=who.login)
    with site.store.read() as reader:
        key = reader.live_key(known.person.id)
        if key is None or reader.find_confirmation(key.kid) is None:
            return NotDeclared(why=Undeclared.NO_KEY, login=who.login)
    return known.person

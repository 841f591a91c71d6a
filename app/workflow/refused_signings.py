"""Signings that were refused again and again: counted where they fail, told to who is to look into it."""

from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.keys import new_id
from app.records import site_events
from app.records.events import SecurityNoted
from app.records.kept_people import RefusedSignings, RefusedSigningsTold
from app.site.installation import Site
from app.storage import Reader, Transaction
from app.workflow.asked_first import policy_here
from app.workflow.queueing import one_at_a_time
from app.workflow.sessions import SHOWN

# For what id and secret are given as one's word: a record, a step or a caution, a colleague's key.
_SIGNINGS = ("signing", "confirming", "confirming a key")
# The secret, or what the site asks for beside it: a right secret with a wrong code tells even more.
_FAILED = frozenset(f"{each} failed{how}" for each in _SIGNINGS for how in ("", " beside the secret"))


@dataclass(frozen=True, kw_only=True)
class RefusedSeen:
    """So many signings with one login were refused in some time; its names are empty where there is none."""

    printed_name: str
    login: str
    is_own: bool
    count: int
    since: datetime
    at: datetime


def note_failed(tx: Transaction, now: datetime, person: str, what: str) -> None:
    """Write down that a credential was refused; `what` for, and empty of nobody's id. Signings are counted.

    It is appended to the log first: whoever counts at the same instant waits for the log's head.
    """
    tx.append(SecurityNoted(person=person, what=what), at=now)
    if what in _FAILED:
        _count_refused(tx, now, person)


def _count_refused(tx: Transaction, now: datetime, person: str) -> None:
    """Tell of refused signings, if the policy's number is reached since it was last told."""
    policy = policy_here(tx, now)
    if policy is None or policy.refused_signings is None:
        return
    last = tx.last_refused(person)
    since = max(filter(None, (now - policy.refused_signings.within, last)))
    noted = ((each.at, each.event) for each in tx.security_notes(since=since))
    failed = [
        at
        for at, event in noted
        if isinstance(event, SecurityNoted) and event.person == person and event.what in _FAILED
    ]
    if len(failed) < policy.refused_signings.count:
        return
    told = RefusedSignings(id=new_id(), person=person, count=len(failed), since=failed[0], at=now)
    tx.add_refused_signings(told)
    tx.append(
        site_events.SigningsRefused(
            refused=told.id, person=person, count=told.count, since=told.since.isoformat()
        ),
        at=now,
    )


def see_refused(site: Site, act: Act) -> tuple[RefusedSeen, ...]:
    """What somebody is still to be told: of their own login, of those of the unit, or of all."""
    with site.store.read() as reader:
        found = _to_tell(reader, act)
        people = reader.people_with({each.person for each in found})
    return tuple(
        RefusedSeen(
            printed_name=people[each.person].printed_name if each.person in people else "",
            login=people[each.person].login if each.person in people else "",
            is_own=each.person == act.by.person,
            count=each.count,
            since=each.since,
            at=each.at,
        )
        for each in found
    )


def read_refused(site: Site, act: Act, *, until: datetime) -> None:
    """Write down that they were read, those up to a moment."""
    with site.store.write() as tx:
        one_at_a_time(tx, f"told {act.by.person}", act.now)
        for each in _to_tell(tx, act):
            if each.at <= until:
                told = RefusedSigningsTold(refused=each.id, person=act.by.person, told_at=act.now)
                tx.add_refused_signings_told(told)
                tx.append(site_events.SigningsRefusedRead(refused=each.id), act=act)


def _to_tell(reader: Reader, act: Act) -> tuple[RefusedSignings, ...]:
    return reader.refused_to_tell(act.by.person, unit=act.by.unit, since=act.now - SHOWN)

# ruff: noqa: ANN401  # a builder takes any field of what it builds
"""Rows for the tests of storage; each test names only what it is about."""

from datetime import UTC, datetime, timedelta
from typing import Any

from app.base import Act, Actor, Method
from app.people import Person, Role
from app.records.canonical import digest
from app.records.events import CheckOpened
from app.records.kept import (
    SOURCES,
    Access,
    Draft,
    FrozenRecord,
    HelpTaker,
    JoinCode,
    KeptCheck,
    KeptComparison,
    KeptFollowed,
    KeptInfusion,
    KeptPdf,
    KeptReading,
    KeptSignature,
    Participant,
    Session,
    ShiftSession,
    SiteData,
    Throttle,
    Unit,
)
from app.storage import ENVELOPE_SIZE, Store, Transaction

NOW = datetime(2026, 3, 1, 22, 15, tzinfo=UTC)
DOCUMENT = b'{"record":"invented"}'
PEOPLE = ("amari", "birk", "chidi", "dara")
# Of whom no code was ever given, so that nobody has to have seen them.
WITHOUT_CODE = ("femi", "gita")


def later(minutes: int) -> datetime:
    return NOW + timedelta(minutes=minutes)


def act(person: str = "amari", *, at: datetime = NOW) -> Act:
    actor = Actor(
        person=person,
        session=f"session of {person}",
        device="tablet 3",
        signed_in_at=NOW,
        unit="ward-5",
        method=Method.SECRET,
    )
    return Act(now=at, by=actor, new_id=lambda: "id")


def person(name: str = "amari", **given: Any) -> Person:
    usual: dict[str, Any] = {
        "id": name,
        "login": name,
        "staff_number": f"number-of-{name}",
        "printed_name": name.capitalize(),
        "roles": frozenset({Role.NURSE}),
        "unit": "ward-5",
        "secret_hash": None,
        "code_hash": None,
        "code_expires_at": None,
        "active": True,
    }
    return Person(**usual | given)


def infusion(**given: Any) -> KeptInfusion:
    usual: dict[str, Any] = {"id": "infusion-1", "unit": "ward-5", "bed": "12", "opened_at": NOW}
    return KeptInfusion(**usual | given)


def check(**given: Any) -> KeptCheck:
    usual: dict[str, Any] = {
        "id": "check-1",
        "infusion": "infusion-1",
        "kind": "set-up",
        "unit": "ward-5",
        "bed": "12",
        "opened_by": "amari",
        "opened_at": NOW,
    }
    return KeptCheck(**usual | given)


def participant(slot: int = 1, **given: Any) -> Participant:
    usual: dict[str, Any] = {
        "check": "check-1",
        "slot": slot,
        "person": PEOPLE[slot - 1],
        "joined_at": NOW,
    }
    return Participant(**usual | given)


def reading(slot: int = 1, **given: Any) -> KeptReading:
    usual: dict[str, Any] = {
        "check": "check-1",
        "subject": SOURCES,
        "round": 1,
        "slot": slot,
        "person": PEOPLE[slot - 1],
        "envelope": bytes([slot]) * ENVELOPE_SIZE,
        "commitment": digest(bytes([slot])),
        "handed_in_at": later(slot),
        "session": f"session of {PEOPLE[slot - 1]}",
        "device": "tablet 3",
        "signed_in_at": NOW,
    } | given
    usual.setdefault("id", "{check} {subject} {round} {slot}".format(**usual))
    return KeptReading(**usual)


def comparison(**given: Any) -> KeptComparison:
    usual: dict[str, Any] = {
        "check": "check-1",
        "subject": SOURCES,
        "round": 1,
        "at": later(3),
        "engine": "0.1.0",
        "case": b'{"case":1}',
        "result": b'{"verdict":"agreed"}',
    }
    return KeptComparison(**usual | given)


def frozen(**given: Any) -> FrozenRecord:
    usual: dict[str, Any] = {
        "check": "check-1",
        "edition": 1,
        "at": later(4),
        "document": DOCUMENT,
        "digest": digest(DOCUMENT),
    }
    return FrozenRecord(**usual | given)


def signature(slot: int = 1, **given: Any) -> KeptSignature:
    usual: dict[str, Any] = {
        "check": "check-1",
        "edition": 1,
        "slot": slot,
        "person": PEOPLE[slot - 1],
        "printed_name": PEOPLE[slot - 1].capitalize(),
        "digest": digest(DOCUMENT),
        "meaning": "I checked this set-up independently.",
        "signed_at": later(5 + slot),
        "session": f"session of {PEOPLE[slot - 1]}",
        "device": "tablet 3",
        "signed_in_at": NOW,
        "kid": f"key of {PEOPLE[slot - 1]}",
        "jws": "a..b",
    }
    return KeptSignature(**usual | given)


def pdf(**given: Any) -> KeptPdf:
    usual: dict[str, Any] = {
        "check": "check-1",
        "edition": 1,
        "content": b"%PDF-1.7 invented",
        "digest": digest(b"%PDF-1.7 invented"),
        "issued_at": later(8),
    }
    return KeptPdf(**usual | given)


def followed(**given: Any) -> KeptFollowed:
    usual: dict[str, Any] = {
        "check": "check-1",
        "edition": 1,
        "document": b'{"followed":"invented"}',
        "content": b"%PDF-1.7 invented too",
        "digest": digest(b"%PDF-1.7 invented too"),
        "issued_at": later(9),
    }
    return KeptFollowed(**usual | given)


def help_taker(**given: Any) -> HelpTaker:
    usual: dict[str, Any] = {
        "help": "help-1",
        "turn": 1,
        "check": "check-1",
        "person": "femi",
        "taken_at": later(2),
    }
    return HelpTaker(**usual | given)


def session(name: str = "amari", **given: Any) -> Session:
    usual: dict[str, Any] = {
        "digest": f"session of {name}",
        "person": name,
        "device": "tablet 3",
        "unit": "ward-5",
        "signed_in_at": NOW,
        "last_seen_at": NOW,
        "ended_at": None,
        "method": "secret",
        "shift_session": "",
    }
    return Session(**usual | given)


def draft(**given: Any) -> Draft:
    usual: dict[str, Any] = {
        "check": "check-1",
        "subject": SOURCES,
        "round": 2,
        "person": "amari",
        "version": 1,
        "envelope": bytes(ENVELOPE_SIZE),
        "saved_at": NOW,
    }
    return Draft(**usual | given)


def shift_session(**given: Any) -> ShiftSession:
    usual: dict[str, Any] = {
        "id": "shift of amari",
        "person": "amari",
        "device": "tablet 3",
        "unit": "ward-5",
        "began_at": NOW,
        "pin_hash": "hash of amari's digits",
        "tries": 0,
        "ended_at": None,
    }
    return ShiftSession(**usual | given)


def site_data(**given: Any) -> SiteData:
    usual: dict[str, Any] = {
        "what": "packs",
        "version": "1",
        "content": b'{"packs":["invented"]}',
        "digest": "digest of version 1",
        "in_force_from": NOW,
    }
    return SiteData(**usual | given)


def open_event(**given: Any) -> CheckOpened:
    usual: dict[str, Any] = {
        "check_kind": "set-up",
        "unit": "ward-5",
        "bed": "12",
        "rereadings_before": 0,
    }
    return CheckOpened(**usual | given)


def add_ward(tx: Transaction) -> None:
    """A unit and six people; the first two have confirmed keys."""
    # They build on the rows of this file.
    from tests.storage.key_builders import add_keys

    tx.add_unit(Unit(id="ward-5", name="Ward 5"))
    tx.rename_unit("ward-5", "Ward 5 North", NOW)
    for name in (*PEOPLE, *WITHOUT_CODE):
        tx.add_person(person(name))
    add_keys(tx)


def add_joined_check(tx: Transaction, **given: Any) -> None:
    """A check that both have joined, of a new infusion."""
    tx.add_infusion(infusion(id=f"infusion of {given['id']}" if "id" in given else "infusion-1"))
    if "id" in given:
        given.setdefault("infusion", f"infusion of {given['id']}")
    opened = check(**given)
    tx.add_check(opened)
    tx.add_participant(participant(1, check=opened.id))
    tx.add_participant(participant(2, check=opened.id))


def add_signed_record(tx: Transaction, **given: Any) -> None:
    """Both readings, their comparison, and a record that both signed."""
    where = {"check": given.get("check", "check-1")}
    for slot in (1, 2):
        tx.add_reading(reading(slot, **where))
    tx.add_comparison(comparison(**where))
    tx.add_frozen(frozen(**where))
    for slot in (1, 2):
        tx.add_signature(
            signature(slot, **where, signed_at=given.get("signed_at", NOW) + timedelta(seconds=slot))
        )


def fill(store: Store) -> None:
    """At least one row in every table."""
    # They build on the rows of this file.
    from tests.storage.key_builders import checkpoint, site_key
    from tests.storage.order_breaches import add_orders
    from tests.storage.people_builders import add_people
    from tests.storage.row_builders import classified, ended, finding, reached, reviewed, settled
    from tests.storage.rule_builders import add_proposals

    # By itself: what an act leaves of an account is told in the log, and here nothing acts.
    with store.write() as tx:
        add_ward(tx)
    with store.write() as tx:
        add_joined_check(tx)
        add_signed_record(tx)
        tx.add_findings([finding()])
        tx.add_ended(ended())
        tx.add_settled([settled()])
        tx.add_reached([reached()])
        tx.add_finding_review(reviewed())
        tx.add_classification(classified())
        tx.add_pdf(pdf())
        tx.add_followed(followed())
        tx.add_help_taker(help_taker())
        tx.add_code(JoinCode(digest="digest of a code", check="check-1", expires_at=later(10)))
        tx.publish(site_data())
        add_proposals(tx)
        tx.add_shift_session(shift_session())
        tx.add_session(session())
        add_people(tx)
        add_orders(tx)
        tx.save_draft(draft(), expected_version=0)
        tx.set_throttle(Throttle(key="amari", failures=1, not_before=None))
        tx.take_lease("sweeper", "process-1", now=NOW, until=later(1))
        tx.add_access(Access(at=NOW, person="amari", session="s", check="check-1", what="record"))
        tx.append(open_event(), act=act(), check="check-1")
        tx.add_site_key(site_key())
        tx.add_checkpoint(checkpoint())
        tx.add_log_block(0, "0" * 64)

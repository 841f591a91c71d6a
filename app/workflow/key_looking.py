"""What people see of keys: one's own, the resets of one's account, and colleagues whose keys wait."""

from dataclasses import dataclass
from datetime import datetime

from app.base import OPERATOR, Act
from app.people import Person
from app.records import events
from app.records.kept_keys import CodeTold, IssuedCode, KeptKey
from app.site.installation import Site
from app.storage import Reader
from app.workflow.authenticators import TAKEN_AWAY
from app.workflow.key_ceremony import is_own_key, usable_key
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import KeyNotConfirmed, NotFound
from app.workflow.sessions import SHOWN


@dataclass(frozen=True, kw_only=True)
class CodeGiven:
    """A one-time code was given for this account: when, and by whom."""

    at: datetime
    by: str


@dataclass(frozen=True, kw_only=True)
class WaitingKey:
    """A key that nobody has confirmed, and the person it was made by."""

    kid: str
    printed_name: str
    login: str
    staff_number: str
    made_at: datetime


@dataclass(frozen=True, kw_only=True)
class OwnKey:
    """One's own key, if there is one, who confirmed it, and the codes that were given for the account."""

    kid: str
    made_at: datetime | None
    usable: bool
    confirmed_by: str
    codes: tuple[CodeGiven, ...]


def see_own_key(site: Site, now: datetime, person: str) -> OwnKey:
    """The signed-in person's key."""
    with site.store.read() as reader:
        account = reader.find_person(person)
        assert account is not None  # noqa: S101  # who is signed in has an account
        key = reader.live_key(person)
        confirmation = reader.find_confirmation(key.kid) if key else None
        usable = not isinstance(usable_key(reader, site, account), KeyNotConfirmed)
        return OwnKey(
            kid=key.kid if key else "",
            made_at=key.made_at if key else None,
            usable=usable,
            confirmed_by=_name(reader, confirmation.confirmed_by) if confirmation and usable else "",
            codes=tuple(
                CodeGiven(at=each.issued_at, by=_name(reader, each.issuer))
                for each in reader.issued_codes(person)
                if now - each.issued_at <= SHOWN and each.what != TAKEN_AWAY
            ),
        )


def see_waiting_keys(site: Site, person: str) -> tuple[WaitingKey, ...]:
    """Colleagues whose keys this person may confirm: not one's own, and none made with a code one gave.

    Whose own key waits confirms nobody's.
    """
    with site.store.read() as reader:
        viewer = reader.find_person(person)
        if viewer is None or isinstance(usable_key(reader, site, viewer), KeyNotConfirmed):
            return ()
        found = [(each, reader.find_person(each.person)) for each in reader.unconfirmed_keys()]
        return tuple(
            _waiting(key, holder)
            for key, holder in found
            if holder is not None
            and holder.active
            and person not in {key.person, key.issuer}
            and is_own_key(site, key)
        )


def see_waiting_key(site: Site, kid: str) -> WaitingKey | NotFound:
    """One key that waits, at either's screen."""
    with site.store.read() as reader:
        key = next((each for each in reader.unconfirmed_keys() if each.kid == kid), None)
        holder = reader.find_person(key.person) if key else None
    return NotFound() if key is None or holder is None else _waiting(key, holder)


@dataclass(frozen=True, kw_only=True)
class ResetSeen:
    """A code was given in the place of this person's secret, and of whoever reads it nobody was told yet."""

    printed_name: str
    login: str
    is_own: bool
    at: datetime
    by: str
    # It was not the secret that became void, but the authenticator that was taken away.
    is_authenticator: bool
    # Who has confirmed the key that was made with it; blank while nobody has.
    confirmed_by: str


def see_resets(site: Site, act: Act) -> tuple[ResetSeen, ...]:
    """The resets that whoever is signed in is still to be told of: one's own, and a charge nurse's unit's."""
    with site.store.read() as reader:
        return tuple(_reset_seen(reader, act.by.person, each) for each in _to_tell(reader, act))


def read_resets(site: Site, act: Act, *, until: datetime) -> None:
    """Write down that they were read, those that were given up to a moment."""
    with site.store.write() as tx:
        one_at_a_time(tx, f"told {act.by.person}", act.now)
        for each in _to_tell(tx, act):
            if each.issued_at <= until:
                tx.add_code_told(CodeTold(code=each.code, person=act.by.person, told_at=act.now))
                tx.append(events.ResetRead(code=each.code), act=act)


def _to_tell(reader: Reader, act: Act) -> tuple[IssuedCode, ...]:
    return reader.resets_to_tell(act.by.person, unit=act.by.unit, since=act.now - SHOWN)


def _reset_seen(reader: Reader, person: str, code: IssuedCode) -> ResetSeen:
    account = reader.find_person(code.person)
    key = reader.live_key(code.person)
    confirmation = reader.find_confirmation(key.kid) if key and key.made_at >= code.issued_at else None
    return ResetSeen(
        printed_name=account.printed_name if account else code.person,
        login=account.login if account else "",
        is_own=code.person == person,
        at=code.issued_at,
        by=_name(reader, code.issuer),
        is_authenticator=code.what == TAKEN_AWAY,
        confirmed_by=_name(reader, confirmation.confirmed_by) if confirmation else "",
    )


def _waiting(key: KeptKey, holder: Person) -> WaitingKey:
    return WaitingKey(
        kid=key.kid,
        printed_name=holder.printed_name,
        login=holder.login,
        staff_number=holder.staff_number,
        made_at=key.made_at,
    )


def _name(reader: Reader, person: str) -> str:
    found = reader.find_person(person)
    if found is None and person == OPERATOR:
        return "whoever has the host's command line"
    return found.printed_name if found else person

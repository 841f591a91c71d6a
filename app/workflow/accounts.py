"""Accounts: made by an administrator or on the command line, with a one-time code; never by oneself."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from app.keys import code_digest, hash_secret, make_code
from app.people import (
    NotPlain,
    Person,
    Role,
    find_login_fault,
    find_name_fault,
    find_staff_number_fault,
    folded,
    is_same_name,
)
from app.records import events
from app.records.names import names_in_log
from app.site.installation import Site
from app.storage import ConstraintBroken, Transaction
from app.workflow.key_ceremony import issue_code, retire_key_of
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import Incomplete

CODE_LIFE = timedelta(days=3)

# An account is one person's: names that a whole ward would share are refused.
SHARED_NAMES = frozenset(
    {"ward", "nurse", "nurses", "staff", "test", "admin", "guest", "user", "unit", "bank", "agency"}
)
ANOTHER_PERSON = "said to be another person of the same name"


@dataclass(frozen=True, kw_only=True)
class AccountMade:
    """The account is there; the code is shown once, to be given to the person."""

    person: str
    code: str


@dataclass(frozen=True, kw_only=True)
class TakenName:
    """Login or staff number belongs, or once belonged, to somebody; neither is ever used again."""

    constraint: str


@dataclass(frozen=True)
class SharedName:
    """The login names a group, not a person."""


@dataclass(frozen=True, kw_only=True)
class NotWrittenSo:
    """Nobody's login or staff number is written so; why, by field."""

    faults: dict[str, str]


@dataclass(frozen=True, kw_only=True)
class SameName:
    """There is a login of this printed name: whoever makes another one says that it is another person."""

    people: tuple[Person, ...]


NotMade = TakenName | SharedName | NotWrittenSo | SameName | Incomplete


@dataclass(frozen=True, kw_only=True)
class NewPerson:
    """What an account is made from; `is_another` is said of a printed name that somebody has already."""

    login: str
    staff_number: str
    printed_name: str
    roles: frozenset[Role]
    unit: str
    is_another: bool = False


@dataclass(frozen=True)
class NoSuchPerson:
    """There is no such account."""


@dataclass(frozen=True, kw_only=True)
class Changed:
    """The account is changed; a new one-time code, where one was made."""

    code: str = ""


def everyone(site: Site) -> tuple[Person, ...]:
    """Every account, by printed name."""
    with site.store.read() as reader:
        return reader.people()


def find_account(site: Site, person: str) -> Person | None:
    """The account with this id."""
    with site.store.read() as reader:
        return reader.find_person(person)


def make_account(
    site: Site, now: datetime, *, by: str, new_id: str, person: NewPerson
) -> AccountMade | NotMade:
    """Make an account with a one-time code that its person must replace."""
    refusal = _why_nobodys(person)
    if refusal is not None:
        return refusal
    code = make_code()
    kept = Person(
        id=new_id,
        login=person.login.strip(),
        staff_number=person.staff_number.strip(),
        printed_name=person.printed_name.strip(),
        roles=person.roles,
        unit=person.unit,
        secret_hash=None,
        code_hash=hash_secret(code_digest(code)),
        code_expires_at=now + CODE_LIFE,
        active=True,
    )
    with site.store.write() as tx:
        if tx.find_unit(kept.unit) is None:
            return Incomplete(fields=("unit",))
        one_at_a_time(tx, f"naming {folded(kept.printed_name)}", now)
        same = _of_name(tx, kept.printed_name)
        try:
            tx.add_person(kept)
        except ConstraintBroken as broken:
            tx.refuse()
            return TakenName(constraint=broken.name)
        if same and not person.is_another:
            return tx.refuse(SameName(people=same))
        issue_code(tx, site, now, person=new_id, what="made", by=by, code_hash=str(kept.code_hash))
        tx.append(events.AccountChanged(person=new_id, what="made"), at=now, by=by)
        if same:
            tx.append(events.AccountChanged(person=new_id, what=ANOTHER_PERSON), at=now, by=by)
        tx.append(
            events.PersonNamed(person=new_id, printed_name=kept.printed_name, staff_number=kept.staff_number),
            at=now,
            by=by,
        )
    return AccountMade(person=new_id, code=code)


def _why_nobodys(person: NewPerson) -> SharedName | NotWrittenSo | Incomplete | None:
    """Why this is no single person's account, by what was written alone."""
    blank = [
        name
        for name in ("login", "staff_number", "printed_name", "unit")
        if not getattr(person, name).strip()
    ]
    if not person.roles:
        blank.append("roles")
    if blank:
        return Incomplete(fields=tuple(blank))
    if folded(person.login) in SHARED_NAMES:
        return SharedName()
    found: dict[str, NotPlain | None] = {
        "login": find_login_fault(person.login.strip()),
        "staff_number": find_staff_number_fault(person.staff_number.strip()),
        "printed_name": find_name_fault(person.printed_name.strip()),
    }
    faults = {name: fault.says for name, fault in found.items() if fault is not None}
    return NotWrittenSo(faults=faults) if faults else None


def reset_account(site: Site, now: datetime, *, by: str, person: str) -> Changed | NoSuchPerson:
    """Give a one-time code in place of the secret, and end every session; nobody chooses another's secret.

    The signing key is retired with the secret that opened it; what it signed stays signed.
    """
    code = make_code()
    code_hash = hash_secret(code_digest(code))
    with site.store.write() as tx:
        if tx.find_person(person) is None:
            return NoSuchPerson()
        _reset(tx, site, now, by=by, person=person, code_hash=code_hash)
    return Changed(code=code)


def _reset(tx: Transaction, site: Site, now: datetime, *, by: str, person: str, code_hash: str) -> None:
    tx.set_code(person, code_hash, now + CODE_LIFE)
    issue_code(tx, site, now, person=person, what="reset", by=by, code_hash=code_hash)
    retire_key_of(tx, now, person=person, by=by, why="reset")
    tx.end_sessions_of(person, now)
    tx.end_shift_sessions_of(person, now)
    tx.append(events.AccountChanged(person=person, what="reset"), at=now, by=by)


def rename_person(  # who is renamed, to what, by whom
    site: Site, now: datetime, *, by: str, person: str, printed_name: str, is_another: bool = False
) -> Changed | NoSuchPerson | SameName | NotWrittenSo | Incomplete:
    """Call a person otherwise from now on; records keep the name of their moment.

    A colleague confirmed the signing key for the name that it had: as after a reset, a new key is made with a
    one-time code, and confirmed for the new name.
    """
    name = printed_name.strip()
    if not name:
        return Incomplete(fields=("printed_name",))
    fault = find_name_fault(name)
    if fault is not None:
        return NotWrittenSo(faults={"printed_name": fault.says})
    code = make_code()
    # Before the transaction: hashing is slow on purpose, and others wait for it.
    code_hash = hash_secret(code_digest(code))
    with site.store.write() as tx:
        known = tx.find_person(person)
        if known is None:
            return NoSuchPerson()
        if known.printed_name == name:
            return Changed()
        one_at_a_time(tx, f"naming {folded(name)}", now)
        same = _of_name(tx, name, but=person)
        if same and not is_another:
            return tx.refuse(SameName(people=same))
        tx.set_printed_name(person, name)
        if same:
            tx.append(events.AccountChanged(person=person, what=ANOTHER_PERSON), at=now, by=by)
        for called in _names_to_say(tx, known, name):
            named = events.PersonNamed(person=person, printed_name=called, staff_number=known.staff_number)
            tx.append(named, at=now, by=by)
        _reset(tx, site, now, by=by, person=person, code_hash=code_hash)
    return Changed(code=code)


def _of_name(tx: Transaction, name: str, *, but: str = "") -> tuple[Person, ...]:
    """Whoever else has this name already."""
    return tuple(each for each in tx.people() if each.id != but and is_same_name(each.printed_name, name))


def _names_to_say(tx: Transaction, known: Person, name: str) -> tuple[str, ...]:
    """The log's first word on a name holds before it too: where it has none, the old one is said first."""
    is_known = names_in_log(tx.naming_entries()).find_person(known.id, tx.head()) is not None
    return (name,) if is_known else (known.printed_name, name)


def set_active(site: Site, now: datetime, *, by: str, person: str, active: bool) -> Changed | NoSuchPerson:
    """Deactivate an account, or bring it back; accounts are never deleted."""
    with site.store.write() as tx:
        if tx.find_person(person) is None:
            return NoSuchPerson()
        tx.set_active(person, active=active)
        if not active:
            tx.end_sessions_of(person, now)
            tx.end_shift_sessions_of(person, now)
        what = "brought back" if active else "deactivated"
        tx.append(events.AccountChanged(person=person, what=what), at=now, by=by)
    return Changed()


def set_roles(
    site: Site, now: datetime, *, by: str, person: str, roles: frozenset[Role]
) -> Changed | NoSuchPerson | Incomplete:
    """Change what an account may do; it acts at the person's next request."""
    if not roles:
        return Incomplete(fields=("roles",))
    with site.store.write() as tx:
        if tx.find_person(person) is None:
            return NoSuchPerson()
        tx.set_roles(person, roles)
        tx.append(events.AccountChanged(person=person, what="roles changed"), at=now, by=by)
    return Changed()

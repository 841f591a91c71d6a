"""What is given beside the secret, by the site's policy for each role: a code of an app, or a passkey.

Never instead of it: the signing key stays locked under the secret. What was given works once.
"""

from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.keys import (
    Answer,
    EnvelopeBroken,
    address_for_app,
    code_secret,
    new_id,
    open_envelope,
    read_answer,
    read_new_passkey,
    seal,
    step_of,
    written,
)
from app.people import Person
from app.records import events
from app.records.kept_keys import Authenticator
from app.records.policy import CODE_OR_PASSKEY, NO_FACTOR
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.storage import Transaction
from app.workflow.credentials import Known, Where, forget_tries, try_credential
from app.workflow.key_ceremony import issue_code
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import TooManyTries, WrongCredential
from app.workflow.refused_signings import note_failed

CODE, PASSKEY = "code", "passkey"
_WORDS = {CODE: "an app that shows codes", PASSKEY: "a passkey"}
TAKEN_AWAY = "authenticator taken away"

_NEEDED = "Your role is asked for this beside the secret, or for a passkey. Nothing was done."
_NEEDED_PASSKEY = "Your role is asked for a passkey beside the secret. Nothing was done."
_WRONG = "This is not what your app shows now. Nothing was done."
_USED = "This was used already: each code works once. Wait for the next one. Nothing was done."
_NO_PASSKEY = "This passkey is not yours, or it took too long. Try again. Nothing was done."
_COUNTED_BACK = (
    "This passkey has been used fewer times than before: there may be a copy of it. Nothing was done. Tell "
    "the administrator now, who takes it away."
)


@dataclass(frozen=True, kw_only=True)
class Given:
    """What came beside the secret; blank for nothing."""

    code: str = ""
    passkey: Answer | None = None


NOTHING = Given()


@dataclass(frozen=True, kw_only=True)
class Beside:
    """What is right beside the secret, to be used up by the act; blank where none is asked."""

    id: str = ""
    kind: str = ""
    until: int = 0
    sign_count: int = 0


@dataclass(frozen=True)
class NoneEnrolled:
    """The site asks for something beside the secret, and this person has enrolled nothing yet."""


@dataclass(frozen=True, kw_only=True)
class WrongFactor:
    """What was given beside the secret is missing, wrong, or was given before; `kind` is what it is about."""

    says: str
    kind: str = CODE


USED = WrongFactor(says=_USED)


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What the site asks anybody for beside the secret, whatever their role."""

    codes: bool
    passkeys: bool


def see_asked(site: Site, now: datetime) -> Asked:
    """What a form has to offer beside the secret."""
    with site.store.read() as reader:
        asked = set(rules_in_force(reader, now).policy.second_factor.values()) - {NO_FACTOR}
    return Asked(codes=CODE_OR_PASSKEY in asked, passkeys=bool(asked))


@dataclass(frozen=True, kw_only=True)
class KnownBeside:
    """Id and secret belong together; what the site asks for beside them is right, or not enrolled yet."""

    known: Known
    beside: Beside | NoneEnrolled

    @property
    def kind(self) -> str:
        """What was given beside the secret; blank where nothing is asked."""
        return self.beside.kind if isinstance(self.beside, Beside) else ""


def try_both(  # who, with what, where
    site: Site, now: datetime, *, login: str, secret: str, given: Given, what: str, where: Where
) -> KnownBeside | WrongFactor | WrongCredential | TooManyTries:
    """Check id and secret, and then what is given beside them; the try counts until all of it was right."""
    known = try_credential(site, now, login=login, secret=secret, what=what, where=where)
    if not isinstance(known, Known):
        return known
    beside = _try_beside(site, now, known.person, given, what=what)
    return beside if isinstance(beside, WrongFactor) else KnownBeside(known=known, beside=beside)


def _try_beside(
    site: Site, now: datetime, person: Person, given: Given, *, what: str
) -> Beside | NoneEnrolled | WrongFactor:
    with site.store.read() as reader:
        asked = rules_in_force(reader, now).policy.asks_of(person.roles)
        if asked == NO_FACTOR:
            return Beside()
        kinds = {CODE, PASSKEY} if asked == CODE_OR_PASSKEY else {PASSKEY}
        enrolled = [each for each in reader.authenticators_of(person.id) if each.kind in kinds]
    if not enrolled:
        return NoneEnrolled()
    if given == NOTHING and asked != CODE_OR_PASSKEY:
        found: Beside | WrongFactor = WrongFactor(says=_NEEDED_PASSKEY, kind=PASSKEY)
    else:
        found = _find_beside(site, now, enrolled, given)
    if isinstance(found, WrongFactor):
        with site.store.write() as tx:
            note_failed(tx, now, person.id, f"{what} failed beside the secret")
            if found.says == _COUNTED_BACK:
                tx.append(events.SecurityNoted(person=person.id, what="a passkey counted back"), at=now)
    return found


def _find_beside(
    site: Site, now: datetime, enrolled: list[Authenticator], given: Given
) -> Beside | WrongFactor:
    if given.passkey is not None:
        return _find_passkey(site, now, [each for each in enrolled if each.kind == PASSKEY], given.passkey)
    code = "".join(given.code.split())
    if not code:
        return WrongFactor(says=_NEEDED)
    for each in enrolled:
        step = step_of(_opened(site, each), code, now) if each.kind == CODE else None
        if step is not None:
            return Beside(id=each.id, kind=CODE, until=step) if step > each.used_until else USED
    return WrongFactor(says=_WRONG)


def _find_passkey(
    site: Site, now: datetime, enrolled: list[Authenticator], answer: Answer
) -> Beside | WrongFactor:
    answered = read_answer(site.key, now, answer, [_opened(site, each) for each in enrolled])
    if answered is None:
        return WrongFactor(says=_NO_PASSKEY, kind=PASSKEY)
    its = enrolled[answered.number]
    if answered.sign_count <= its.sign_count and (answered.sign_count or its.sign_count):
        return WrongFactor(says=_COUNTED_BACK, kind=PASSKEY)
    if answered.until <= its.used_until:
        return WrongFactor(says=_USED, kind=PASSKEY)
    return Beside(id=its.id, kind=PASSKEY, until=answered.until, sign_count=answered.sign_count)


def use_up(tx: Transaction, beside: Beside | NoneEnrolled) -> bool:
    """Whether it was not used before; from now on it is, and so is whatever is older."""
    if isinstance(beside, NoneEnrolled) or not beside.id:
        return True
    return tx.use_authenticator(beside.id, until=beside.until, sign_count=beside.sign_count)


# Enrolling: by the person, signed in.


@dataclass(frozen=True, kw_only=True)
class AppShown:
    """What an app is shown; `chosen` makes it the same when the form comes back."""

    chosen: str
    address: str
    written: str


@dataclass(frozen=True, kw_only=True)
class Enrolled:
    """It counts from now on."""


def show_app(site: Site, act: Act, person: Person, chosen: str = "") -> AppShown:
    """A secret for an app, of this session alone; nothing is kept of it before a code of it came back."""
    chosen = chosen or new_id()
    secret = code_secret(site.key, session=act.by.session, chosen=chosen)
    with site.store.read() as reader:
        name = rules_in_force(reader, act.now).policy.site
    address = address_for_app(secret, login=person.login, site=name)
    return AppShown(chosen=chosen, address=address, written=written(secret))


def enrol_app(
    site: Site, act: Act, person: Person, *, secret: str, chosen: str, code: str
) -> Enrolled | WrongFactor | WrongCredential | TooManyTries:
    """Enrol an app that shows the right code, with the person's own secret given anew."""
    known = _own(site, act, person, secret)
    if not isinstance(known, Known):
        return known
    shown = code_secret(site.key, session=act.by.session, chosen=chosen)
    step = step_of(shown, "".join(code.split()), act.now)
    if step is None:
        return WrongFactor(says="This is not what your app shows now. Is its clock right?")
    return _enrol(site, act, known, kind=CODE, content=shown, until=step)


def enrol_passkey(
    site: Site, act: Act, person: Person, *, secret: str, answer: Answer
) -> Enrolled | WrongFactor | WrongCredential | TooManyTries:
    """Enrol a passkey that was made just now for this session, with the person's own secret given anew."""
    known = _own(site, act, person, secret)
    if not isinstance(known, Known):
        return known
    made = read_new_passkey(site.key, act.now, answer)
    if made is None:
        return WrongFactor(says="No passkey was made, or it took too long. Try again.", kind=PASSKEY)
    return _enrol(
        site, act, known, kind=PASSKEY, content=made.content, until=made.until, sign_count=made.sign_count
    )


def _own(site: Site, act: Act, person: Person, secret: str) -> Known | WrongCredential | TooManyTries:
    where = Where(signed_in=act.by.person)
    what = "enrolling an authenticator"
    return try_credential(site, act.now, login=person.login, secret=secret, what=what, where=where)


def _enrol(
    site: Site, act: Act, known: Known, *, kind: str, content: bytes, until: int, sign_count: int = 0
) -> Enrolled:
    person, its = known.person.id, act.new_id()
    made = Authenticator(
        id=its,
        person=person,
        kind=kind,
        sealed=seal(site.key, _context(person, its), content),
        used_until=until,
        sign_count=sign_count,
    )
    with site.store.write() as tx:
        forget_tries(tx, known)
        tx.add_authenticator(made)
        tx.append(events.AccountChanged(person=person, what=f"authenticator enrolled: {kind}"), act=act)
    return Enrolled()


def _opened(site: Site, kept: Authenticator) -> bytes:
    """What was sealed; of another person, or changed, it knows nothing."""
    try:
        return open_envelope(site.key, _context(kept.person, kept.id), kept.sealed)
    except EnvelopeBroken:
        return b""


def _context(person: str, its: str) -> tuple[str, ...]:
    return ("authenticator", person, its)


# Taking away: by an administrator, when one is lost.


@dataclass(frozen=True)
class NothingEnrolled:
    """There is no such person, or nothing to take away."""


@dataclass(frozen=True)
class TakenAway:
    """Whatever the person had enrolled opens nothing any more."""


def take_away(site: Site, now: datetime, *, by: str, person: str) -> TakenAway | NothingEnrolled:
    """Take a person's authenticators away and end every session; person and charge nurse are told."""
    with site.store.write() as tx:
        one_at_a_time(tx, f"account {person}", now)
        if tx.find_person(person) is None or not tx.authenticators_of(person):
            return NothingEnrolled()
        tx.remove_authenticators(person)
        # No code is given with it; it is told of as a reset is.
        issue_code(tx, site, now, person=person, what=TAKEN_AWAY, by=by, code_hash=new_id())
        tx.end_sessions_of(person, now)
        tx.end_shift_sessions_of(person, now)
        tx.append(events.AccountChanged(person=person, what=TAKEN_AWAY), at=now, by=by)
    return TakenAway()


def see_enrolled(site: Site, person: str) -> tuple[str, ...]:
    """What a person has enrolled, in words."""
    with site.store.read() as reader:
        return tuple(_WORDS[each.kind] for each in reader.authenticators_of(person))

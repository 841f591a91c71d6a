"""Change one's own secret: the signing key stays the same and is locked anew under the new one."""

from app.base import Act
from app.keys import SecretFault, WrongSecret, hash_secret, reseal, secret_fault
from app.records import events
from app.site.installation import Site
from app.workflow.credentials import Known, Where, verify_credential
from app.workflow.key_ceremony import note_closed_key
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import KeyDoesNotOpen, TooManyTries, WrongCredential
from app.workflow.signing_in import SecretSet


def change_secret(
    site: Site, act: Act, *, login: str, secret: str, new: str
) -> SecretSet | SecretFault | KeyDoesNotOpen | WrongCredential | TooManyTries:
    """Put a new secret in the place of the old one; every other session of the person ends."""
    now, where = act.now, Where(signed_in=act.by.person)
    known = verify_credential(site, now, login=login, secret=secret, what="changing the secret", where=where)
    if not isinstance(known, Known):
        return known
    person = known.person
    fault = secret_fault(new, login=person.login, printed_name=person.printed_name)
    if fault is not None:
        return fault
    with site.store.read() as reader:
        key = reader.live_key(person.id)
        sealed = reader.find_sealed(key.kid) if key else None
    moved = reseal(sealed or b"", secret, new, kid=key.kid) if key else b""
    if isinstance(moved, WrongSecret):
        return note_closed_key(site, now, person)
    secret_hash = hash_secret(new)
    with site.store.write() as tx:
        one_at_a_time(tx, f"account {person.id}", now)
        again = tx.find_person(person.id)
        if again is None or again.secret_hash != person.secret_hash or tx.live_key(person.id) != key:
            # Changed or reset in the meantime.
            return WrongCredential()
        tx.set_secret(person.id, secret_hash)
        if key is not None:
            tx.set_sealed(key.kid, moved)
        tx.end_sessions_of(person.id, now, but=act.by.session)
        tx.end_shift_sessions_of(person.id, now)
        tx.append(events.AccountChanged(person=person.id, what="secret changed"), at=now, by=person.id)
    return SecretSet()

"""What people do with their keys, through the real workflow."""

from collections.abc import Iterator
from contextlib import contextmanager

from app.keys import RecordHeader, verify_record
from app.people import Person
from app.records.kept import KeptSignature
from app.records.kept_keys import KeptKey
from app.workflow import accounts, signing_in
from app.workflow.key_ceremony import KeyConfirmed, Unconfirmed, confirm_key
from tests.story.people import ADELE, Somebody
from tests.story.ward import Ward

NEW_SECRET = "eleven kites over the salt marsh"


def account(ward: Ward, who: Somebody) -> Person:
    """The account as it is stored."""
    with ward.site.store.read() as reader:
        found = reader.find_person(who.id)
    assert found is not None
    return found


def key_of(ward: Ward, who: Somebody) -> KeptKey:
    """The key in use."""
    with ward.site.store.read() as reader:
        found = reader.live_key(who.id)
    assert found is not None
    return found


@contextmanager
def damaged(ward: Ward, kid: str) -> Iterator[None]:
    """The locked half of a key does not open meanwhile."""
    with ward.site.store.read() as reader:
        sealed = reader.find_sealed(kid)
    assert sealed is not None
    for content in (b"damaged", sealed):
        with ward.site.store.write() as tx:
            tx.set_sealed(kid, content)
        if content != sealed:
            yield


def reset(ward: Ward, who: Somebody, *, by: Somebody = ADELE) -> str:
    """The administrator resets an account; the one-time code."""
    ward.wait()
    done = accounts.reset_account(ward.site, ward.now, by=by.id, person=who.id)
    assert isinstance(done, accounts.Changed), done
    return done.code


def sets_secret(
    ward: Ward, who: Somebody, code: str, secret: str = NEW_SECRET, *, at_screen_of: Somebody | None = None
) -> object:
    """Whoever holds the code sets a secret in this person's name."""
    ward.wait()
    device = ward.act(at_screen_of).by.device if at_screen_of else ""
    return signing_in.replace_code(
        ward.site, ward.now, login=who.login, code=code, secret=secret, device=device
    )


def confirms(
    ward: Ward, kid: str, colleague: Somebody, *, at_screen_of: Somebody | None = None, secret: str = ""
) -> KeyConfirmed | Unconfirmed:
    """A colleague confirms a key with id and secret."""
    act = ward.act(at_screen_of or colleague)
    login = colleague.login
    return confirm_key(ward.site, act, kid=kid, login=login, secret=secret or colleague.secret)


def signs(ward: Ward, who: Somebody, *, secret: str = "", screen: Somebody | None = None) -> object:
    """Try to sign the record at hand."""
    return ward.signing(who, secret=secret, screen=screen)


def signatures(ward: Ward) -> tuple[KeptSignature, ...]:
    """What is stored of the check at hand."""
    with ward.site.store.read() as reader:
        return reader.signatures(ward.check)


def valid(ward: Ward, signature: KeptSignature, *, check: str = "") -> bool:
    """Whether a stored signature is its person's, over the record that is stored, with a key from the log."""
    with ward.site.store.read() as reader:
        key = reader.find_key(signature.kid)
        (frozen,) = [
            each for each in reader.frozen_records(check or ward.check) if each.edition == signature.edition
        ]
    if key is None or key.person != signature.person:
        return False
    header = verify_record(signature.jws, frozen.document, key.public)
    return isinstance(header, RecordHeader) and header.user_id == signature.person

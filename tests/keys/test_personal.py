"""A person's own key: it opens with that person's secret and for that person's key alone."""

import hashlib
import json
from datetime import UTC, datetime

import pytest
from joserfc.jwk import OKPKey

from app.keys import locked
from app.keys.attesting import attest, is_attested
from app.keys.locked import WrongSecret, lock, unlock
from app.keys.personal import (
    PersonalKey,
    make_personal_key,
    reseal,
    sign_confirmation,
    sign_detached,
)
from app.keys.sealing import ApplicationKey
from app.keys.signatures import (
    CONFIRMATION_TYPE,
    ED25519,
    ES256,
    NotValid,
    RecordHeader,
    Verified,
    key_id,
    verify_detached,
    verify_record,
)

SECRET = "seven herons by the canal"
OTHER_SECRET = "eight herons by the canal"
DOCUMENT = b'{"record":"invented"}'


@pytest.fixture(scope="module", params=[ED25519, ES256])
def made(request: pytest.FixtureRequest) -> PersonalKey:
    return make_personal_key(SECRET, algorithm=request.param)


def header(kid: str) -> RecordHeader:
    return RecordHeader(
        kid=kid,
        user_id="person-1",
        printed_name="Amari",
        signed_at=datetime(2026, 3, 1, 22, 15, tzinfo=UTC),
        meaning="I read it myself.",
        record_id="invented",
        edition=1,
    )


def test_the_owner_signs_and_anyone_verifies(made: PersonalKey) -> None:
    signed = sign_detached(made.sealed, SECRET, DOCUMENT, header(made.kid))
    assert isinstance(signed, str)
    assert verify_record(signed, DOCUMENT, made.public) == header(made.kid)


def test_the_key_says_what_it_is(made: PersonalKey) -> None:
    assert made.kid == key_id(made.public)
    assert json.loads(made.public)["crv"] == {ED25519: "Ed25519", ES256: "P-256"}[made.algorithm]
    assert "d" not in json.loads(made.public)


def test_a_new_key_is_ed25519() -> None:
    assert make_personal_key(SECRET).algorithm == ED25519


def test_two_keys_of_one_secret_have_nothing_in_common() -> None:
    one, other = make_personal_key(SECRET), make_personal_key(SECRET)
    assert one.kid != other.kid
    assert one.sealed[:29] != other.sealed[:29]


@pytest.mark.parametrize("secret", [OTHER_SECRET, SECRET + " ", SECRET.upper(), ""])
def test_no_other_secret_signs(made: PersonalKey, secret: str) -> None:
    assert sign_detached(made.sealed, secret, DOCUMENT, header(made.kid)) == WrongSecret()
    assert sign_confirmation(made.sealed, secret, DOCUMENT, kid=made.kid) == WrongSecret()
    assert reseal(made.sealed, secret, OTHER_SECRET, kid=made.kid) == WrongSecret()


def test_the_secret_is_the_same_on_every_keyboard() -> None:
    made = make_personal_key("caf\u00e9 au lait par trois")
    assert isinstance(
        sign_detached(made.sealed, "cafe\u0301 au lait par trois", DOCUMENT, header(made.kid)), str
    )


def test_no_bit_of_the_locked_half_can_be_another() -> None:
    made = make_personal_key(SECRET)
    for place in range(0, len(made.sealed), 7):
        changed = made.sealed[:place] + bytes([made.sealed[place] ^ 1]) + made.sealed[place + 1 :]
        assert sign_detached(changed, SECRET, DOCUMENT, header(made.kid)) == WrongSecret(), place


@pytest.mark.parametrize("cut", [0, 1, 28, 29, 44])
def test_a_locked_half_that_was_cut_does_not_open(cut: int) -> None:
    made = make_personal_key(SECRET)
    assert sign_detached(made.sealed[:cut], SECRET, DOCUMENT, header(made.kid)) == WrongSecret()


def test_the_locked_half_of_another_key_does_not_sign_under_this_one() -> None:
    """Who may write to the database puts a key that opens with a secret of their own in the nurse's place."""
    nurse, intruder = make_personal_key(SECRET), make_personal_key(OTHER_SECRET)
    assert sign_detached(intruder.sealed, OTHER_SECRET, DOCUMENT, header(nurse.kid)) == WrongSecret()


def test_nor_when_it_was_locked_anew_for_this_key_s_place() -> None:
    nurse = make_personal_key(SECRET)
    own = OKPKey.generate_key("Ed25519").as_bytes(encoding="DER", private=True)
    for content in (own, b"no key at all"):
        planted = lock(OTHER_SECRET, ("personal key", nurse.kid), content)
        assert sign_detached(planted, OTHER_SECRET, DOCUMENT, header(nurse.kid)) == WrongSecret()
        assert reseal(planted, OTHER_SECRET, SECRET, kid=nurse.kid) == WrongSecret()


def test_a_changed_secret_keeps_the_key(made: PersonalKey) -> None:
    moved = reseal(made.sealed, SECRET, OTHER_SECRET, kid=made.kid)
    assert isinstance(moved, bytes)
    assert sign_detached(moved, SECRET, DOCUMENT, header(made.kid)) == WrongSecret()
    signed = sign_detached(moved, OTHER_SECRET, DOCUMENT, header(made.kid))
    assert isinstance(signed, str)
    assert verify_record(signed, DOCUMENT, made.public) == header(made.kid)


def test_a_confirmation_is_signed_as_one(made: PersonalKey) -> None:
    signed = sign_confirmation(made.sealed, SECRET, b"{}", kid=made.kid)
    assert isinstance(signed, str)
    assert isinstance(verify_detached(signed, b"{}", made.public, typ=CONFIRMATION_TYPE), Verified)
    assert isinstance(verify_detached(signed, b"{ }", made.public, typ=CONFIRMATION_TYPE), NotValid)


def test_the_private_half_is_nowhere_in_clear(made: PersonalKey) -> None:
    opened = unlock(SECRET, ("personal key", made.kid), made.sealed)
    assert isinstance(opened, bytes)
    assert opened[-32:] not in made.sealed
    assert opened not in made.sealed


def test_what_is_locked_opens_in_its_context_alone() -> None:
    kept = lock(SECRET, ("backup", "1"), b"content")
    assert unlock(SECRET, ("backup", "1"), kept) == b"content"
    for context in [("backup", "2"), ("backup1",), ("backup", "1", ""), ()]:
        assert unlock(SECRET, context, kept) == WrongSecret()


def test_a_lock_costs_what_the_secret_s_hash_costs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever copies the database must not find the locked key cheaper to try than the hash."""
    asked: dict[str, object] = {}

    def derive(secret: bytes, salt: bytes, **settings: object) -> bytes:
        asked.update(settings, secret=secret, salt=len(salt))
        return bytes(32)

    monkeypatch.setattr(locked, "hash_secret_raw", derive)
    lock(SECRET, (), b"content")
    assert asked["secret"] == SECRET.encode()
    assert (asked["memory_cost"], asked["time_cost"], asked["parallelism"]) == (19456, 2, 1)
    assert asked["salt"] == 16
    assert str(asked["type"]) == "Type.ID"


# What the installation vouches for.

FACTS = {"kid": "k", "person": "amari", "issuer": "dara"}


def test_the_installation_vouches_for_exactly_these_facts() -> None:
    key = ApplicationKey(content=bytes(range(32)))
    kept = attest(key, "personal key", FACTS)
    assert is_attested(key, "personal key", FACTS, kept)
    assert not is_attested(key, "personal key", FACTS | {"issuer": "birk"}, kept)
    assert not is_attested(key, "one-time code", FACTS, kept)
    assert not is_attested(ApplicationKey(content=bytes(32)), "personal key", FACTS, kept)
    assert not is_attested(key, "personal key", FACTS, kept[:-1] + ("0" if kept[-1] != "0" else "1"))
    assert not is_attested(key, "personal key", FACTS, "")
    assert not is_attested(key, "personal key", FACTS, "é\ud800")


def test_the_attestation_is_hmac_sha256_under_a_key_of_its_purpose() -> None:
    """The same by hand: HMAC (RFC 2104) from its definition."""
    key = ApplicationKey(content=bytes(range(32)))
    block = key.for_purpose("countersign attests personal key 1").ljust(64, b"\0")
    inner = hashlib.sha256(bytes(b ^ 0x36 for b in block) + b'{"issuer":"dara","kid":"k","person":"amari"}')
    outer = hashlib.sha256(bytes(b ^ 0x5C for b in block) + inner.digest())
    assert attest(key, "personal key", FACTS) == outer.hexdigest()

"""Sealed envelopes: each that opens stands beside those that must not."""

import hashlib
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from hypothesis import given
from hypothesis import strategies as st

from app.config import WrongSettingError
from app.keys import (
    CONTENT_AT_MOST,
    ENVELOPE_SIZE,
    ApplicationKey,
    EnvelopeBroken,
    commitment,
    create_key_file,
    load_key,
    new_salt,
    open_envelope,
    seal,
)
from app.storage import ENVELOPE_SIZE as STORED_SIZE

KEY = ApplicationKey(content=bytes(range(32)))
CONTEXT = ("check-1", "sources", "1", "amari")


@given(content=st.binary(max_size=2000), context=st.lists(st.text(), max_size=5).map(tuple))
def test_what_was_sealed_comes_out(content: bytes, context: tuple[str, ...]) -> None:
    assert open_envelope(KEY, context, seal(KEY, context, content)) == content


@pytest.mark.parametrize("length", [0, 1, 100, 5000, CONTENT_AT_MOST - 1, CONTENT_AT_MOST])
def test_every_envelope_has_one_size(length: int) -> None:
    envelope = seal(KEY, CONTEXT, b"\0" * length)
    assert len(envelope) == ENVELOPE_SIZE == STORED_SIZE
    assert open_envelope(KEY, CONTEXT, envelope) == b"\0" * length


def test_what_does_not_fit_is_refused() -> None:
    with pytest.raises(ValueError, match="at most"):
        seal(KEY, CONTEXT, bytes(CONTENT_AT_MOST + 1))


def test_any_changed_byte_breaks_it() -> None:
    envelope = seal(KEY, CONTEXT, b"5 mg/mL")
    everywhere = {*range(64), *range(0, ENVELOPE_SIZE, 251), *range(ENVELOPE_SIZE - 32, ENVELOPE_SIZE)}
    for place in everywhere:
        for bit in (0x01, 0x80):
            changed = bytearray(envelope)
            changed[place] ^= bit
            with pytest.raises(EnvelopeBroken):
                open_envelope(KEY, CONTEXT, bytes(changed))


@pytest.mark.parametrize("size", [0, 1, 28, ENVELOPE_SIZE - 1, ENVELOPE_SIZE + 1])
def test_any_other_size_breaks_it(size: int) -> None:
    with pytest.raises(EnvelopeBroken):
        open_envelope(KEY, CONTEXT, seal(KEY, CONTEXT, b"x").ljust(size, b"\0")[:size])


@pytest.mark.parametrize(
    "context",
    [
        ("check-2", "sources", "1", "amari"),
        ("check-1", "priming", "1", "amari"),
        ("check-1", "sources", "2", "amari"),
        ("check-1", "sources", "1", "birk"),
        ("check-1", "sources", "1"),
        ("check-1sources", "1", "amari"),
        ("check-1", "sources1", "", "amari"),
        ("check-1", "sources", "1", "amari", ""),
        (),
    ],
)
def test_elsewhere_it_does_not_open(context: tuple[str, ...]) -> None:
    """Moved to another check, round or person, or with the same letters cut in other places."""
    with pytest.raises(EnvelopeBroken):
        open_envelope(KEY, context, seal(KEY, CONTEXT, b"5 mg/mL"))


def test_another_key_does_not_open_it() -> None:
    with pytest.raises(EnvelopeBroken):
        open_envelope(ApplicationKey(content=bytes(32)), CONTEXT, seal(KEY, CONTEXT, b"5 mg/mL"))


def test_one_content_never_looks_the_same_twice() -> None:
    envelopes = [seal(KEY, CONTEXT, b"5 mg/mL") for _ in range(50)]
    assert len({envelope[1:13] for envelope in envelopes}) == 50
    assert len({envelope[13:] for envelope in envelopes}) == 50
    assert not any(b"5 mg/mL" in envelope for envelope in envelopes)


def test_the_form_is_aes_256_gcm_under_a_key_of_its_own() -> None:
    """Opened here step by step with the library alone (NIST SP 800-38D: 96-bit nonce, 128-bit tag)."""
    envelope = seal(KEY, ("a", "bc"), b"5 mg/mL")
    bound_to = b"\x01" + b"\0\0\0\x01a" + b"\0\0\0\x02bc"
    cipher = AESGCM(KEY.for_purpose("countersign envelopes 1"))
    padded = cipher.decrypt(envelope[1:13], envelope[13:], bound_to)
    assert padded[:11] == b"\0\0\0\x075 mg/mL"
    assert set(padded[11:]) == {0}


def test_a_key_for_each_purpose() -> None:
    """RFC 5869, done here with hmac-sha256 by hand: extract with an empty salt, expand one block."""
    import hmac

    extracted = hmac.digest(bytes(32), KEY.content, "sha256")
    assert KEY.for_purpose("cookies") == hmac.digest(extracted, b"cookies\x01", "sha256")
    assert KEY.for_purpose("cookies") != KEY.for_purpose("envelopes")


def test_a_key_is_never_shown() -> None:
    assert repr(KEY) == "ApplicationKey()"
    with pytest.raises(ValueError, match="32 bytes"):
        ApplicationKey(content=b"short")


def test_a_key_file_is_made_once_and_read_back(tmp_path: Path) -> None:
    file = tmp_path / "keys" / "application.key"
    key = create_key_file(file)
    assert file.stat().st_mode & 0o777 == 0o600
    assert load_key(file) == key
    assert create_key_file(tmp_path / "other") != key
    with pytest.raises(FileExistsError):
        create_key_file(file)
    assert load_key(file) == key


def test_a_key_file_that_others_can_read_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "application.key"
    create_key_file(file)
    file.chmod(0o640)
    with pytest.raises(WrongSettingError, match="chmod 600"):
        load_key(file)
    with pytest.raises(WrongSettingError, match="no such file"):
        load_key(tmp_path / "missing")


def test_a_commitment_is_salted_sha_256() -> None:
    salt = bytes(range(32))
    expected = hashlib.sha256(b"countersign commitment 1" + salt + b"5 mg/mL").hexdigest()
    assert commitment(salt, b"5 mg/mL") == expected
    assert commitment(salt, b"1 mg/mL") != expected
    assert commitment(bytes(32), b"5 mg/mL") != expected


def test_a_short_salt_is_refused() -> None:
    """A salt of another length could be moved into the content, and one commitment would fix two readings."""
    with pytest.raises(ValueError, match="32 bytes"):
        commitment(b"short", b"5 mg/mL")
    assert len(new_salt()) == 32
    assert new_salt() != new_salt()

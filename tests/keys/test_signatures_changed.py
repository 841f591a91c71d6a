"""Signatures on records: the least change breaks one, and what is none is refused without an error."""

import json
import string
from datetime import datetime
from typing import Any

import pytest
from joserfc.jwk import ECKey, OKPKey

from app.keys import signatures
from app.keys.signatures import (
    CONFIRMATION_TYPE,
    DOES_NOT_MATCH,
    MALFORMED,
    OTHER_ALGORITHM,
    OTHER_KEY,
    OTHER_TYPE,
    NotValid,
    RecordHeader,
    SigningKey,
    Verified,
    key_id,
    public_text,
    record_header,
    sign_detached_with,
    verify_detached,
    verify_record,
)
from tests.keys.signed import (
    DOCUMENT,
    RFC_8037_KEY,
    RFC_8037_THUMBPRINT,
    decoded,
    encoded,
    record_signed,
    with_header,
)

ALPHABET = string.ascii_letters + string.digits + "-_"


def key_like(key: SigningKey) -> SigningKey:
    return OKPKey.generate_key("Ed25519") if isinstance(key, OKPKey) else ECKey.generate_key("P-256")


def test_no_letter_of_the_signature_can_be_another(signed: str, public: str) -> None:
    for place, letter in enumerate(signed):
        for other in (
            ALPHABET[(ALPHABET.find(letter) + 1) % 64],
            ALPHABET[(ALPHABET.find(letter) + 33) % 64],
        ):
            changed = signed[:place] + other + signed[place + 1 :]
            assert isinstance(verify_record(changed, DOCUMENT, public), NotValid), (place, other)


def test_the_unused_bits_of_the_last_letter_are_not_free(signed: str, public: str) -> None:
    """64 bytes leave four bits of the last letter unused: lenient readers take sixteen letters for one."""
    held = [
        letter
        for letter in ALPHABET
        if isinstance(verify_record(signed[:-1] + letter, DOCUMENT, public), RecordHeader)
    ]
    assert held == [signed[-1]]


def test_no_byte_of_the_record_can_be_another(signed: str, public: str) -> None:
    for place in range(len(DOCUMENT)):
        changed = DOCUMENT[:place] + bytes([DOCUMENT[place] ^ 1]) + DOCUMENT[place + 1 :]
        assert verify_record(signed, changed, public) == NotValid(why=DOES_NOT_MATCH)


@pytest.mark.parametrize("payload", [b"", DOCUMENT[:-1], DOCUMENT + b"\n", DOCUMENT * 2])
def test_the_record_is_neither_longer_nor_shorter(signed: str, public: str, payload: bytes) -> None:
    assert verify_record(signed, payload, public) == NotValid(why=DOES_NOT_MATCH)


@pytest.mark.parametrize(
    "name", ["user_id", "printed_name", "signed_at", "meaning", "record_id", "edition", "kid"]
)
def test_no_name_of_the_header_can_say_something_else(signed: str, public: str, name: str) -> None:
    header, _, signature = signed.split(".")
    said = json.loads(decoded(header))
    said[name] = 2 if name == "edition" else "2026-03-01T23:15:04+02:00"
    changed = f"{encoded(json.dumps(said, separators=(',', ':')).encode())}..{signature}"
    why = OTHER_KEY if name == "kid" else DOES_NOT_MATCH
    assert verify_record(changed, DOCUMENT, public) == NotValid(why=why)


def test_another_person_s_key_does_not_verify_it(signed: str, key: SigningKey) -> None:
    other = key_like(key)
    assert verify_record(signed, DOCUMENT, public_text(other)) == NotValid(why=OTHER_KEY)


def test_a_key_under_another_key_s_name_does_not_verify(public: str, key: SigningKey) -> None:
    """Who signs with a key of their own and names the nurse's in the header signs nothing."""
    other = key_like(key)
    header = {"alg": signatures.algorithm_of(key), "kid": key_id(public), **record_header(record_signed("x"))}
    forged = with_header(other, json.dumps(header))
    assert verify_record(forged, DOCUMENT, public) == NotValid(why=DOES_NOT_MATCH)


@pytest.mark.parametrize("algorithm", ["none", "HS256", "EdDSA", "RS256"])
def test_the_header_does_not_choose_the_algorithm(key: SigningKey, public: str, algorithm: str) -> None:
    header = {"alg": algorithm, "kid": key_id(public), **record_header(record_signed("x"))}
    forged = with_header(key, json.dumps(header))
    assert verify_record(forged, DOCUMENT, public) == NotValid(why=OTHER_ALGORITHM)


def test_a_signature_for_another_purpose_is_none_on_a_record(key: SigningKey, public: str) -> None:
    """Who confirms a colleague's key has not signed a record, whatever the bytes were."""
    confirmed = sign_detached_with(key, {"typ": CONFIRMATION_TYPE}, DOCUMENT)
    assert verify_record(confirmed, DOCUMENT, public) == NotValid(why=OTHER_TYPE)
    assert isinstance(verify_detached(confirmed, DOCUMENT, public, typ=CONFIRMATION_TYPE), Verified)


@pytest.mark.parametrize(
    "change",
    [
        lambda said: said[:-1] + ',"edition":1}',
        lambda said: said[:-1] + ',"crit":["b64"],"b64":false}',
        lambda said: said[:-1] + ',"jwk":{}}',
        lambda said: said.replace('"edition": 1', '"edition": "1"'),
        lambda said: said.replace('"edition": 1', '"edition": true'),
        lambda said: said.replace('"meaning": ', '"meening": '),
        lambda said: said.replace("2026-03-01T23:15:04.250000+01:00", "yesterday"),
        lambda said: said.replace("2026-03-01T23:15:04.250000+01:00", "2026-03-01T23:15:04"),
        lambda said: said.replace("2026-03-01T23:15:04.250000+01:00", "20260301T231504.25+0100"),
        lambda said: f"[{said}]",
        lambda said: said + "}",
        lambda _said: "[" * 2500,
    ],
    ids=[
        "twice",
        "crit",
        "own key",
        "text",
        "truth",
        "misnamed",
        "no time",
        "no offset",
        "other form",
        "list",
        "more",
        "deep",
    ],
)
def test_a_signer_cannot_make_a_header_that_two_read_differently(
    key: SigningKey,
    public: str,
    change: Any,  # noqa: ANN401  # a change of text
) -> None:
    header = {"alg": signatures.algorithm_of(key), "kid": key_id(public), **record_header(record_signed("x"))}
    written = json.dumps(header)
    assert isinstance(verify_record(with_header(key, written), DOCUMENT, public), RecordHeader)
    assert change(written) != written
    assert isinstance(verify_record(with_header(key, change(written)), DOCUMENT, public), NotValid)


@pytest.mark.parametrize("text", ["", "..", "a..b", "a.b.c", "é..x", "eyJ9..!", "{}..{}"])
def test_what_is_no_signature_is_refused_without_an_error(public: str, text: str) -> None:
    assert verify_record(text, DOCUMENT, public) == NotValid(why=MALFORMED)


@pytest.mark.parametrize(
    "public",
    [
        "",
        "[]",
        "{}",
        '{"kty":"OKP"}',
        '{"crv":"Ed25519","kty":"OKP","x":1}',
        '{"crv":"Ed25519","kty":"OKP","x":"AAAA"}',
        '{"crv":"Ed448","kty":"OKP","x":"AAAA"}',
        '{"crv":"P-256","kty":"EC","x":"AAAA","y":"AAAA"}',
        '{"kty":"OKP","crv":"Ed25519","x":"11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"}',
        '{"k":"AAAA","kty":"oct"}',
    ],
)
def test_what_is_no_public_key_in_its_one_form_verifies_nothing(public: str) -> None:
    key = OKPKey.import_key(RFC_8037_KEY)
    signed = sign_detached_with(key, record_header(record_signed(RFC_8037_THUMBPRINT)), DOCUMENT)
    assert verify_record(signed, DOCUMENT, public) == NotValid(why=MALFORMED)


def test_a_time_without_an_offset_is_not_signed() -> None:
    with pytest.raises(ValueError, match="offset"):
        record_signed("x", signed_at=datetime(2026, 3, 1))  # noqa: DTZ001  # what is refused


def test_a_large_record_is_signed_whole(key: SigningKey, public: str) -> None:
    large = b'{"x":"' + b"y" * 1_000_000 + b'"}'
    signed = sign_detached_with(key, record_header(record_signed(key_id(public))), large)
    assert isinstance(verify_record(signed, large, public), RecordHeader)
    assert verify_record(signed, large[:-3] + b'z"}', public) == NotValid(why=DOES_NOT_MATCH)

"""Signatures on records: what they say, by published examples and beside other implementations."""

import json
import subprocess
from pathlib import Path

import pytest
from joserfc import jws
from joserfc.jwk import ECKey, OKPKey
from jwcrypto import jwk as other_jwk
from jwcrypto import jws as other_jws

from app.keys import signatures
from app.keys.signatures import (
    OTHER_ALGORITHM,
    RECORD_TYPE,
    NotValid,
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

# RFC 8037, appendix A.4.
RFC_8037_PAYLOAD = b"Example of Ed25519 signing"
RFC_8037_JWS = (
    "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc."
    "hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg"
)
# RFC 7515, appendix A.3, with the payload taken out as in appendix F.
RFC_7515_KEY: dict[str, str | list[str]] = {
    "kty": "EC",
    "crv": "P-256",
    "x": "f83OJ3D2xF1Bg8vub9tLe1gHMzV76e8Tus9uPHvRVEU",
    "y": "x_FEzRu9m36HLN_tue659LNpXW6pCyStikYjKIWI5a0",
}
RFC_7515_PAYLOAD = b'{"iss":"joe",\r\n "exp":1300819380,\r\n "http://example.com/is_root":true}'
RFC_7515_DETACHED = (
    "eyJhbGciOiJFUzI1NiJ9.."
    "DtEhU3ljbEg8L38VWAfUAqOyKAM6-Xx-F4GawxaepmXFCgfTjDxw5djxLa8ISlSApmWQxfKTUJqPP3-Kg6NU1Q"
)
# RFC 8032, section 7.1, vectors 1 to 3: private key, public key, message, signature.
RFC_8032 = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        (
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b"
            "d25bf5f0595bbe24655141438e7a100b"
        ),
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        (
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c"
            "387b2eaeb4302aeeb00d291612bb0c00"
        ),
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        (
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc659"
            "4a7c15e9716ed28dc027beceea1ec40a"
        ),
    ),
]


def test_what_was_signed_is_read_back(signed: str, public: str) -> None:
    assert verify_record(signed, DOCUMENT, public) == record_signed(key_id(public))


def test_the_header_has_the_documented_names_and_no_other(signed: str, public: str) -> None:
    header = json.loads(decoded(signed.partition(".")[0]))
    assert header == {
        "alg": "Ed25519" if "OKP" in public else "ES256",
        "kid": key_id(public),
        "typ": "countersign-record",
        "user_id": "person-1",
        "printed_name": "Noël Ferrow",
        "signed_at": "2026-03-01T23:15:04.250000+01:00",
        "meaning": "I read it myself.",
        "record_id": "invented",
        "edition": 1,
    }
    documented = {line.split()[0] for line in (signatures.__doc__ or "").splitlines() if line[:4] == "    "}
    assert header.keys() == documented


def test_the_payload_does_not_travel_with_the_signature(signed: str) -> None:
    """RFC 7515, appendix F: the middle part is empty."""
    header, payload, signature = signed.split(".")
    assert payload == ""
    assert len(decoded(signature)) == 64
    assert decoded(header).startswith(b'{"alg":')


def test_one_key_signs_the_same_bytes_in_one_way() -> None:
    key = OKPKey.import_key(RFC_8037_KEY)
    header = record_header(record_signed(RFC_8037_THUMBPRINT))
    assert sign_detached_with(key, header, DOCUMENT) == sign_detached_with(key, header, DOCUMENT)


# Published examples.


@pytest.mark.parametrize(("private", "public", "message", "signature"), RFC_8032)
def test_the_vectors_of_rfc_8032(private: str, public: str, message: str, signature: str) -> None:
    key = OKPKey.import_key(
        {
            "kty": "OKP",
            "crv": "Ed25519",
            "d": encoded(bytes.fromhex(private)),
            "x": encoded(bytes.fromhex(public)),
        }
    )
    algorithm = jws.JWSRegistry.algorithms["Ed25519"]
    assert algorithm.sign(bytes.fromhex(message), key).hex() == signature
    assert algorithm.verify(bytes.fromhex(message), bytes.fromhex(signature), key)
    assert not algorithm.verify(bytes.fromhex(message) + b"\0", bytes.fromhex(signature), key)


def test_the_key_of_rfc_8037_and_its_thumbprint() -> None:
    public = public_text(OKPKey.import_key(RFC_8037_KEY))
    # Appendix A.3 gives the very text that is hashed.
    assert public == '{"crv":"Ed25519","kty":"OKP","x":"11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"}'
    assert key_id(public) == RFC_8037_THUMBPRINT


def test_the_signature_of_rfc_8037() -> None:
    """Its header has the older, less exact name `EdDSA`; under it our own key signs the same."""
    made = with_header(OKPKey.import_key(RFC_8037_KEY), '{"alg":"EdDSA"}', RFC_8037_PAYLOAD)
    assert made == jws.detach_content(RFC_8037_JWS)


def test_the_older_name_of_the_algorithm_is_not_taken() -> None:
    public = public_text(OKPKey.import_key(RFC_8037_KEY))
    assert verify_detached(
        jws.detach_content(RFC_8037_JWS), RFC_8037_PAYLOAD, public, typ=RECORD_TYPE
    ) == NotValid(why=OTHER_ALGORITHM)


def test_the_signature_of_rfc_7515() -> None:
    key = ECKey.import_key(RFC_7515_KEY)
    assert signatures.matches(RFC_7515_DETACHED, RFC_7515_PAYLOAD, key)
    assert not signatures.matches(RFC_7515_DETACHED, RFC_7515_PAYLOAD.replace(b"true", b"tru3"), key)


# Other implementations.


def test_another_library_verifies_ours(signed: str, public: str) -> None:
    other = other_jws.JWS()
    other.deserialize(signed)
    other.verify(other_jwk.JWK.from_json(public), detached_payload=DOCUMENT)
    assert other.is_valid
    changed = other_jws.JWS()
    changed.deserialize(signed)
    with pytest.raises(other_jws.InvalidJWSSignature):
        changed.verify(other_jwk.JWK.from_json(public), detached_payload=DOCUMENT + b" ")


@pytest.mark.parametrize(
    ("made", "algorithm"),
    [({"kty": "OKP", "crv": "Ed25519"}, "Ed25519"), ({"kty": "EC", "crv": "P-256"}, "ES256")],
)
def test_we_verify_another_library_s(made: dict[str, str], algorithm: str) -> None:
    other_key = other_jwk.JWK.generate(**made)
    names = ("crv", "kty", "x", "y")
    members = {name: value for name, value in other_key.export_public(as_dict=True).items() if name in names}
    public = json.dumps(members, sort_keys=True, separators=(",", ":"))
    kid = other_key.thumbprint()
    other = other_jws.JWS(DOCUMENT)
    protected = {"alg": algorithm, "kid": kid, **record_header(record_signed(kid))}
    other.add_signature(other_key, protected=json.dumps(protected))
    other.detach_payload()
    assert verify_record(other.serialize(compact=True), DOCUMENT, public) == record_signed(kid)


def test_openssl_verifies_ours(tmp_path: Path) -> None:
    """Over `header.payload` in base64url, as RFC 7515, 5.1 says; it knows nothing of JSON."""
    key = OKPKey.import_key(RFC_8037_KEY)
    header, _, signature = sign_detached_with(
        key, record_header(record_signed(RFC_8037_THUMBPRINT)), DOCUMENT
    ).split(".")
    (tmp_path / "key.pem").write_bytes(key.as_bytes(encoding="PEM", private=False))
    (tmp_path / "signature").write_bytes(decoded(signature))

    def verifies(content: bytes) -> bool:
        (tmp_path / "content").write_bytes(content)
        asked = ["openssl", "pkeyutl", "-verify", "-pubin", "-inkey", "key.pem", "-rawin"]
        files = ["-in", "content", "-sigfile", "signature"]
        ran = subprocess.run([*asked, *files], cwd=tmp_path, capture_output=True, check=False)
        return ran.returncode == 0

    assert verifies(f"{header}.{encoded(DOCUMENT)}".encode())
    assert not verifies(f"{header}.{encoded(DOCUMENT + b' ')}".encode())

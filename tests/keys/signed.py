"""A record that is signed, and headers that are signed as they are given."""

import base64
from datetime import datetime, timedelta, timezone
from typing import Any

from joserfc import jws

from app.keys import signatures
from app.keys.signatures import RecordHeader, SigningKey

DOCUMENT = '{"edition":1,"record":"invented","site":"Hôpital inventé"}'.encode()

# RFC 8037, appendix A.1: the key of the first vector of RFC 8032, 7.1, as a JWK; A.3: its thumbprint.
RFC_8037_KEY: dict[str, str | list[str]] = {
    "kty": "OKP",
    "crv": "Ed25519",
    "d": "nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A",
    "x": "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo",
}
RFC_8037_THUMBPRINT = "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k"


def encoded(content: bytes) -> str:
    return base64.urlsafe_b64encode(content).rstrip(b"=").decode()


def decoded(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def record_signed(kid: str, **given: Any) -> RecordHeader:  # noqa: ANN401  # any field
    usual: dict[str, Any] = {
        "kid": kid,
        "user_id": "person-1",
        "printed_name": "Noël Ferrow",
        "signed_at": datetime(2026, 3, 1, 23, 15, 4, 250000, timezone(timedelta(hours=1))),
        "meaning": "I read it myself.",
        "record_id": "invented",
        "edition": 1,
    }
    return RecordHeader(**usual | given)


def with_header(key: SigningKey, text: str, payload: bytes = DOCUMENT) -> str:
    """A true signature by this key under a header that is written as given."""
    algorithm = jws.JWSRegistry.algorithms[signatures.algorithm_of(key)]
    covered = f"{encoded(text.encode())}.{encoded(payload)}"
    made: bytes = algorithm.sign(covered.encode(), key)
    return f"{encoded(text.encode())}..{encoded(made)}"

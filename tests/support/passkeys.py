"""An authenticator in software: what one answers, and what one that misbehaves does (WebAuthn, 6 and 7)."""

import json
from dataclasses import dataclass, field
from hashlib import sha256

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from fido2 import cbor
from fido2.utils import websafe_encode

_PRESENT, _CREDENTIAL = 0x01, 0x40


@dataclass(kw_only=True)
class Key:
    """One passkey for one host; `counts` says by how much its counter goes on each time."""

    host: str = "localhost"
    origin: str = "https://localhost"
    name: bytes = b"one passkey of somebody"
    counts: int = 1
    used: int = 0
    _key: ec.EllipticCurvePrivateKey = field(default_factory=lambda: ec.generate_private_key(ec.SECP256R1()))

    def made(self, challenge: str) -> str:
        """What comes back when it is made."""
        numbers = self._key.public_key().public_numbers()
        # COSE (RFC 9053, 7.1.1): an elliptic key, for ES256, on P-256.
        cose = {1: 2, 3: -7, -1: 1, -2: numbers.x.to_bytes(32), -3: numbers.y.to_bytes(32)}
        public = cbor.encode(cose)
        credential = bytes(16) + len(self.name).to_bytes(2) + self.name + public
        data = self._data(_PRESENT | _CREDENTIAL) + credential
        attested = cbor.encode({"fmt": "none", "attStmt": {}, "authData": data})
        said = self._said("webauthn.create", challenge)
        return self._written({"clientDataJSON": said, "attestationObject": attested})

    def given(self, challenge: str, *, flags: int = _PRESENT) -> str:
        """What comes back when it is asked."""
        said, data = self._said("webauthn.get", challenge), self._data(flags)
        signature = self._key.sign(data + sha256(said).digest(), ec.ECDSA(SHA256()))
        return self._written({"clientDataJSON": said, "authenticatorData": data, "signature": signature})

    def _data(self, flags: int) -> bytes:
        self.used += self.counts
        return sha256(self.host.encode()).digest() + bytes([flags]) + self.used.to_bytes(4)

    def _said(self, kind: str, challenge: str) -> bytes:
        return json.dumps({"type": kind, "challenge": challenge, "origin": self.origin}).encode()

    def _written(self, response: dict[str, bytes]) -> str:
        name = websafe_encode(self.name)
        parts = {part: websafe_encode(content) for part, content in response.items()}
        return json.dumps({"id": name, "rawId": name, "type": "public-key", "response": parts})

"""Sign with the seal's key, without handing it to whoever writes the seal; and verify what it signed."""

from functools import lru_cache

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ec import ECDSA, EllipticCurvePublicKey
from cryptography.hazmat.primitives.hashes import SHA256

from app.keys.site_keys import SiteKeys


def sign_for_seal(keys: SiteKeys, content: bytes) -> bytes:
    """The ECDSA signature over P-256 and SHA-256 (DER), with the nonce of RFC 6979.

    The same bytes give the same signature: a record that is made again after a crash is the same file.
    """
    return keys.seal_private.sign(content, ECDSA(SHA256(), deterministic_signing=True))


def is_signed_for_seal(certificate: bytes, signature: bytes, content: bytes) -> bool:
    """Whether the key of a certificate (X.509, DER) made this signature over these bytes."""
    public = _public_in(certificate)
    if public is None:
        return False
    try:
        public.verify(signature, content, ECDSA(SHA256()))
    except InvalidSignature:
        return False
    return True


# One certificate is asked about for every record of a run.
@lru_cache(maxsize=16)
def _public_in(certificate: bytes) -> EllipticCurvePublicKey | None:
    public = x509.load_der_x509_certificate(certificate).public_key()
    return public if isinstance(public, EllipticCurvePublicKey) else None

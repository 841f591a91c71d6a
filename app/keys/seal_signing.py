"""Sign with the seal's key, without handing it to whoever writes the seal."""

from cryptography.hazmat.primitives.asymmetric.ec import ECDSA
from cryptography.hazmat.primitives.hashes import SHA256

from app.keys.site_keys import SiteKeys


def sign_for_seal(keys: SiteKeys, content: bytes) -> bytes:
    """The ECDSA signature over P-256 and SHA-256 (DER), with the nonce of RFC 6979.

    The same bytes give the same signature: a record that is made again after a crash is the same file.
    """
    return keys.seal_private.sign(content, ECDSA(SHA256(), deterministic_signing=True))

"""The signing library's own signer with the site's key, beside which the seal is held."""

from asn1crypto import keys, x509
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from pyhanko.sign.signers import SimpleSigner
from pyhanko_certvalidator.registry import SimpleCertificateStore

from app.keys import SiteKeys


def library_signer(site: SiteKeys) -> SimpleSigner:
    """Its signer, which is handed the private half itself."""
    private = site.seal_private.private_bytes(Encoding.DER, PrivateFormat.PKCS8, NoEncryption())
    return SimpleSigner(
        signing_cert=x509.Certificate.load(site.seal_certificate_der),
        signing_key=keys.PrivateKeyInfo.load(private),
        cert_registry=SimpleCertificateStore(),  # type: ignore[no-untyped-call]  # the library's
    )

"""The certificates (X.509) of a site's keys: made with a key, and read by whoever verifies.

A checkpoint's is signed by its own key. A seal's is followed by the root that issued it: programs that show a
PDF's signature trust an authority, and the seal's own certificate is none. The root issues that one
certificate, and its key is forgotten at once.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec, ed25519
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.x509.oid import NameOID

# NIST SP 800-57 part 1 names one to three years for a private signing key (from memory).
KEY_LIFE = timedelta(days=3 * 365)

_NAME_AT_MOST = 64
_BEGIN = "-----BEGIN CERTIFICATE-----"

PrivateKey = ec.EllipticCurvePrivateKey | ed25519.Ed25519PrivateKey


@dataclass(frozen=True, kw_only=True)
class Owner:
    """Whose a key is: the name of the site, and the id of the one installation that it belongs to."""

    site: str
    installation: str


def certify(private: PrivateKey, now: datetime, purpose: str, owner: Owner) -> str:
    """The key's certificate (PEM), and behind it the root of a seal's."""
    name = f"Countersign {purpose}"
    if isinstance(private, ed25519.Ed25519PrivateKey):
        return _pem(_certificate(private, (private, name), now, owner=owner, name=name))
    issuer = (ec.generate_private_key(ec.SECP256R1()), f"{name} root")
    root = _certificate(issuer[0], issuer, now, owner=owner, name=issuer[1])
    return _pem(_certificate(private, issuer, now, owner=owner, name=name)) + _pem(root)


def _certificate(
    private: PrivateKey, issuer: tuple[PrivateKey, str], now: datetime, *, owner: Owner, name: str
) -> x509.Certificate:
    """Signed by the issuer's key; only what bears the issuer's own name as a root vouches for another."""
    begins = now.astimezone(UTC).replace(microsecond=0)
    issuing, issued_by = issuer
    is_root = private is issuing and isinstance(issuing, ec.EllipticCurvePrivateKey)
    builder = (
        x509.CertificateBuilder()
        .subject_name(_named(owner, name))
        .issuer_name(_named(owner, issued_by))
        .public_key(private.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(begins + KEY_LIFE)
        .add_extension(x509.BasicConstraints(ca=is_root, path_length=0 if is_root else None), critical=True)
        .add_extension(_usage(is_root=is_root), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(private.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(issuing.public_key()), critical=False
        )
    )
    return builder.sign(issuing, None if isinstance(issuing, ed25519.Ed25519PrivateKey) else SHA256())


def _named(owner: Owner, name: str) -> x509.Name:
    return x509.Name(
        [
            x509.NameAttribute(NameOID.ORGANIZATION_NAME, owner.site[:_NAME_AT_MOST]),
            x509.NameAttribute(NameOID.COMMON_NAME, name),
            x509.NameAttribute(NameOID.SERIAL_NUMBER, owner.installation),
        ]
    )


def installation_in(certificate: x509.Certificate) -> str:
    """The id of the installation that a key belongs to; empty where its certificate names none."""
    said = certificate.subject.get_attributes_for_oid(NameOID.SERIAL_NUMBER)
    return str(said[0].value) if said else ""


def _pem(certificate: x509.Certificate) -> str:
    return certificate.public_bytes(serialization.Encoding.PEM).decode()


def _usage(*, is_root: bool) -> x509.KeyUsage:
    """Signing, and signing what nobody takes back; or, of a root, vouching for one certificate.

    With an extended key usage pdfsig 22.12 says "unknown issue", whatever trust it is given (tried).
    """
    return x509.KeyUsage(
        digital_signature=not is_root,
        content_commitment=not is_root,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=is_root,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )


def chains_in(text: str) -> Iterator[str]:
    """Each key's certificate in a PEM text, with the root behind it, if it has one; ValueError otherwise."""
    waiting = ""
    for block in (_BEGIN + each for each in text.split(_BEGIN)[1:]):
        if waiting and is_authority(x509.load_pem_x509_certificate(block.encode())):
            waiting += block
            continue
        if waiting:
            yield waiting
        waiting = block
    if waiting:
        yield waiting


def is_authority(certificate: x509.Certificate) -> bool:
    """Whether a certificate vouches for others: the root of a seal does, a site's key never."""
    try:
        return certificate.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    except x509.ExtensionNotFound:
        return False


def one_form(text: str) -> str:
    """Certificates as they are written here, without whatever stands between them."""
    return "".join(_pem(each) for each in x509.load_pem_x509_certificates(text.encode()))


@lru_cache(maxsize=64)
def certificate_in(text: str) -> x509.Certificate:
    """The certificate at the head of a PEM text: no authority, and issued by the root behind it or by itself.

    ValueError for anything else.
    """
    certificate, *others = x509.load_pem_x509_certificates(text.encode())
    root = others[0] if others else certificate
    try:
        certificate.verify_directly_issued_by(root)
        root.verify_directly_issued_by(root)
    except (InvalidSignature, TypeError):
        raise ValueError("not issued by what stands behind it") from None
    if len(others) > 1 or is_authority(certificate) or (others and not is_authority(root)):
        raise ValueError("not the certificate of a site's key")
    return certificate

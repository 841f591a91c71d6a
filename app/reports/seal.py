"""The site's seal on a record's PDF: a certification that allows no change (PAdES B-B, EN 319 142-1).

What the seal can show: the file is, but for the seal's own bytes, as the holder of the site's key sealed it.
What it cannot: when that was, for the time in it is the site's own word; and which of several possible seals
over the same pages is the issued one, for anyone can turn an ECDSA signature (r, s) into the equally good
(r, n - s). The digest of the whole file in the log settles both.
"""

import asyncio
import hashlib
import io
import logging
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

from asn1crypto import cms, pem, x509
from pyhanko.pdf_utils.decode_limits import DecodeLimits
from pyhanko.pdf_utils.generic import ArrayObject, ByteStringObject
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.fields import MDPPerm, SigSeedSubFilter
from pyhanko.sign.signers.constants import ESIC_EXTENSION_1
from pyhanko.sign.signers.pdf_cms import Signer
from pyhanko.sign.signers.pdf_signer import PdfSignatureMetadata, PdfSigner, PdfSigningSession
from pyhanko.sign.validation import SignatureCoverageLevel, async_validate_pdf_signature
from pyhanko.sign.validation.pdf_embedded import EmbeddedPdfSignature, read_certification_data
from pyhanko.sign.validation.status import PdfSignatureStatus
from pyhanko_certvalidator import ValidationContext

from app.base.damage import Damaged, read_or_damaged

# What the library finds wrong with a file is an answer here, and no event of this program.
logging.getLogger("pyhanko").setLevel(logging.CRITICAL)

FIELD = "Seal"
REASON = "Sealed as issued: the record of a blind two-person check, signed by both. No change is allowed."
REASON_OF_COMPETENCY = (
    "Sealed as issued: checks on training cards, signed by their person and a trainer. No change is allowed."
)
REASON_OF_WHAT_FOLLOWED = "Sealed as issued: what followed a record, signed by nobody. No change is allowed."

# Hexadecimal digits kept free for the seal: enough for a certificate with the longest name of a site.
# Without a fixed number the library signs twice, the first time only to measure.
DIGITS_RESERVED = 5120


@dataclass(frozen=True, kw_only=True)
class Sealer:
    """What a seal is made with: the site's certificate (X.509, DER), and its key as the act of signing.

    `sign` gives the ECDSA signature over P-256 and SHA-256 (DER); the key itself stays where it was loaded.
    """

    certificate: bytes
    sign: Callable[[bytes], bytes] = field(repr=False)


@dataclass(frozen=True, kw_only=True)
class SealHolds:
    """The file is as the site sealed it, by this certificate (PEM); the time is the site's own word."""

    certificate: str
    sealed_at: datetime


@dataclass(frozen=True, kw_only=True)
class SealBroken:
    """The file is not, or cannot be shown to be, as the site sealed it; `why` is one of the words below."""

    why: str


UNREADABLE = "This is not a PDF file, or it is damaged so that it cannot be read."
NO_SEAL = "There is no seal in this file."
SEVERAL = "There is more than one signature in this file; a record has one seal."
ADDED = "Something was added to the file after it was sealed."
CHANGED = "The file was changed after it was sealed."
SEAL_CHANGED = "The seal itself was changed or damaged."
ALLOWS_CHANGES = "The seal is not one that forbids every change."
OTHER_SITE = "The file is sealed, but not with this site's certificate."
OUT_OF_TIME = "The seal says a time at which the site's certificate was not valid."


def seal_pdf(unsealed: bytes, sealer: Sealer, *, at: datetime, place: str, reason: str = REASON) -> bytes:
    """The PDF with the site's seal, in an invisible field; nothing before the seal is changed."""
    metadata = PdfSignatureMetadata(
        field_name=FIELD,
        md_algorithm="sha256",
        certify=True,
        docmdp_permissions=MDPPerm.NO_CHANGES,
        subfilter=SigSeedSubFilter.PADES,
        reason=reason,
        location=place,
    )
    signer = _SiteSigner(x509.Certificate.load(sealer.certificate), sealer.sign)
    output = _Sealing(metadata, signer, at).sign_pdf(
        _WithoutNewMetadata(io.BytesIO(unsealed)), bytes_reserved=DIGITS_RESERVED
    )
    sealed: bytes = output.getvalue()
    return sealed


def certificates_in(text: str) -> tuple[bytes, ...]:
    """Those of seals (X.509, DER) in a PEM text; ValueError where there is none."""
    return tuple(each.dump() for each in _certificates_in(text))


def structure(sealer: Sealer, digest: bytes) -> bytes:
    """The seal's own structure (CMS, RFC 5652; DER) over a file of this SHA-256, as `seal_pdf` puts it in."""
    signer = _SiteSigner(x509.Certificate.load(sealer.certificate), sealer.sign)
    made: bytes = asyncio.run(signer.async_sign(digest, "sha256", use_pades=True)).dump()
    return made


def check_seal(
    content: bytes, certificate: str, *, opened: PdfFileReader | None = None
) -> SealHolds | SealBroken:
    """Whether the whole file is as the site sealed it, by any of the certificates in a PEM text.

    An old certificate still counts: it had to be valid at the time that the seal says. A text without any
    certificate of a seal is the caller's fault: ValueError. `opened` are the same bytes, opened before.
    """
    certificates = _certificates_in(certificate)
    found = read_or_damaged(lambda: _checked(content, certificates, opened))
    if not isinstance(found, Damaged):
        return found
    if isinstance(found.error, _BrokenError):
        return SealBroken(why=found.error.why)
    return SealBroken(why=SEAL_CHANGED if b"/ETSI.CAdES.detached" in content else UNREADABLE)


class _SiteSigner(Signer):
    """Signs with a key that was loaded once; the library's own signer loads it anew for each signature."""

    def __init__(self, certificate: x509.Certificate, sign: Callable[[bytes], bytes]) -> None:
        super().__init__(signing_cert=certificate)
        self._sign = sign

    async def async_sign_raw(
        self,
        data: bytes,
        digest_algorithm: str,
        dry_run: bool = False,  # noqa: FBT001, FBT002, ARG002  # the library's signature
    ) -> bytes:
        assert digest_algorithm == "sha256"  # noqa: S101  # what the site's key signs with
        return self._sign(data)


class _Sealing(PdfSigner):
    """The library's signer with the time as an argument, and as PDF 1.7, which PDF/A-3 stands on."""

    def __init__(self, metadata: PdfSignatureMetadata, signer: Signer, at: datetime) -> None:
        super().__init__(metadata, signer)
        self._at = at.astimezone(UTC)

    def init_signing_session(self, *arguments: Any, **named: Any) -> PdfSigningSession:  # noqa: ANN401  # passed on
        session = super().init_signing_session(*arguments, **named)
        session.system_time = self._at
        return session

    def register_extensions(self, pdf_out: Any, *, md_algorithm: str) -> None:  # noqa: ANN401, ARG002  # the library's
        # For a P-256 key the library would declare PDF 2.0.
        pdf_out.register_extension(ESIC_EXTENSION_1)


class _WithoutNewMetadata(IncrementalPdfFileWriter):
    """Leaves the file's metadata as they are; the library would write its own name and the clock's time.

    The file's second id (ISO 32000-1, 14.4) follows from its first, which follows from the pages; the library
    would draw it by lot, and the same record made again would be another file.
    """

    def _update_meta(self) -> None:
        pass

    @classmethod
    def _handle_id(cls, prev: PdfFileReader) -> ArrayObject:
        first, _ = super()._handle_id(prev)  # type: ignore[no-untyped-call]  # the library's own
        second = hashlib.sha256(b"sealed" + bytes(first)).digest()
        return ArrayObject([first, ByteStringObject(second[: len(first)])])


class _BrokenError(Exception):
    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


def _checked(
    content: bytes, certificates: tuple[x509.Certificate, ...], opened: PdfFileReader | None
) -> SealHolds:
    limits = DecodeLimits.for_untrusted_input()
    reader = opened or PdfFileReader(io.BytesIO(content), decode_limits=limits)
    embedded = list(reader.embedded_signatures)
    if len(embedded) != 1:
        raise _BrokenError(SEVERAL if embedded else NO_SEAL)
    (seal,) = embedded
    own = _own_certificate(seal, certificates)
    sealed_at = seal.self_reported_timestamp
    if sealed_at is None or not own.not_valid_before <= sealed_at <= own.not_valid_after:
        raise _BrokenError(OUT_OF_TIME)
    status = asyncio.run(_validated(seal, own, sealed_at))
    _demand_whole_file(status, seal, content)
    _demand_own_form(seal, own, content)
    if seal.docmdp_level is not MDPPerm.NO_CHANGES or not _certifies(reader, seal):
        raise _BrokenError(ALLOWS_CHANGES)
    return SealHolds(certificate=pem.armor("CERTIFICATE", own.dump()).decode(), sealed_at=sealed_at)


def _own_certificate(
    seal: EmbeddedPdfSignature, certificates: tuple[x509.Certificate, ...]
) -> x509.Certificate:
    """The site's certificate that the seal names; whether it made the seal is another question."""
    named = seal.signer_cert.dump()
    found = next((each for each in certificates if each.dump() == named), None)
    if found is None:
        raise _BrokenError(OTHER_SITE)
    return found


async def _validated(
    seal: EmbeddedPdfSignature, own: x509.Certificate, moment: datetime
) -> PdfSignatureStatus:
    # The certificate at hand is the only thing trusted, and nothing is fetched. What a later revision changed
    # is not looked into, which can take long: there must be none.
    context = ValidationContext(trust_roots=[own], allow_fetching=False, moment=moment)
    return await async_validate_pdf_signature(seal, context, skip_diff=True)


def _demand_whole_file(status: PdfSignatureStatus, seal: EmbeddedPdfSignature, content: bytes) -> None:
    """The signature is good, and covers every byte but its own."""
    if status.coverage is not SignatureCoverageLevel.ENTIRE_FILE:
        raise _BrokenError(ADDED if status.intact else CHANGED)
    if not status.intact:
        raise _BrokenError(CHANGED)
    if not (status.valid and status.trusted and status.bottom_line):
        raise _BrokenError(SEAL_CHANGED)
    start, *_, second, rest = seal.byte_range
    if start != 0 or second + rest != len(content):
        raise _BrokenError(ADDED)


def _demand_own_form(seal: EmbeddedPdfSignature, own: x509.Certificate, content: bytes) -> None:
    """The only bytes that the signature does not cover are its own, written in the one way in which we do."""
    _, first, second, _ = seal.byte_range
    if content[first:second] != _as_written(seal, own, second - first):
        raise _BrokenError(SEAL_CHANGED)


def _as_written(seal: EmbeddedPdfSignature, own: x509.Certificate, room: int) -> bytes:
    """The seal's own bytes as we write them: hexadecimal in angle brackets, and zeros to the end.

    A signature covers little of the structure that it travels in (RFC 5652); so all of it is made anew here,
    from the certificate, what was signed and the signature.
    """
    signer = cms.SignerInfo(
        {
            "version": "v1",
            "sid": {"issuer_and_serial_number": {"issuer": own.issuer, "serial_number": own.serial_number}},
            "digest_algorithm": {"algorithm": "sha256"},
            "signed_attrs": seal.signer_info["signed_attrs"],
            "signature_algorithm": {"algorithm": "sha256_ecdsa"},
            "signature": seal.signer_info["signature"],
        }
    )
    signed = cms.SignedData(
        {
            "version": "v1",
            "digest_algorithms": [{"algorithm": "sha256"}],
            "encap_content_info": {"content_type": "data"},
            "certificates": [own],
            "signer_infos": [signer],
        }
    )
    written: bytes = cms.ContentInfo({"content_type": "signed_data", "content": signed}).dump()
    return b"<" + written.hex().upper().encode().ljust(room - 2, b"0") + b">"


def _certifies(reader: PdfFileReader, seal: EmbeddedPdfSignature) -> bool:
    """Whether the file's permissions name this very signature, and it names no others."""
    said = read_certification_data(reader)
    return said is not None and said.author_sig is seal.sig_object


@lru_cache(maxsize=16)
def _certificates_in(text: str) -> tuple[x509.Certificate, ...]:
    """Those of seals: the site's other key, for checkpoints, is of another kind."""
    blocks = pem.unarmor(text.encode(), multiple=True)
    found = [x509.Certificate.load(der) for _, _, der in blocks]
    # The root of a seal stands behind it, for programs that know no trust but in authorities.
    seals = tuple(each for each in found if each.public_key.algorithm == "ec" and not each.ca)
    if not seals:
        raise ValueError("no certificate of a seal")
    return seals

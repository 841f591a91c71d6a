"""A sealed file recognised by its bytes: quickly, and only in the one form in which we write it.

Nothing here finds out what is wrong with a file: what is not recognised goes to `check_seal`, which takes the
file apart, accepts what is recognised here and more, and has words for everything else. A yes says no less:
the seal's own bytes are compared with those that we would write, and the signature covers all others.
"""

import hashlib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache

import pypdfium2
from asn1crypto import x509
from pypdfium2.raw import FPDF_GetSignatureCount

from app.reports.seal import Sealer, structure

# Signature, and what it is over: whether the key of the certificate made it.
Verify = Callable[[bytes, bytes], bool]

# Where the digest stands in a structure that is made to be compared with.
_MARK = bytes(range(0xE0, 0x100))
# A signature over P-256 is two integers of at most 33 bytes (DER); a rare shorter one goes the long way.
_LENGTHS = range(68, 73)

# Bytes among which to look for the words around the seal: it stands at the end of the file.
_NEAR = 8192

# What is behind the gap, to the end of the seal's dictionary: range, time, and that it allows nothing.
_BEHIND = re.compile(
    rb"\n/ByteRange \[0 (?P<first>\d{1,10}) (?P<second>\d{1,10}) (?P<rest>\d{1,10})\] *\n"
    rb"/Type /Sig\n/Filter /Adobe\.PPKLite\n/SubFilter /ETSI\.CAdES\.detached\n"
    rb"/M \(D\\072(?P<at>\d{14})Z\)\n(?:/Location [^\n]*\n)?/Reason [^\n]*\n"
    rb"/Reference \[ <<\n/Type /SigRef\n/TransformMethod /DocMDP\n"
    rb"/TransformParams <<\n/Type /TransformParams\n/V /1\.2\n/P 1\n>>\n>> \]\n>>\nendobj\n"
)
# What is before it: the file's permissions and its one field name this seal.
_BEFORE = re.compile(
    rb"\n/Perms <<\n/DocMDP (?P<seal>\d+) 0 R\n>>\n>>\nendobj\n(?:(?!endobj).)*endobj\n"
    rb"\d+ 0 obj\n<<\n/Fields \[ \d+ 0 R \]\n/SigFlags 3\n>>\nendobj\n"
    rb"\d+ 0 obj\n<<\n/FT /Sig\n/T \(Seal\)\n(?:(?!endobj).)*/V (?P=seal) 0 R\n>>\nendobj\n"
    rb"(?P=seal) 0 obj\n<<\n/Contents $",
    re.DOTALL,
)


@dataclass(frozen=True)
class _Frame:
    """A seal's structure around the file's digest, up to the signature; and what is signed of it."""

    before: bytes
    behind: bytes
    signed_before: bytes
    signed_behind: bytes


def is_sealed_as_written(content: bytes, certificate: bytes, verify: Verify) -> bool:
    """Whether this certificate (X.509, DER) sealed the whole file, in our own form, while it was valid."""
    behind = _BEHIND.search(content, max(0, len(content) - _NEAR))
    if behind is None:
        return False
    first, second, rest = (int(behind[name]) for name in ("first", "second", "rest"))
    if second != behind.start() or second + rest != len(content) or not 0 < first < second:
        return False
    if _BEFORE.search(content[max(0, first - _NEAR) : first]) is None:
        return False
    if not _was_valid(certificate, behind["at"]):
        return False
    digest = hashlib.sha256(content[:first] + content[second:]).digest()
    return _is_seal(content[first:second], digest, certificate, verify)


def attachments_of_sealed(content: bytes) -> Mapping[str, bytes] | None:
    """The files inside a PDF that was found sealed, by their names; None where it has not just one signature.

    The library is written in C++ and mends what is damaged, so it is given nothing that the site did not
    seal; and only one thread at a time may use it.
    """
    try:
        with pypdfium2.PdfDocument(content) as pdf:
            if FPDF_GetSignatureCount(pdf.raw) != 1:
                return None
            files = [pdf.get_attachment(number) for number in range(pdf.count_attachments())]
            found = {each.get_name(): bytes(each.get_data()) for each in files}
    except pypdfium2.PdfiumError:
        return None
    return found if len(found) == len(files) else None


def _was_valid(certificate: bytes, at: bytes) -> bool:
    try:
        moment = datetime.strptime(at.decode(), "%Y%m%d%H%M%S").replace(tzinfo=UTC)
    except ValueError:
        return False
    begins, ends = _validity(certificate)
    return begins <= moment <= ends


@lru_cache(maxsize=16)
def _validity(certificate: bytes) -> tuple[datetime, datetime]:
    read = x509.Certificate.load(certificate)
    return read.not_valid_before, read.not_valid_after


def _is_seal(written: bytes, digest: bytes, certificate: bytes, verify: Verify) -> bool:
    """Whether these are, to the last zero of their padding, the bytes of a valid seal over this digest."""
    for length in _LENGTHS:
        frame = _frame(certificate, length)
        around = frame.before + digest + frame.behind
        start = 1 + 2 * len(around)
        if written[:start] != b"<" + around.hex().upper().encode():
            continue
        signature = written[start : start + 2 * length]
        if written[start:] != signature.ljust(len(written) - start - 1, b"0") + b">":
            return False
        try:
            made = bytes.fromhex(signature.decode())
        except ValueError:
            return False
        one_form = made.hex().upper().encode() == signature
        return one_form and verify(made, frame.signed_before + digest + frame.signed_behind)
    return False


@lru_cache(maxsize=64)
def _frame(certificate: bytes, length: int) -> _Frame:
    """Taken from a seal that is really made, over a mark in the digest's place, by a signature of zeros."""
    signed: list[bytes] = []

    def sign(content: bytes) -> bytes:
        signed.append(content)
        return bytes(length)

    made = structure(Sealer(certificate=certificate, sign=sign), _MARK)
    before, behind = made.removesuffix(bytes(length)).split(_MARK)
    signed_before, signed_behind = signed[-1].split(_MARK)
    return _Frame(before, behind, signed_before, signed_behind)

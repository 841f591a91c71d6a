"""A quick yes to a stored record's file, where everything that it rests on was found to hold in the same run.

Of a check of which nothing was found wrong so far is known: its comparisons are what its readings come to;
its frozen record is, byte for byte, made again from its rows, and so in its one form; and each stored
signature is over it. So it is enough that the file is sealed as we write it and that exactly those bytes are
attached; what only the file has, its places in the log and what the log says of the signers' keys, is looked
into as ever.

There is no quick no: whatever is not recognised here is verified in full, which names what is wrong.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial

from app.auditing.recomputing import Stored
from app.auditing.verifying import PublicMaterial, in_log, issued, signatures_in
from app.auditing.verifying_signatures import SignedBy
from app.comparison import ENGINE_VERSION
from app.keys import is_signed_for_seal
from app.records.kept import LETTER_OF, PRIMING, KeptPdf
from app.reports.attachments import PROOF, RECORD, RENDERER, SIGNATURES
from app.reports.record_file import RecordFile, record_of
from app.reports.seal import certificates_in
from app.reports.seal_as_written import attachments_of_sealed, is_sealed_as_written


@dataclass
class Recognised:
    """The site's certificates by which a file of this run was already verified in full; it begins with none.

    What is asked of a certificate itself, such as what it may be used for, is asked only there.
    """

    certificates: set[bytes] = field(default_factory=set)

    def holds(self, pdf: KeptPdf, stored: Stored, material: PublicMaterial) -> bool:
        """Whether this file holds in every point but its pages; nothing else of its check may be wrong."""
        attached = self._attached(pdf.content)
        if attached is None or attached != _expected(pdf, stored, attached):
            return False
        compared = (each for each in stored.loaded.comparisons if each.subject != PRIMING)
        if any(each.engine != ENGINE_VERSION for each in compared):
            return False
        file = record_of(pdf.content, attached)
        return isinstance(file, RecordFile) and _holds_by_log(file, pdf, material)

    def learn(self, content: bytes, certificates: str) -> None:
        """From a file that was verified in full, by one of these certificates (PEM)."""
        unknown = set(certificates_in(certificates)) - self.certificates
        self.certificates |= {each for each in unknown if _is_sealed(content, each)}

    def _attached(self, content: bytes) -> Mapping[str, bytes] | None:
        sealed = any(_is_sealed(content, each) for each in self.certificates)
        return attachments_of_sealed(content) if sealed else None


def _is_sealed(content: bytes, certificate: bytes) -> bool:
    return is_sealed_as_written(content, certificate, partial(is_signed_for_seal, certificate))


def _expected(pdf: KeptPdf, stored: Stored, attached: Mapping[str, bytes]) -> dict[str, bytes]:
    """What must be attached: the stored record, both stored signatures, and a proof."""
    records = {each.edition: each.document for each in stored.frozen}
    signed = {each.slot: each.jws for each in stored.signatures if each.edition == pdf.edition}
    return {
        RECORD: records.get(pdf.edition, b""),
        PROOF: attached.get(PROOF, b""),
        # Whichever renderer it names: without the pages it is asked for nothing.
        **{name: content for name, content in attached.items() if name == RENDERER},
        **{SIGNATURES[letter]: signed.get(slot, "").encode() for slot, letter in LETTER_OF.items()},
    }


def _holds_by_log(file: RecordFile, pdf: KeptPdf, material: PublicMaterial) -> bool:
    signed = signatures_in(file, material)
    return (
        (file.document["record"], file.document["edition"]) == (pdf.check, pdf.edition)
        and all(isinstance(each, SignedBy) for each in signed.values())
        and issued(file, material).holds is True
        and in_log(file, material, signed).holds is True
    )

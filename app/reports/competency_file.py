"""The signed record of somebody's checks on training cards, as a file: what travels inside its PDF.

Attached are `competency.json`, the bytes that both signed and that the pages are made from; `log-proof.json`,
the trainer's entry in the log and those about both signers' keys; `renderer.json`, which renderer made the
pages; and the two signatures over those bytes.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from app.records.checkpoint import Unreadable
from app.records.formats import COMPETENCY as FORMAT
from app.reports.attachments import (
    PROOF,
    RENDERER,
    Attached,
    LogProof,
    Relationship,
    attached_proof,
    attached_signature,
    read_proof,
    renderer_of,
)
from app.reports.record_file import NotARecord, document_of

COMPETENCY = "competency.json"
HOLDER, TRAINER = "holder", "trainer"
SIGNED_BY = {HOLDER: "signature-holder.jws", TRAINER: "signature-trainer.jws"}


@dataclass(frozen=True, kw_only=True)
class CompetencyFile:
    """One record, opened; nothing is believed of it yet. Signatures are by who signed: holder, trainer."""

    content: bytes
    written: bytes
    document: dict[str, Any]
    signatures: Mapping[str, str]
    proof: LogProof | None
    renderer: bytes
    # As the library opened it.
    reader: Any = field(repr=False, compare=False)


def attachments_of(
    document: bytes, *, signatures: Mapping[str, str], proof: LogProof | None, renderer: bytes, at: datetime
) -> tuple[Attached, ...]:
    """What is attached to the pages, by name."""
    record = Attached(
        name=COMPETENCY,
        content=document,
        media_type="application/json",
        relationship=Relationship.DATA,
        description="The record as data: the bytes that both signed (RFC 8785)",
        at=at,
    )
    signed = [
        attached_signature(SIGNED_BY[who], signature, f"Signature of the {who} over {COMPETENCY}", at)
        for who in SIGNED_BY
        if (signature := signatures.get(who))
    ]
    proofs = [attached_proof(proof, at)] if proof else []
    return (record, *proofs, renderer_of(renderer, at), *signed)


def competency_of(
    content: bytes,
    attached: Mapping[str, bytes],
    *,
    reader: Any = None,  # noqa: ANN401  # the library's own
) -> CompetencyFile | NotARecord:
    """Such a PDF, taken apart."""
    document = document_of(attached.get(COMPETENCY, b""), FORMAT)
    if isinstance(document, NotARecord):
        return document
    proof = read_proof(attached.get(PROOF, b""))
    return CompetencyFile(
        content=content,
        written=attached[COMPETENCY],
        document=document,
        signatures={
            who: attached[name].decode("ascii", "replace")
            for who, name in SIGNED_BY.items()
            if name in attached
        },
        proof=None if isinstance(proof, Unreadable) else proof,
        renderer=attached.get(RENDERER, b""),
        reader=reader,
    )

"""Verify the signed record of somebody's checks on training cards, from its file alone."""

from collections.abc import Mapping
from datetime import UTC
from typing import Any

from app.auditing.verifying_contents import OTHER_RENDERER, same_pages
from app.auditing.verifying_keys import event_at
from app.auditing.verifying_signatures import NO_PROOF, NO_SIGNATURE, NotSigned, SignedBy, signed_by
from app.people import is_same_name
from app.records.canonical import canonical, digest
from app.records.training_events import CompetencyReviewed
from app.records.verification import Answer, Question
from app.reports.competency_file import HOLDER, TRAINER, CompetencyFile
from app.reports.competency_record import CompetencySignature, render_competency
from app.reports.renderer import is_this_renderer

_SAME_PERSON = NotSigned(says="The trainer's signature is by the person whose record it is.")
Signatures = Mapping[str, SignedBy | NotSigned]


def is_whole(file: CompetencyFile) -> Answer:
    """Whether the attached document is written in its one form."""
    whole = canonical(file.document) == file.written
    says = (
        f"Its SHA-256 is {digest(file.written)}."
        if whole
        else "What is attached is not written in the one form in which records are signed (RFC 8785)."
    )
    return Answer(question=Question.RECORD, holds=whole, says=says)


def signatures_of(file: CompetencyFile) -> Signatures:
    """Both; the checkpoint of the proof has to be the site's."""
    holder = _signature(file, HOLDER, named=file.document["holder"])
    trainer = _signature(file, TRAINER, named=None)
    if isinstance(trainer, SignedBy) and _is_holder(trainer, file.document["holder"]):
        trainer = _SAME_PERSON
    return {HOLDER: holder, TRAINER: trainer}


def _signature(file: CompetencyFile, who: str, *, named: Mapping[str, Any] | None) -> SignedBy | NotSigned:
    signature = file.signatures.get(who)
    if signature is None:
        return NO_SIGNATURE
    if file.proof is None:
        return NO_PROOF
    return signed_by(signature, file.written, file.document, file.proof, named=named)


def _is_holder(trainer: SignedBy, holder: Mapping[str, Any]) -> bool:
    return trainer.header.user_id == holder["person"] or is_same_name(
        trainer.header.printed_name, str(holder["printed_name"])
    )


def is_in_log(file: CompetencyFile, signed: Signatures, *, is_signed: bool) -> Answer:
    """Whether the trainer's signature stands in the log as one; `is_signed`: under the site's word."""
    proof, trainer = file.proof, signed[TRAINER]
    if proof is None:
        says = "The file does not show a place in the log."
    elif not is_signed:
        says = "The checkpoint inside the file is not signed by this site."
    elif not isinstance(trainer, SignedBy) or not _is_about(
        event_at(proof.place, proof.checkpoint, CompetencyReviewed), file, trainer
    ):
        says = "The entry shown is not in the log, or is not about a trainer's signature on this record."
    else:
        says = f"It is entry {proof.place.position} of {proof.checkpoint.size}."
        return Answer(question=Question.REVIEWED, holds=True, says=says)
    return Answer(question=Question.REVIEWED, holds=False, says=says)


def _is_about(said: Mapping[str, Any] | None, file: CompetencyFile, trainer: SignedBy) -> bool:
    return said is not None and (
        (said["record"], said["edition"], said["digest"], said["kid"], said["signature"])
        == (
            file.document["record"],
            file.document["edition"],
            digest(file.written),
            trainer.header.kid,
            trainer.signature,
        )
    )


def pages_of(file: CompetencyFile, signed: Signatures) -> Answer:
    """Whether the pages made again from what is attached are the file's; they show both signatures."""
    both = {who: found for who, found in signed.items() if isinstance(found, SignedBy)}
    if len(both) < len(signed):
        says = "Not shown: the pages carry both signatures, and not both of them hold."
        return Answer(question=Question.PAGES, holds=False, says=says)
    if not is_this_renderer(file.renderer):
        return Answer(question=Question.PAGES, holds=None, says=OTHER_RENDERER)
    shown = {who: _shown(found) for who, found in both.items()}
    return same_pages(
        file.content, lambda: render_competency(file.document, signatures=shown, proof=file.proof)
    )


def _shown(found: SignedBy) -> CompetencySignature:
    return CompetencySignature(
        printed_name=found.header.printed_name,
        # As it is stored, and so as the pages were made: the header has the offset of the site.
        signed_at=found.header.signed_at.astimezone(UTC),
        meaning=found.header.meaning,
        jws=found.signature,
    )

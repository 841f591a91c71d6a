"""Verify a record from its file, the site's public file and a checkpoint; nothing else is trusted."""

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC
from functools import partial
from typing import Any

from app.auditing import verifying_competency as competency
from app.auditing.verifying_contents import computed_again, pages_say_the_same
from app.auditing.verifying_followed import is_in_log, is_whole, pages_of
from app.auditing.verifying_keys import event_at
from app.auditing.verifying_signatures import NotSigned, SignedBy, signature_of
from app.base.damage import Damaged, read_or_damaged
from app.keys import Purpose, is_signed_in_time, read_public_file
from app.records.canonical import canonical, digest
from app.records.checkpoint import Checkpoint, CheckpointFile, Place, Unreadable, read_file
from app.records.events import RecordIssued, Signed, WhatFollowedIssued
from app.records.kept import LETTER_OF, A, B
from app.records.training_events import CompetencyIssued
from app.records.verification import About, Answer, NotReadable, Question, Verification
from app.reports.attachments import SIGNATURES
from app.reports.competency_file import HOLDER, TRAINER, CompetencyFile
from app.reports.followed_file import FollowedFile, open_document
from app.reports.record import RecordSignature
from app.reports.record_file import NotARecord, RecordFile
from app.reports.seal import SealBroken, SealHolds, check_seal

NO_CERTIFICATE = "The site's public file holds no certificate of a seal."
STOLEN = "Its key was declared stolen from before then on, and the log knows no such file."
NO_CHECKPOINT = "The checkpoint file cannot be read."

_OF_LETTER = {A: Question.SIGNATURE_A, B: Question.SIGNATURE_B}
Signatures = Mapping[str, SignedBy | NotSigned]
SealedFile = RecordFile | FollowedFile | CompetencyFile
_ABOUT = {RecordFile: About.RECORD, FollowedFile: About.FOLLOWED, CompetencyFile: About.COMPETENCY}
_ISSUED = {RecordFile: RecordIssued, FollowedFile: WhatFollowedIssued, CompetencyFile: CompetencyIssued}


@dataclass(frozen=True, kw_only=True)
class PublicMaterial:
    """What a site hands to whoever verifies: its certificates (PEM, old ones included) and a checkpoint."""

    certificates: str
    checkpoint: CheckpointFile


def read_material(site: bytes, checkpoint: bytes) -> PublicMaterial | NotReadable:
    """The site's public file (`site.pem`) and its checkpoint file (`checkpoint.json`)."""
    certificates = site.decode("ascii", "replace")
    known = read_or_damaged(lambda: read_public_file(certificates))
    if isinstance(known, Damaged) or not any(each.purpose is Purpose.SEAL for each in known):
        return NotReadable(why=NO_CERTIFICATE)
    read = read_or_damaged(lambda: read_file(checkpoint))
    if isinstance(read, Damaged):
        return NotReadable(why=NO_CHECKPOINT)
    if isinstance(read, Unreadable):
        return NotReadable(why=f"{NO_CHECKPOINT[:-1]}: {read.says}." if read.says else NO_CHECKPOINT)
    return PublicMaterial(certificates=certificates, checkpoint=read)


def verify_file(
    content: bytes, material: PublicMaterial, *, pages: bool = True
) -> Verification | NotReadable:
    """Put every question to a record's PDF, or to that of what followed one; each is put, whatever fails.

    Without `pages` the one about the pages is left out: making them again takes most of the time.
    """
    file = read_or_damaged(lambda: open_document(content))
    if isinstance(file, Damaged):
        return NotReadable(why=NotARecord().says)
    if isinstance(file, NotARecord):
        return NotReadable(why=file.says)
    return verify_opened(file, material, pages=pages)


def verify_opened(file: SealedFile, material: PublicMaterial, *, pages: bool = True) -> Verification:
    """The same of a file that was opened before."""
    match file:
        case FollowedFile():
            answers = _answers_of_what_followed(file, material, pages=pages)
        case CompetencyFile():
            answers = _answers_of_competency(file, material, pages=pages)
        case _:
            answers = _answers(file, material, pages=pages)
    return Verification(
        record=file.document["record"],
        edition=file.document["edition"],
        answers=tuple(answers),
        about=_ABOUT[type(file)],
        superseded_by=_superseded_by(file, material),
    )


def _answers_of_what_followed(
    file: FollowedFile, material: PublicMaterial, *, pages: bool
) -> Iterator[Answer]:
    yield _asked(Question.SEAL, lambda: _seal(file, material))
    yield _asked(Question.ISSUED, lambda: issued(file, material))
    yield _asked(Question.FOLLOWED, lambda: is_whole(file))
    yield _asked(Question.EVENTS, lambda: _tells_the_log(file, material))
    if pages:
        yield _asked(Question.PAGES, lambda: pages_of(file))


def _answers_of_competency(
    file: CompetencyFile, material: PublicMaterial, *, pages: bool
) -> Iterator[Answer]:
    yield _asked(Question.SEAL, lambda: _seal(file, material))
    yield _asked(Question.ISSUED, lambda: issued(file, material))
    yield _asked(Question.RECORD, lambda: competency.is_whole(file))
    is_signed = read_or_damaged(
        lambda: file.proof is not None and _shown_by_site(file.proof.checkpoint, file, material)
    )
    proved = file if is_signed is True else replace(file, proof=None)
    signed = read_or_damaged(lambda: competency.signatures_of(proved))
    if isinstance(signed, Damaged):
        signed = dict.fromkeys((HOLDER, TRAINER), NotSigned(says=signed.says))
    for who, question in ((HOLDER, Question.HOLDER), (TRAINER, Question.TRAINER)):
        found = signed[who]
        yield Answer(question=question, holds=isinstance(found, SignedBy), says=found.says)
    yield _asked(Question.REVIEWED, lambda: competency.is_in_log(file, signed, is_signed=is_signed is True))
    if pages:
        yield _asked(Question.PAGES, lambda: competency.pages_of(file, signed))


def _tells_the_log(file: FollowedFile, material: PublicMaterial) -> Answer:
    is_signed = file.shown is not None and _shown_by_site(file.shown.checkpoint, file, material)
    return is_in_log(file, is_signed=is_signed)


def _answers(file: RecordFile, material: PublicMaterial, *, pages: bool) -> Iterator[Answer]:
    yield _asked(Question.SEAL, lambda: _seal(file, material))
    yield _asked(Question.ISSUED, lambda: issued(file, material))
    yield _asked(Question.RECORD, lambda: _record(file))
    signed = signatures_in(file, material)
    for letter, found in signed.items():
        yield Answer(question=_OF_LETTER[letter], holds=isinstance(found, SignedBy), says=found.says)
    yield _asked(Question.LOG, lambda: in_log(file, material, signed))
    if pages:
        yield _asked(Question.PAGES, lambda: _pages(file, signed))
    yield _asked(Question.COMPUTED, lambda: computed_again(file.document))


def _asked(question: Question, answer: Callable[[], Answer]) -> Answer:
    """The answer to one question; what it is about may be damaged, and all others are asked all the same."""
    found = read_or_damaged(answer)
    return Answer(question=question, holds=False, says=found.says) if isinstance(found, Damaged) else found


def _seal(file: SealedFile, material: PublicMaterial) -> Answer:
    found = check_seal(file.content, material.certificates, opened=file.reader)
    if not isinstance(found, SealBroken) and _is_by_thief(found, file, material):
        found = SealBroken(why=STOLEN)
    if isinstance(found, SealBroken):
        return Answer(question=Question.SEAL, holds=False, says=found.why)
    at = found.sealed_at.isoformat(timespec="seconds")
    says = f"Sealed at {at}, by the site's own clock; nothing was changed since."
    return Answer(question=Question.SEAL, holds=True, says=says)


def _is_by_thief(seal: SealHolds, file: SealedFile, material: PublicMaterial) -> bool:
    """Whether it was sealed when the key was in other hands; what the log has is the site's even then."""
    known = read_public_file(material.certificates)
    stolen = any(
        each.certificate.startswith(seal.certificate) and each.is_stolen(seal.sealed_at) for each in known
    )
    return stolen and issued(file, material).holds is not True


def issued(file: SealedFile, material: PublicMaterial) -> Answer:
    """The outside checkpoint's word for the whole file: a seal could be made twice over the same pages."""
    checkpoint, place = material.checkpoint.checkpoint, material.checkpoint.issued.get(digest(file.content))
    if not _signed_by_site(checkpoint, material):
        says = "The checkpoint given is not signed by this site."
    elif place is None:
        says = f"The log, as of {_when(checkpoint)}, knows no file with this digest."
    elif not _is_issue_of(place, checkpoint, file):
        says = "The log's entry for this file does not lead to the checkpoint, or is about another record."
    else:
        size = checkpoint.size
        says = f"It is entry {place.position} of the log, which had {size} entries at {_when(checkpoint)}."
        return Answer(question=Question.ISSUED, holds=True, says=says)
    return Answer(question=Question.ISSUED, holds=False, says=says)


def _superseded_by(file: SealedFile, material: PublicMaterial) -> int:
    """The newest later edition that the checkpoint at hand shows to be issued; 0 where there is none."""
    checkpoint = material.checkpoint.checkpoint
    if read_or_damaged(partial(_signed_by_site, checkpoint, material)) is not True:
        return 0
    later = (
        read_or_damaged(partial(_edition_of, each, checkpoint, file.document["record"]))
        for each in material.checkpoint.issued.values()
    )
    newest = max((each for each in later if isinstance(each, int)), default=0)
    return newest if newest > file.document["edition"] else 0


def _edition_of(place: Place, checkpoint: Checkpoint, record: str) -> int:
    """Which edition of this record was issued there; 0 for another's."""
    # Most places are of other records: they need not even be read.
    if record.encode() not in place.leaf or json.loads(place.leaf).get("check") != record:
        return 0
    said = event_at(place, checkpoint, RecordIssued)
    return int(said["edition"]) if said else 0


def _is_issue_of(place: Place, checkpoint: Checkpoint, file: SealedFile) -> bool:
    said = event_at(place, checkpoint, _ISSUED[type(file)])
    return (
        said is not None
        and said["pdf_digest"] == digest(file.content)
        and said["edition"] == file.document["edition"]
        and said.get("record", json.loads(place.leaf)["check"]) == file.document["record"]
    )


def _record(file: RecordFile) -> Answer:
    whole = canonical(file.document) == file.record
    says = (
        f"Its SHA-256 is {file.record_digest}."
        if whole
        else "The attached record is not written in the one form in which records are signed (RFC 8785)."
    )
    return Answer(question=Question.RECORD, holds=whole, says=says)


def signatures_in(file: RecordFile, material: PublicMaterial) -> Signatures:
    """Both signatures by their letters; a proof whose checkpoint the site did not sign shows no key."""
    proof = file.proof
    asked_of = proof and partial(_shown_by_site, proof.checkpoint, file, material)
    proved = file if asked_of and read_or_damaged(asked_of) is True else replace(file, proof=None)
    asked = {letter: read_or_damaged(partial(signature_of, letter, proved)) for letter in SIGNATURES}
    return {
        letter: NotSigned(says=found.says) if isinstance(found, Damaged) else found
        for letter, found in asked.items()
    }


def in_log(file: RecordFile, material: PublicMaterial, signed: Signatures) -> Answer:
    """The place in the log that the file itself shows, for one of the two signatures."""
    proof = file.proof
    if proof is None:
        says = "The file does not show a place in the log."
    elif not _shown_by_site(proof.checkpoint, file, material):
        says = "The checkpoint inside the file is not signed by this site."
    elif not _is_about(event_at(proof.place, proof.checkpoint, Signed), file, signed):
        says = "The entry shown is not in the log, or is not about a signature on this record."
    else:
        size = proof.checkpoint.size
        says = (
            f"It is entry {proof.place.position} of {size}, as the site signed at {_when(proof.checkpoint)}."
        )
        return Answer(question=Question.LOG, holds=True, says=says)
    return Answer(question=Question.LOG, holds=False, says=says)


def _is_about(said: Mapping[str, Any] | None, file: RecordFile, signed: Signatures) -> bool:
    """Whether a log entry tells of one of the two signatures in the file."""
    found = signed.get(LETTER_OF.get(said["slot"], "")) if said else None
    return (
        said is not None
        and isinstance(found, SignedBy)
        and said["edition"] == file.document["edition"]
        and said["digest"] == file.record_digest
        and said["kid"] == found.header.kid
        and said["signature"] == digest(found.signature.encode())
    )


def _pages(file: RecordFile, signed: Signatures) -> Answer:
    """The pages show both signatures, so they can be made again only where both hold."""
    both = {letter: found for letter, found in signed.items() if isinstance(found, SignedBy)}
    if len(both) < len(signed):
        says = "Not shown: the pages carry both signatures, and not both of them hold."
        return Answer(question=Question.PAGES, holds=False, says=says)
    return pages_say_the_same(
        file,
        tuple(
            RecordSignature(
                letter=letter,
                printed_name=found.header.printed_name,
                person=found.header.user_id,
                # As it is stored, and so as the pages were made: the header has the offset of the site.
                signed_at=found.header.signed_at.astimezone(UTC),
                meaning=found.header.meaning,
                jws=found.signature,
            )
            for letter, found in both.items()
        ),
    )


def _signed_by_site(checkpoint: Checkpoint, material: PublicMaterial) -> bool:
    return is_signed_in_time(checkpoint, read_public_file(material.certificates))


def _shown_by_site(checkpoint: Checkpoint, file: SealedFile, material: PublicMaterial) -> bool:
    """Of a checkpoint inside a file: one by a stolen key counts where the log knows the file."""
    if _signed_by_site(checkpoint, material):
        return True
    known = read_public_file(material.certificates)
    stolen = is_signed_in_time(checkpoint, known, though_stolen=True)
    return stolen and issued(file, material).holds is True


def _when(checkpoint: Checkpoint) -> str:
    return checkpoint.at.isoformat(timespec="seconds")

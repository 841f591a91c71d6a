"""A quick yes to a record's file beside the long way; for each thing that it rests on, a file without it."""

import io
from collections.abc import Callable
from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any

import pikepdf
import pytest

from app.auditing.recomputing import Logged, Stored
from app.auditing.verifying import PublicMaterial, verify_file
from app.auditing.verifying_quickly import Recognised
from app.comparison import ENGINE_VERSION
from app.keys import public_file
from app.records.canonical import digest
from app.records.checkpoint import CheckpointFile, Place
from app.records.kept import FIRST, PRIMING, SECOND, SOURCES, FrozenRecord, KeptPdf, KeptSignature
from app.records.key_chain import KeyHistory
from app.records.names import NamesInLog
from app.records.verification import Verification
from app.reports.attachments import LogProof, proof_content
from app.reports.seal import seal_pdf
from tests.reports import sealed
from tests.reports.signed_log import SEALED_AT


@dataclass(frozen=True, kw_only=True)
class Case:
    """A file, what is stored beside it, and what the site hands out."""

    pdf: KeptPdf
    stored: Stored
    material: PublicMaterial
    verified: bytes

    @property
    def holds(self) -> bool:
        """The quick answer, once a file of this site was verified in full."""
        recognised = Recognised()
        recognised.learn(self.verified, self.material.certificates)
        assert recognised.certificates
        return recognised.holds(self.pdf, self.stored, self.material)

    @property
    def holds_in_full(self) -> bool:
        """The answer of the long way."""
        found = verify_file(self.pdf.content, self.material, pages=False)
        return isinstance(found, Verification) and found.holds


def case_of(story: sealed.Story, content: bytes) -> Case:
    """A file that the log says was issued, beside the rows of the record in the story."""
    document = story.document
    record = FrozenRecord(
        check=document["record"], edition=1, at=SEALED_AT, document=story.record, digest=digest(story.record)
    )
    signed = tuple(
        _signature(story, each.jws, slot)
        for slot, each in zip((FIRST, SECOND), story.signatures, strict=True)
    )
    log = replace(story.log, entries=list(story.log.entries))
    kept = KeptPdf(
        check=document["record"], edition=1, content=content, digest=digest(content), issued_at=SEALED_AT
    )
    material = PublicMaterial(
        certificates=public_file(story.keys.known), checkpoint=log.issued(document, content)
    )
    return Case(pdf=kept, stored=_stored(record, signed), material=material, verified=story.sealed)


def _signature(story: sealed.Story, jws: str, slot: int) -> KeptSignature:
    return KeptSignature(
        check=story.document["record"],
        edition=1,
        slot=slot,
        person="",
        printed_name="",
        digest=digest(story.record),
        meaning="",
        signed_at=SEALED_AT,
        session="",
        device="",
        signed_in_at=SEALED_AT,
        kid="",
        jws=jws,
    )


def _stored(record: FrozenRecord, signed: tuple[KeptSignature, ...], engine: str = ENGINE_VERSION) -> Stored:
    compared = (
        SimpleNamespace(subject=SOURCES, engine=engine),
        SimpleNamespace(subject=PRIMING, engine=engine),
    )
    rest: Any = {
        "site": None,
        "entries": (),
        "known": {},
        "participants": (),
        "readings": (),
        "helpers": (),
        "pdfs": {},
        "followed": (),
    }
    loaded: Any = SimpleNamespace(comparisons=compared)
    log = Logged(keys=KeyHistory(), names=NamesInLog())
    return Stored(loaded=loaded, frozen=(record,), signatures=signed, log=log, **rest)


def sealed_with(story: sealed.Story, unsealed: bytes) -> bytes:
    return seal_pdf(unsealed, sealed.sealer_of(story.keys), at=SEALED_AT, place=sealed.SITE)


def with_proof(story: sealed.Story, proof: LogProof) -> Case:
    """The same pages with another proof attached, under the site's own seal."""
    return with_attachment(story, "log-proof.json", proof_content(proof))


def with_attachment(story: sealed.Story, name: str, content: bytes) -> Case:
    with pikepdf.open(io.BytesIO(story.unsealed)) as pdf:
        if name in pdf.attachments:
            pdf.attachments[name].get_file().obj.write(content)
        else:
            pdf.attachments[name] = pikepdf.AttachedFileSpec(pdf, content)
        output = io.BytesIO()
        pdf.save(output)
    return case_of(story, sealed_with(story, output.getvalue()))


def test_a_file_as_issued_holds_quickly_and_in_full(story: sealed.Story) -> None:
    case = case_of(story, story.sealed)
    assert case.holds
    assert case.holds_in_full


def test_a_later_edition_does_not_matter(story: sealed.Story) -> None:
    case = case_of(story, story.sealed)
    (record,), signed = case.stored.frozen, case.stored.signatures
    later = replace(
        case.stored,
        frozen=(record, replace(record, edition=2, document=b"{}")),
        signatures=(*signed, *(replace(each, edition=2, jws="") for each in signed)),
    )
    assert replace(case, stored=later).holds


def test_a_certificate_that_no_file_was_verified_by_is_not_known(story: sealed.Story) -> None:
    case = case_of(story, story.sealed)
    assert not Recognised().holds(case.pdf, case.stored, case.material)
    knows = Recognised()
    knows.learn(story.unsealed, case.material.certificates)
    assert not knows.holds(case.pdf, case.stored, case.material)


def _of_another_record(story: sealed.Story) -> Case:
    """Everything about the file is as it should be; the rows are another's."""
    case = case_of(story, story.sealed)
    (record,) = case.stored.frozen
    return replace(
        case, stored=replace(case.stored, frozen=(replace(record, document=record.document + b" "),))
    )


def _of_another_signature(story: sealed.Story) -> Case:
    case = case_of(story, story.sealed)
    first, second = case.stored.signatures
    return replace(case, stored=replace(case.stored, signatures=(first, replace(second, jws=first.jws))))


def _of_another_edition(story: sealed.Story) -> Case:
    case = case_of(story, story.sealed)
    (record,) = case.stored.frozen
    again = replace(
        case.stored,
        frozen=(replace(record, edition=2),),
        signatures=tuple(replace(each, edition=2) for each in case.stored.signatures),
    )
    return replace(case, pdf=replace(case.pdf, edition=2), stored=again)


def _of_another_check(story: sealed.Story) -> Case:
    case = case_of(story, story.sealed)
    return replace(case, pdf=replace(case.pdf, check="check-2"))


def _of_an_earlier_engine(story: sealed.Story) -> Case:
    case = case_of(story, story.sealed)
    (record,) = case.stored.frozen
    return replace(case, stored=_stored(record, case.stored.signatures, engine="0.0.9"))


def _placed(story: sealed.Story, change: Callable[[Place], Place]) -> Case:
    case = case_of(story, story.sealed)
    file = case.material.checkpoint
    issued = {name: change(place) for name, place in file.issued.items()}
    return replace(case, material=replace(case.material, checkpoint=replace(file, issued=issued)))


def _not_issued(story: sealed.Story) -> Case:
    case = case_of(story, story.sealed)
    file = CheckpointFile(checkpoint=case.material.checkpoint.checkpoint, issued={})
    return replace(case, material=replace(case.material, checkpoint=file))


def _under_another_checkpoint(story: sealed.Story) -> Case:
    case = case_of(story, story.sealed)
    file = case.material.checkpoint
    forged = replace(file, checkpoint=replace(file.checkpoint, size=file.checkpoint.size + 1))
    return replace(case, material=replace(case.material, checkpoint=forged))


def _signed_later(story: sealed.Story) -> Case:
    """The entry shown is in the log, but about a key."""
    return with_proof(story, replace(story.proof, place=story.proof.keys[0].made))


def _with_an_unconfirmed_key(story: sealed.Story) -> Case:
    """The first nurse's: the place in the log is that of the second signature, and still holds."""
    *others, first, second = story.proof.keys
    unconfirmed = replace(first, confirmed=first.made)
    return with_proof(story, replace(story.proof, keys=(*others, unconfirmed, second)))


# Not by the bytes: by what is stored beside them. The long way asks for the file alone, and finds nothing.
OTHER_ROWS: dict[str, Callable[[sealed.Story], Case]] = {
    "another record": _of_another_record,
    "another signature": _of_another_signature,
    "another edition": _of_another_edition,
    "another check": _of_another_check,
    "an earlier engine": _of_an_earlier_engine,
}
OTHER_FILES: dict[str, Callable[[sealed.Story], Case]] = {
    "not issued": _not_issued,
    "another place in the log": lambda story: _placed(
        story, lambda place: replace(place, position=place.position - 1)
    ),
    "a checkpoint of nobody": _under_another_checkpoint,
    "a proof about something else": _signed_later,
    "a key that nobody confirmed": _with_an_unconfirmed_key,
    "one byte more": lambda story: case_of(story, story.sealed + b"\n"),
    "not sealed": lambda story: case_of(story, story.unsealed),
    "another record attached": lambda story: with_attachment(story, "record.json", story.record + b" "),
    "another signature attached": lambda story: with_attachment(
        story, "signature-B.jws", story.signatures[0].jws.encode()
    ),
    "no proof attached": lambda story: with_attachment(story, "log-proof.json", b"{}"),
}


@pytest.mark.parametrize("what", OTHER_ROWS)
def test_a_file_that_is_not_that_of_the_rows_goes_the_long_way(story: sealed.Story, what: str) -> None:
    case = OTHER_ROWS[what](story)
    assert not case.holds
    assert case.holds_in_full


@pytest.mark.parametrize("what", OTHER_FILES)
def test_what_does_not_hold_in_full_does_not_hold_quickly(story: sealed.Story, what: str) -> None:
    case = OTHER_FILES[what](story)
    assert not case.holds_in_full
    assert not case.holds


def test_a_file_with_something_more_attached_goes_the_long_way(story: sealed.Story) -> None:
    case = with_attachment(story, "more.txt", b"more")
    assert not case.holds
    assert case.holds_in_full

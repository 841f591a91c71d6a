"""Many records for measuring: one check that was really played, copied under ids of its own.

Every copy has its own readings, record, signatures and seal, made with the real keys, and its own entries in
the log. Only the pages are those of the first: rendering a thousand would take minutes and measure nothing.
"""

import io
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import pikepdf

from app.auditing.recomputing import Stored, load_stored, logged
from app.base import Act, Actor, Method
from app.keys import RecordHeader, open_envelope, seal
from app.keys.personal import _opened
from app.keys.seal_signing import sign_for_seal
from app.keys.signatures import SigningKey, record_header, sign_detached_with
from app.records import events
from app.records.canonical import canonical, digest
from app.records.kept import Entry, FrozenRecord, KeptInfusion, KeptPdf, KeptReading, KeptSignature
from app.records.sealed import reading_context
from app.records.state import Phase
from app.reports.attachments import PROOF, RECORD, SIGNATURES, LogProof, proof_content
from app.reports.seal import Sealer, seal_pdf
from app.site.installation import KeysUnusable, usable_site_keys
from app.storage import Transaction
from app.workflow.issuing import Issued, _signed_record, issue_record, proof_of
from tests.factories.enrolled import key_of
from tests.story.people import EVERYBODY
from tests.story.ward import Ward

SITE = "Larkmoor General Hospital (invented)"


@dataclass
class Copier:
    """Plays one check to its start, issues its record, and copies both."""

    ward: Ward
    # What was signed, for a floor of the same work: message and signature of seals; bytes of records and JWS.
    seals: list[tuple[bytes, bytes]] = field(default_factory=list)
    signatures: list[tuple[str, bytes, str]] = field(default_factory=list)
    files: list[bytes] = field(default_factory=list)

    def __post_init__(self) -> None:
        ward = self.ward
        check = ward.at_stage(Phase.STARTED).check
        assert isinstance(issue_record(ward.site, check, 1, ward.wait().now), Issued)
        keys = usable_site_keys(ward.site, ward.now)
        assert not isinstance(keys, KeysUnusable)
        self.keys = keys
        with ward.site.store.read() as reader:
            stored = load_stored(ward.site, reader, check, now=ward.now, log=logged(reader))
        assert stored is not None
        self.stored: Stored = stored
        pdf = stored.pdfs[1]
        assert pdf is not None
        self.rendered = _unsealed(pdf.content)
        self._private = self._unlocked()

    def copy(self, number: int) -> None:
        """One more check like the first, up to its start."""
        check, infusion = f"{number:08x}{'c' * 24}", f"{number:08x}{'1' * 24}"
        with self.ward.site.store.write() as tx:
            kept = self.stored.loaded.state.check
            tx.add_infusion(KeptInfusion(id=infusion, unit=kept.unit, bed=kept.bed, opened_at=kept.opened_at))
            tx.add_check(replace(kept, id=check, infusion=infusion))
            for each in self.stored.entries:
                if not isinstance(each.event, events.RecordIssued):
                    event = self._with_row(tx, each.event, check, infusion)
                    _append(tx, each, event, check=check, infusion=infusion)

    def issue(self, number: int) -> None:
        """Its PDF: the first one's pages with its own attachments, sealed."""
        site, now, check = self.ward.site, self.ward.now, f"{number:08x}{'c' * 24}"
        with site.store.read() as reader:
            signed = _signed_record(reader, check, 1)
        assert signed is not None
        kids = [each.kid for each in signed.signatures]
        proof = proof_of(site, self.keys, kids, position=signed.cleared_at, now=now)
        assert isinstance(proof, LogProof)
        attached = {RECORD: signed.frozen.document, PROOF: proof_content(proof)}
        for letter, each in zip(SIGNATURES, signed.signatures, strict=True):
            attached[SIGNATURES[letter]] = each.jws.encode()
            key = self.stored.log.keys.find_made(each.kid)
            assert key is not None
            self.signatures.append((key.public, signed.frozen.document, each.jws))
        sealer = Sealer(certificate=self.keys.seal_certificate_der, sign=self._seal)
        content = seal_pdf(_attached(self.rendered, attached), sealer, at=now, place=SITE)
        self.files.append(content)
        with site.store.write() as tx:
            tx.add_pdf(
                KeptPdf(check=check, edition=1, content=content, digest=digest(content), issued_at=now)
            )
            tx.append(events.RecordIssued(edition=1, pdf_digest=digest(content)), at=now, check=check)

    def _unlocked(self) -> Mapping[str, SigningKey]:
        """The keys of the two, each unlocked once: unlocking is slow on purpose."""
        opened: dict[str, SigningKey] = {}
        for each in EVERYBODY:
            key = key_of(each.secret)
            found = _opened(key.sealed, each.secret, key.kid)
            assert isinstance(found, SigningKey)
            opened[each.id] = found
        return opened

    def _seal(self, content: bytes) -> bytes:
        signature = sign_for_seal(self.keys, content)
        self.seals.append((content, signature))
        return signature

    def _with_row(self, tx: Transaction, event: events.Event, check: str, infusion: str) -> events.Event:
        """Add the row that this event tells of; the event as it is of the copy."""
        match event:
            case events.Joined(slot=slot):
                (kept,) = [each for each in self.stored.participants if each.slot == slot]
                tx.add_participant(replace(kept, check=check))
            case events.HandedIn(subject=subject, round=number, slot=slot):
                place = (subject, number, slot)
                (read,) = [
                    each for each in self.stored.readings if (each.subject, each.round, each.slot) == place
                ]
                tx.add_reading(self._resealed(read, check))
            case events.Compared(subject=subject, round=number):
                (made,) = [
                    each
                    for each in self.stored.loaded.comparisons
                    if (each.subject, each.round) == (subject, number)
                ]
                tx.add_comparison(replace(made, check=check))
            case events.RecordFrozen():
                frozen = self._frozen(check, infusion)
                tx.add_frozen(frozen)
                return replace(event, digest=frozen.digest)
            case events.Signed(slot=slot):
                signed = self._signed(slot, self._frozen(check, infusion))
                tx.add_signature(signed)
                return replace(event, digest=signed.digest, signature=digest(signed.jws.encode()))
            case _:
                pass
        return event

    def _resealed(self, kept: KeptReading, check: str) -> KeptReading:
        """The same content, bound to another check."""
        key, place = self.ward.site.key, (kept.subject, kept.round, kept.person)
        content = open_envelope(key, reading_context(kept.check, *place), kept.envelope)
        envelope = seal(key, reading_context(check, *place), content)
        return replace(kept, id=f"{check} {kept.id}", check=check, envelope=envelope)

    def _frozen(self, check: str, infusion: str) -> FrozenRecord:
        (first,) = self.stored.frozen
        document: dict[str, Any] = json.loads(first.document)
        document["record"] = check
        document["check"]["infusion"] = infusion
        written = canonical(document)
        return replace(first, check=check, document=written, digest=digest(written))

    def _signed(self, slot: int, frozen: FrozenRecord) -> KeptSignature:
        (kept,) = [each for each in self.stored.signatures if each.slot == slot]
        header = RecordHeader(
            kid=kept.kid,
            user_id=kept.person,
            printed_name=kept.printed_name,
            signed_at=kept.signed_at,
            meaning=kept.meaning,
            record_id=frozen.check,
            edition=frozen.edition,
        )
        jws = sign_detached_with(self._private[kept.person], record_header(header), frozen.document)
        return replace(kept, check=frozen.check, digest=frozen.digest, jws=jws)


def _append(tx: Transaction, entry: Entry, event: events.Event, *, check: str, infusion: str) -> None:
    """The event by the same person at the same time."""
    if entry.signed_in_at is None:
        tx.append(event, at=entry.at, by=entry.by, check=check, infusion=infusion)
        return
    actor = Actor(
        person=entry.by,
        session=entry.session,
        device=entry.device,
        signed_in_at=entry.signed_in_at,
        unit="",
        method=Method.SECRET,
    )
    act = Act(now=entry.at, by=actor, new_id=lambda: "")
    tx.append(event, act=act, check=check, infusion=infusion)


def _unsealed(content: bytes) -> bytes:
    """The file as it was before the seal, which is added behind it."""
    return content[: content.index(b"%%EOF") + len(b"%%EOF\n")]


def _attached(rendered: bytes, files: Mapping[str, bytes]) -> bytes:
    """The same pages with other files attached under the same names."""
    with pikepdf.open(io.BytesIO(rendered)) as pdf:
        for name, content in files.items():
            pdf.attachments[name].get_file().obj.write(content)
        written = io.BytesIO()
        pdf.save(written, deterministic_id=True)
        return written.getvalue()

"""Make the sealed PDF of a record of checks on training cards, once its person and a trainer signed it."""

from datetime import datetime

from app.auditing.checkpointing import HistoryChanged
from app.keys.seal_signing import sign_for_seal
from app.records.canonical import digest as digest_of
from app.records.kept_people import KeptCompetency
from app.records.training_events import CompetencyIssued, CompetencyReviewed, CompetencySigned
from app.reports.competency_file import HOLDER, TRAINER
from app.reports.competency_record import CompetencySignature, render_competency
from app.review.competency import person_of
from app.site.installation import KeysUnusable, Site, usable_site_keys
from app.storage import ConstraintBroken
from app.workflow.issuing import Issued, LeftAlone, proof_of
from app.workflow.training_record import SignedEdition, editions_of


def issue_competency(
    site: Site, record: str, edition: int, now: datetime
) -> Issued | LeftAlone | KeysUnusable | HistoryChanged:
    """Render, seal and store the PDF of what both signed, once."""
    with site.store.read() as reader:
        found = editions_of(reader, person_of(record))
    signed = next((each for each in found if each.edition == edition), None)
    if signed is None or signed.reviewed is None or signed.has_file:
        return LeftAlone()
    keys = usable_site_keys(site, now)
    if isinstance(keys, KeysUnusable):
        return keys
    own, reviewed = signed.signed.event, signed.reviewed.event
    assert isinstance(own, CompetencySigned)  # noqa: S101  # asked for by its kind
    assert isinstance(reviewed, CompetencyReviewed)  # noqa: S101  # as above
    kids, position = (own.kid, reviewed.kid), signed.reviewed.position
    proof = proof_of(site, keys, kids, position=position, now=now)
    if isinstance(proof, HistoryChanged):
        return proof
    signatures = {
        who: CompetencySignature(
            printed_name=event.printed_name, signed_at=at, meaning=event.meaning, jws=event.signature
        )
        for who, event, at in ((HOLDER, own, signed.signed.at), (TRAINER, reviewed, signed.reviewed.at))
    }
    # Loading the library takes a third of a second, which nobody who seals nothing should wait for.
    from app.reports.seal import REASON_OF_COMPETENCY, Sealer, seal_pdf  # noqa: PLC0415

    unsealed = render_competency(signed.document, signatures=signatures, proof=proof)
    sealer = Sealer(certificate=keys.seal_certificate_der, sign=lambda content: sign_for_seal(keys, content))
    place = signed.document["site"]
    return _kept(
        site, signed, seal_pdf(unsealed, sealer, at=now, place=place, reason=REASON_OF_COMPETENCY), now
    )


def _kept(site: Site, signed: SignedEdition, content: bytes, now: datetime) -> Issued | LeftAlone:
    """Both at once: the PDF, and the log's word that it was issued."""
    record, edition, written = signed.record, signed.edition, digest_of(content)
    kept = KeptCompetency(record=record, edition=edition, digest=written, issued_at=now, content=content)
    with site.store.write() as tx:
        try:
            tx.add_competency_file(kept)
        except ConstraintBroken as broken:
            if broken.name != "one_competency_file_an_edition":
                raise
            return tx.refuse(LeftAlone())
        issued = CompetencyIssued(
            record=record, edition=edition, digest=digest_of(signed.content), pdf_digest=written
        )
        return Issued(position=tx.append(issued, at=now).position)

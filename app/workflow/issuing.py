"""Make the PDF of a signed record: outside any transaction, then stored with its digest and its event.

Nothing of the making is kept until all of it is: killed anywhere, the record is still to be made.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from app.auditing.checkpointing import HistoryChanged, NoSuchEntry, place_of
from app.keys import SiteKeys
from app.keys.seal_signing import sign_for_seal
from app.records import events
from app.records.canonical import digest
from app.records.checkpoint import Checkpoint, Place
from app.records.kept import LETTER_OF, FrozenRecord, KeptPdf, KeptSignature
from app.records.key_chain import Founding, KeyHistory, NoChain, chain_of, history_of
from app.reports.attachments import ConfirmedKey, LogProof
from app.reports.record import RecordSignature, render_record
from app.site.installation import KeysUnusable, Site, usable_site_keys
from app.storage import ConstraintBroken, Reader

_BOTH = 2


@dataclass(frozen=True, kw_only=True)
class Issued:
    """The sealed PDF is stored; `position` is where the log says so."""

    position: int


@dataclass(frozen=True)
class LeftAlone:
    """There was nothing to make: the PDF is there already, or a signature is missing."""


@dataclass(frozen=True, kw_only=True)
class _SignedRecord:
    """What both signed, their signatures, and where the log has the second one."""

    frozen: FrozenRecord
    signatures: tuple[KeptSignature, ...]
    cleared_at: int


def issue_record(
    site: Site, check_id: str, edition: int, now: datetime
) -> Issued | LeftAlone | KeysUnusable | HistoryChanged:
    """Render, seal and store the PDF once; a second maker, or a run after a crash, leaves what is there.

    Without the site's keys, or over a log that was changed, nothing is made.
    """
    with site.store.read() as reader:
        signed = _signed_record(reader, check_id, edition)
    if signed is None:
        return LeftAlone()
    keys = usable_site_keys(site, now)
    if isinstance(keys, KeysUnusable):
        return keys
    kids = [each.kid for each in signed.signatures]
    proof = proof_of(site, keys, kids, position=signed.cleared_at, now=now)
    if isinstance(proof, HistoryChanged):
        return proof
    return _stored(site, signed.frozen, _sealed(signed, proof, keys, now), now)


def _signed_record(reader: Reader, check_id: str, edition: int) -> _SignedRecord | None:
    """The frozen bytes and both signatures, unless one is missing or the PDF is there already."""
    frozen = next((each for each in reader.frozen_records(check_id) if each.edition == edition), None)
    signatures = [each for each in reader.signatures(check_id) if each.edition == edition]
    if frozen is None or len(signatures) < _BOTH or reader.find_pdf(check_id, edition) is not None:
        return None
    return _SignedRecord(
        frozen=frozen,
        signatures=tuple(sorted(signatures, key=lambda each: each.slot)),
        cleared_at=max(
            each.position
            for each in reader.entries(check_id)
            if isinstance(each.event, events.Signed) and each.event.edition == edition
        ),
    )


def proof_of(
    site: Site, keys: SiteKeys, kids: Iterable[str], *, position: int, now: datetime
) -> LogProof | HistoryChanged:
    """Where the second signature stands in the log, and what the log says of the signers' keys."""
    found = place_of(site, keys, site.tree, position=position, now=now)
    if isinstance(found, HistoryChanged):
        return found
    assert not isinstance(found, NoSuchEntry)  # noqa: S101  # the position is an entry's
    place, checkpoint = found
    with site.store.read() as reader:
        history = history_of(reader.key_entries())

        def place_at(position: int) -> Place:
            return site.tree.place(reader, position, checkpoint.size)

        keys_shown = tuple(
            ConfirmedKey(made=place_at(history.made[kid].position), confirmed=place_at(link.position))
            for kid in _chained(kids, history)
            if (link := history.links.get(kid)) and kid in history.made
        )
        foundings = tuple(
            place_at(each.position) for each in history.foundings if _is_before(each, checkpoint)
        )
    return LogProof(place=place, keys=keys_shown, foundings=foundings, checkpoint=checkpoint)


def _chained(kids: Iterable[str], history: KeyHistory) -> dict[str, None]:
    """These keys and those of the chain of each, every one once.

    All that they rest on happened before a key could sign anything.
    """
    chains = [(kid, chain_of(kid, history.links, history.foundings)) for kid in kids]
    return dict.fromkeys(
        each for kid, chain in chains for each in ((kid,) if isinstance(chain, NoChain) else chain.kids)
    )


def _is_before(founding: Founding, checkpoint: Checkpoint) -> bool:
    return founding.position <= checkpoint.size


def _sealed(signed: _SignedRecord, proof: LogProof, keys: SiteKeys, now: datetime) -> bytes:
    """The PDF made from the frozen bytes, sealed."""
    # Loading the library takes a third of a second, which nobody who seals nothing should wait for.
    from app.reports.seal import Sealer, seal_pdf  # noqa: PLC0415

    document = dict(signed.frozen.told)
    unsealed = render_record(
        document,
        digest=signed.frozen.digest,
        signatures=tuple(_shown(each) for each in signed.signatures),
        proof=proof,
    )
    sealer = Sealer(certificate=keys.seal_certificate_der, sign=lambda content: sign_for_seal(keys, content))
    return seal_pdf(unsealed, sealer, at=now, place=document["site"])


def _shown(signature: KeptSignature) -> RecordSignature:
    return RecordSignature(
        letter=LETTER_OF[signature.slot],
        printed_name=signature.printed_name,
        person=signature.person,
        signed_at=signature.signed_at,
        meaning=signature.meaning,
        jws=signature.jws,
    )


def _stored(site: Site, frozen: FrozenRecord, content: bytes, now: datetime) -> Issued | LeftAlone:
    """Both at once: the PDF, and the log's word that it was issued."""
    written = digest(content)
    pdf = KeptPdf(check=frozen.check, edition=frozen.edition, content=content, digest=written, issued_at=now)
    with site.store.write() as tx:
        try:
            tx.add_pdf(pdf)
        except ConstraintBroken as broken:
            if broken.name != "one_pdf_an_edition":
                raise
            return tx.refuse(LeftAlone())
        issued = events.RecordIssued(edition=frozen.edition, pdf_digest=written)
        return Issued(position=tx.append(issued, at=now, check=frozen.check).position)

"""A record signed by both, proved in a log and sealed by an invented site; keys, tree and bytes are real."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from app.keys import (
    RecordHeader,
    SiteKeys,
    create_site_keys,
    load_site_keys,
    make_personal_key,
    sign_detached,
)
from app.keys.seal_signing import sign_for_seal
from app.records.canonical import canonical
from app.records.checkpoint import Place
from app.records.proofs import Tree
from app.reports.attachments import LogProof
from app.reports.record import RecordSignature, render_record
from app.reports.seal import Sealer, seal_pdf
from tests.reports import told

SITE = "Larkmoor General Hospital (invented)"
SEALED_AT = datetime(2031, 5, 2, 13, 5, 2, tzinfo=UTC)
KEYS_MADE = SEALED_AT - timedelta(days=30)
SECRET = "nine lanterns under the bridge"
# The log before the second signature, and that signature's entry.
ENTRIES = tuple(canonical({"event": "invented", "number": number}) for number in range(1, 12))


@dataclass(frozen=True, kw_only=True)
class Story:
    """One sealed record, and everything that it was made from."""

    document: dict[str, Any]
    signatures: tuple[RecordSignature, ...]
    public: dict[str, str]
    proof: LogProof
    keys: SiteKeys
    unsealed: bytes
    sealed: bytes

    @property
    def record(self) -> bytes:
        """The bytes that both signed."""
        return canonical(self.document)

    @property
    def certificate(self) -> str:
        """The seal's certificate (PEM)."""
        return self.keys.seal.certificate


def tell(folder: Path) -> Story:
    """The story of a fivefold error, sealed with keys made in this folder."""
    create_site_keys(folder, KEYS_MADE, site=SITE)
    keys = load_site_keys(folder, SEALED_AT)
    document = told.fivefold()
    signatures, public = _signed(document)
    proof = proof_by(keys)
    unsealed = rendered(document, signatures, proof)
    return Story(
        document=document,
        signatures=signatures,
        public=public,
        proof=proof,
        keys=keys,
        unsealed=unsealed,
        sealed=seal_pdf(unsealed, sealer_of(keys), at=SEALED_AT, place=SITE),
    )


def rendered(document: dict[str, Any], signatures: tuple[RecordSignature, ...], proof: LogProof) -> bytes:
    """The pages with the attachments, before they are sealed."""
    return render_record(document, digest=told.digest_of(document), signatures=signatures, proof=proof)


def sealer_of(keys: SiteKeys) -> Sealer:
    """What the site seals with."""
    return Sealer(certificate=keys.seal_certificate_der, sign=lambda content: sign_for_seal(keys, content))


def proof_by(keys: SiteKeys) -> LogProof:
    """Where the last entry stands, under a checkpoint of exactly that size."""
    tree, size = Tree(ENTRIES), len(ENTRIES)
    path = tuple(step.hex() for step in tree.inclusion(size - 1, size))
    checkpoint = keys.sign_checkpoint(size=size, root=tree.root(size).hex(), at=SEALED_AT)
    return LogProof(place=Place(leaf=ENTRIES[-1], position=size, path=path), checkpoint=checkpoint)


def _signed(document: dict[str, Any]) -> tuple[tuple[RecordSignature, ...], dict[str, str]]:
    """Each clinician's signature made with a fresh key of their own, and the keys' public halves."""
    record, public, signed = canonical(document), {}, []
    for each in told.signed(document):
        key = make_personal_key(SECRET)
        header = RecordHeader(
            kid=key.kid,
            user_id=each.person,
            printed_name=each.printed_name,
            signed_at=each.signed_at,
            meaning=each.meaning,
            record_id=document["record"],
            edition=document["edition"],
        )
        jws = sign_detached(key.sealed, SECRET, record, header)
        assert isinstance(jws, str)
        public[each.letter] = key.public
        signed.append(replace(each, jws=jws))
    return tuple(signed), public

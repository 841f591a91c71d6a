"""A record signed by both, proved in a log and sealed by an invented site; keys, tree and bytes are real."""

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from app.keys import PersonalKey, SiteKeys, create_site_keys, is_signed_for_seal, load_site_keys
from app.keys.seal_signing import sign_for_seal
from app.records.canonical import canonical
from app.records.checkpoint import CheckpointFile
from app.records.key_statements import Holder
from app.reports.attachments import LogProof
from app.reports.record import RecordSignature, render_record
from app.reports.seal import Sealer, certificates_in, seal_pdf
from app.reports.seal_as_written import is_sealed_as_written
from tests.factories.site_keys import owned
from tests.reports import told
from tests.reports.signed_log import CONFIRMER, FOUNDERS, KEYS_MADE, SEALED_AT, SignedLog

SITE = "Larkmoor General Hospital (invented)"


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
    log: SignedLog
    checkpoint: CheckpointFile

    @property
    def record(self) -> bytes:
        """The bytes that both signed."""
        return canonical(self.document)

    @property
    def certificate(self) -> str:
        """The seal's certificate (PEM)."""
        return self.keys.seal.certificate


def tell(folder: Path, document: dict[str, Any] | None = None) -> Story:
    """The story of a fivefold error, sealed with keys made in this folder."""
    create_site_keys(folder, KEYS_MADE, owner=owned(SITE))
    keys = load_site_keys(folder, SEALED_AT)
    document = document or told.fivefold()
    log = SignedLog(keys)
    confirmer, _ = log.founded(*FOUNDERS)
    people = {each["letter"]: _enrolled(log, each, confirmer) for each in document["clinicians"]}
    signatures = tuple(
        log.signed(document, each, people[each.letter], slot)
        for slot, each in enumerate(told.signed(document), start=1)
    )
    proof = log.proof(len(log.entries))
    unsealed = rendered(document, signatures, proof)
    sealed = seal_pdf(unsealed, sealer_of(keys), at=SEALED_AT, place=SITE)
    return Story(
        document=document,
        signatures=signatures,
        public={letter: key.public for letter, key in people.items()},
        proof=proof,
        keys=keys,
        unsealed=unsealed,
        sealed=sealed,
        log=log,
        checkpoint=log.issued(document, sealed),
    )


def recognised(content: bytes, certificate: str) -> bool:
    """Whether the quick look takes it for sealed by one of these certificates (PEM)."""
    return any(
        is_sealed_as_written(content, each, partial(is_signed_for_seal, each))
        for each in certificates_in(certificate)
    )


def _enrolled(log: SignedLog, clinician: dict[str, Any], confirmer: PersonalKey) -> PersonalKey:
    key = log.key_made(clinician["person"])
    holder = Holder(
        person=clinician["person"],
        login=clinician["person"],
        staff_number=clinician["staff_number"],
        printed_name=clinician["printed_name"],
    )
    log.key_confirmed(key, holder, by=CONFIRMER, own=confirmer)
    return key


def rendered(document: dict[str, Any], signatures: tuple[RecordSignature, ...], proof: LogProof) -> bytes:
    """The pages with the attachments, before they are sealed."""
    return render_record(document, digest=told.digest_of(document), signatures=signatures, proof=proof)


def sealer_of(keys: SiteKeys) -> Sealer:
    """What the site seals with."""
    return Sealer(certificate=keys.seal_certificate_der, sign=lambda content: sign_for_seal(keys, content))

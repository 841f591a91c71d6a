"""Make the PDF of a signed record: outside any transaction, then stored with its digest and its event."""

import json
from datetime import datetime

from app.records import events
from app.records.canonical import digest
from app.records.kept import FrozenRecord, KeptPdf, KeptSignature
from app.reports.record import RecordSignature, render_record
from app.storage import ConstraintBroken, Reader
from app.workflow.site import Site

_BOTH = 2


def issue_record(site: Site, check_id: str, edition: int, now: datetime) -> bool:
    """Render and store the PDF once; a second maker, or a run after a crash, finds it there and leaves it."""
    with site.store.read() as reader:
        found = _signed_record(reader, check_id, edition)
    if found is None:
        return False
    frozen, signatures = found
    content = render_record(
        json.loads(frozen.document),
        digest=frozen.digest,
        signatures=tuple(
            RecordSignature(
                letter="A" if each.slot == 1 else "B",
                printed_name=each.printed_name,
                person=each.person,
                signed_at=each.signed_at,
                meaning=each.meaning,
            )
            for each in signatures
        ),
    )
    with site.store.write() as tx:
        check = tx.find_check(check_id)
        assert check is not None  # noqa: S101  # it has a frozen record
        try:
            tx.add_pdf(
                KeptPdf(
                    check=check_id, edition=edition, content=content, digest=digest(content), issued_at=now
                )
            )
        except ConstraintBroken:
            tx.refuse()
            return False
        tx.append(
            events.RecordIssued(edition=edition, pdf_digest=digest(content)),
            at=now,
            check=check_id,
            infusion=check.infusion,
        )
    return True


def _signed_record(
    reader: Reader, check_id: str, edition: int
) -> tuple[FrozenRecord, list[KeptSignature]] | None:
    """The frozen bytes and both signatures, unless one is missing or the PDF is there already."""
    frozen = next((each for each in reader.frozen_records(check_id) if each.edition == edition), None)
    signatures = [each for each in reader.signatures(check_id) if each.edition == edition]
    if frozen is None or len(signatures) < _BOTH or reader.find_pdf(check_id, edition) is not None:
        return None
    return frozen, sorted(signatures, key=lambda each: each.slot)

"""Verify a record's file with what this installation knows of its own site, and write nothing."""

from datetime import datetime

from app.auditing.verifying import PublicMaterial
from app.auditing.verifying_apart import verify_apart
from app.keys import SiteKeys, public_file
from app.records.checkpoint import CheckpointFile
from app.records.event_kinds import ISSUED
from app.records.training_events import CompetencyIssued
from app.records.verification import NotReadable, Verification
from app.site.installation import KeysUnusable, Site, readable_site_keys

LOG_BROKEN = "The log of this installation has a gap: nothing can be verified by it. Tell whoever runs it."


def verify_here(site: Site, now: datetime, content: bytes) -> Verification | NotReadable:
    """Put every question to a record's PDF, with the log as it stands now in the place of a checkpoint."""
    keys = readable_site_keys(site)
    if isinstance(keys, KeysUnusable):
        return NotReadable(why=keys.says)
    return verify_apart(content, lambda record: _material_of(site, keys, record, now))


def _material_of(site: Site, keys: SiteKeys, record: str, now: datetime) -> PublicMaterial | NotReadable:
    """What the site would hand out, of this one record."""
    with site.store.read() as reader:
        size = reader.head()
        root = site.tree.find_root(reader, size)
        if root is None:
            return NotReadable(why=LOG_BROKEN)
        issued = {
            each.event.pdf_digest: site.tree.place(reader, each.position, size)
            for each in (*reader.entries(record), *reader.entries_of_kind(CompetencyIssued.kind))
            if isinstance(each.event, ISSUED)
        }
    checkpoint = keys.sign_to_verify(size=size, root=root, at=now)
    return PublicMaterial(
        certificates=public_file(keys.known), checkpoint=CheckpointFile(checkpoint=checkpoint, issued=issued)
    )

"""Verify a record's file with what this installation knows of its own site, and write nothing."""

from datetime import datetime

from app.auditing.verifying import PublicMaterial, verify_opened
from app.keys import public_file
from app.records import events
from app.records.checkpoint import CheckpointFile
from app.records.verification import NotReadable, Verification
from app.reports.followed_file import open_document
from app.reports.record_file import NotARecord
from app.site.installation import KeysUnusable, Site, usable_site_keys

LOG_BROKEN = "The log of this installation has a gap: nothing can be verified by it. Tell whoever runs it."


def verify_here(site: Site, now: datetime, content: bytes) -> Verification | NotReadable:
    """Put every question to a record's PDF, with the log as it stands now in the place of a checkpoint."""
    keys = usable_site_keys(site, now)
    if isinstance(keys, KeysUnusable):
        return NotReadable(why=keys.says)
    file = open_document(content)
    if isinstance(file, NotARecord):
        return NotReadable(why=file.says)
    with site.store.read() as reader:
        size = reader.head()
        root = site.tree.find_root(reader, size)
        if root is None:
            return NotReadable(why=LOG_BROKEN)
        issued = {
            each.event.pdf_digest: site.tree.place(reader, each.position, size)
            for each in reader.entries(file.document["record"])
            if isinstance(each.event, events.RecordIssued | events.WhatFollowedIssued)
        }
    checkpoint = keys.sign_checkpoint(size=size, root=root, at=now)
    material = PublicMaterial(
        certificates=public_file(keys.known), checkpoint=CheckpointFile(checkpoint=checkpoint, issued=issued)
    )
    return verify_opened(file, material)

"""Make an export: its files and, last of all, the manifest that says what they are."""

import os
from collections.abc import Callable
from pathlib import Path

from app.auditing.checkpointing import HistoryChanged, NoSuchEntry, place_of
from app.keys import SiteKeys
from app.records.checkpoint import Checkpoint
from app.records.export_events import Exported as ExportedEvent
from app.records.formats import RECORD, TABLE, WHAT_FOLLOWED
from app.records.visibility import bed_of
from app.reports.export import Exported, csv_lines, json_lines
from app.reports.hashed_file import HashedFile
from app.reports.manifest import Manifest, Part, SignedManifest, manifest_of
from app.site.installation import KeysUnusable, Site, find_installation, usable_site_keys
from app.storage import Reader
from app.workflow.export_jobs import Asked

FORMS = ("csv", "jsonl")
_FORMATS = {"csv": (TABLE.newest,), "jsonl": (RECORD.newest, WHAT_FOLLOWED.newest)}
# The progress is told after so many rows.
_OFTEN = 500

Tell = Callable[[int], None]


def name_of(asked: Asked) -> str:
    """What its file is called."""
    return f"countersign-{asked.first.isoformat()}-to-{asked.last.isoformat()}.{asked.form}"


def make_export(site: Site, asked: Asked, folder: Path, *, name: str, tell: Tell) -> Manifest:
    """Write an export into a folder, under this name, with its manifest beside it."""
    with site.store.read() as reader:
        found = find_installation(reader)
        parts = _written(reader, asked, folder, name=name, tell=tell)
    keys = usable_site_keys(site, asked.at)
    manifest = Manifest(
        export=asked.export,
        installation=found.installation if found else "",
        form=asked.form,
        formats=_FORMATS[asked.form],
        from_date=asked.first.isoformat(),
        to_date=asked.last.isoformat(),
        zone=asked.zone,
        deidentified=asked.deidentified,
        left_out=tuple(sorted(asked.left_out)),
        asked_by=asked.by,
        asked_at=asked.at,
        rows=sum(each.rows for each in parts),
        parts=parts,
        checkpoint=None if isinstance(keys, KeysUnusable) else _checkpoint(site, keys, asked),
    )
    with HashedFile(folder, manifest_of(folder / name).name) as file:
        file.write(_signed(manifest, keys).content())
    _keep(folder)
    return manifest


def _written(reader: Reader, asked: Asked, folder: Path, *, name: str, tell: Tell) -> tuple[Part, ...]:
    exported = (
        Exported(record=each.record.document, followed=each.followed, followed_digest=each.followed_digest)
        for each in reader.stream_cleared(asked.ended_from, asked.ended_before)
        # Whoever reads blind at a bed sees no earlier record of it.
        if bed_of(each.check) not in asked.left_out
    )
    with HashedFile(folder, name) as file:
        for chunk in json_lines(exported) if asked.form == "jsonl" else csv_lines(exported):
            file.write(chunk)
            file.rows += 1
            if file.rows % _OFTEN == 0:
                tell(file.rows)
    return (file.part,)


def _checkpoint(site: Site, keys: SiteKeys, asked: Asked) -> Checkpoint | None:
    """One that covers that this export was asked for."""
    with site.store.read() as reader:
        asked_for = reader.entries_of_kind(ExportedEvent.kind)
    position = next(
        each.position
        for each in reversed(asked_for)
        if isinstance(each.event, ExportedEvent) and each.event.export == asked.export
    )
    found = place_of(site, keys, site.tree, position=position, now=asked.at)
    # Whatever is wrong with the log is told elsewhere, to whoever can look into it.
    return None if isinstance(found, HistoryChanged | NoSuchEntry) else found[1]


def _signed(manifest: Manifest, keys: SiteKeys | KeysUnusable) -> SignedManifest:
    if isinstance(keys, KeysUnusable):
        return SignedManifest(manifest=manifest, kid="", signature="")
    signature = keys.sign_manifest(manifest.statement)
    return SignedManifest(manifest=manifest, kid=keys.checkpoint.kid, signature=signature)


def _keep(folder: Path) -> None:
    """The names in a folder are on the disk, too."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)

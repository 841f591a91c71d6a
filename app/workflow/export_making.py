"""Make an export: its files and, last of all, the manifest that says what they are."""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from app.auditing.checkpointing import HistoryChanged, NoSuchEntry, place_of
from app.keys import SiteKeys
from app.records.checkpoint import Checkpoint
from app.records.export_events import Exported as ExportedEvent
from app.records.formats import ENDED_CHECK, ENDED_TABLE, OUTSIDE, RECORD, TABLE, WHAT_FOLLOWED
from app.reports.csv_lines import write_csv
from app.reports.deidentified import Deidentifier
from app.reports.ended_lines import Outside, json_lines
from app.reports.export import Exported, csv_lines
from app.reports.fhir import bundle
from app.reports.hashed_file import HashedFile, Tell
from app.reports.manifest import Manifest, Part, SignedManifest, manifest_of
from app.site.installation import KeysUnusable, Site, find_installation, usable_site_keys
from app.site.loading import rules_in_force
from app.storage import ExportSpan, Reader
from app.storage.export_lines import lines_of_checks
from app.workflow.export_jobs import Asked
from app.workflow.export_outside import outside_of_checks

_FORMATS = {
    "csv": (ENDED_TABLE.newest,),
    "parquet": (ENDED_TABLE.newest,),
    "readings": (TABLE.newest,),
    "fhir": ("HL7 FHIR R4 (4.0.1) Bundle",),
    "jsonl": (ENDED_CHECK.newest, OUTSIDE.newest, RECORD.newest, WHAT_FOLLOWED.newest),
}
# The progress is told after so many lines.
_OFTEN = 500
_PURPOSE = "countersign de-identified exports 1"


@dataclass(frozen=True, kw_only=True)
class _Making:
    """One export while it is made; `bared` where nobody may be known in it."""

    site: Site
    reader: Reader
    asked: Asked
    folder: Path
    name: str
    installation: str
    bared: Deidentifier | None
    tell: Tell

    @property
    def span(self) -> ExportSpan:
        asked = self.asked
        return ExportSpan(from_=asked.ended_from, before=asked.ended_before, left_out=asked.left_out)


def make_export(site: Site, asked: Asked, folder: Path, *, name: str, tell: Tell) -> Manifest:
    """Write an export into a folder, under this name, with its manifest beside it."""
    with site.store.read() as reader:
        found = find_installation(reader)
        bared = _deidentifier(site, reader, asked) if asked.deidentified else None
        installation = found.installation if found else ""
        making = _Making(
            site=site,
            reader=reader,
            asked=asked,
            folder=folder,
            name=name,
            installation=bared.pseudonym("installation", installation) if bared else installation,
            bared=bared,
            tell=tell,
        )
        parts = _written(making)
    keys = usable_site_keys(site, asked.at)
    manifest = Manifest(
        export=asked.export,
        installation=making.installation,
        form=asked.form,
        formats=_FORMATS[asked.form],
        from_date=asked.first.isoformat(),
        to_date=asked.last.isoformat(),
        zone=asked.zone,
        deidentified=asked.deidentified,
        # How many beds may be told; which ones, beside when it was asked, would be a day that was not moved.
        left_out=tuple(("", "") if bared else each for each in sorted(asked.left_out)),
        # As nobody is called in the rows: whoever hands it on is known to whoever has it.
        asked_by=bared.pseudonym("asked_by", asked.by) if bared else asked.by,
        asked_at=asked.at,
        rows=sum(each.rows for each in parts),
        parts=parts,
        checkpoint=None if isinstance(keys, KeysUnusable) else _checkpoint(site, keys, asked),
    )
    with HashedFile(folder, manifest_of(folder / name).name) as file:
        file.write(_signed(manifest, keys).content())
    _keep(folder)
    return manifest


def _deidentifier(site: Site, reader: Reader, asked: Asked) -> Deidentifier:
    policy = rules_in_force(reader, asked.at).policy
    key = site.key.for_purpose(_PURPOSE)
    return Deidentifier(key=key, units=policy.deidentified_units, beds=policy.deidentified_beds)


def _written(making: _Making) -> tuple[Part, ...]:
    match making.asked.form:
        case "csv":
            checks, outside = lines_of_checks(making.reader, making.span), _outside(making)
            return write_csv(
                checks,
                (each.told for each in outside),
                making.folder,
                name=making.name,
                tell=making.tell,
                bared=making.bared,
            )
        case "parquet":
            # The library is large.
            from app.workflow.export_by_columns import batches_of, write_parquet  # noqa: PLC0415

            batches = batches_of(making.reader, making.span, _outside(making), making.bared)
            return write_parquet(
                batches, making.folder, name=making.name, installation=making.installation, tell=making.tell
            )
        case "fhir":
            ended, outside = making.reader.ended_one_by_one(making.span), _outside(making)
            return (_lines(making, bundle(ended, outside, at=making.asked.at, bared=making.bared)),)
        case "readings":
            return (_lines(making, csv_lines(_records(making))),)
        case _:
            ended, outside = making.reader.ended_one_by_one(making.span), _outside(making)
            return (_lines(making, json_lines(ended, outside, making.bared)),)


def _outside(making: _Making) -> Iterator[Outside]:
    return outside_of_checks(making.site, making.reader, making.span)


def _records(making: _Making) -> Iterator[Exported]:
    for each in making.reader.ended_one_by_one(making.span):
        if each.record:
            yield Exported(record=each.record, followed=each.followed, followed_digest=each.followed_digest)


def _lines(making: _Making, lines: Iterator[bytes]) -> Part:
    with HashedFile(making.folder, making.name) as file:
        for line in lines:
            file.write(line)
            file.rows += 1
            if file.rows % _OFTEN == 0:
                making.tell(file.rows)
    return file.part


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

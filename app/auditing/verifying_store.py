"""Verify a whole database: its log, its rules, every row beside the log, and every sealed PDF.

Everything is read in one snapshot that cannot write. The log is always read whole, for only so is its root
known; checks are then taken in the order in which they were opened, so that one can go on after a position.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial

from app.auditing.access_digest import changed_accesses
from app.auditing.invariants import Broken, broken_of_check, stored_of_check
from app.auditing.recomputing import Stored, followed_again, logged
from app.auditing.verifying import PublicMaterial, verify_file
from app.auditing.verifying_chain import key_steps
from app.auditing.verifying_log import LogRead, begun_by
from app.auditing.verifying_quickly import Recognised
from app.auditing.verifying_rows import failing_rows_of_check, failing_rows_of_site
from app.base.damage import Damaged, until_damaged
from app.keys import SiteKeys, is_signed_in_time, public_file, read_public_file
from app.records import events, site_events
from app.records.checkpoint import Checkpoint, CheckpointFile, Place
from app.records.formats import UnknownFormatError
from app.records.kept import Entry, KeptFollowed, KeptPdf
from app.records.proofs import Tree
from app.records.store_verification import Failing, PagesNotAsked, Progress, Step
from app.records.verification import NotReadable, Question
from app.reports.followed_file import FollowedFile, open_document
from app.site.installation import KeysUnusable, Site, readable_site_keys
from app.storage import ReadAhead, Reader, is_out_of_reach

# Checks whose rows are held in memory at a time; a record's file is the largest of them.
_PAGE = 50


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What is asked: after which position to go on, whether pages are made again, and what is trusted.

    Without `certificates` (PEM) the installation's own are; `checkpoint` is one that was kept elsewhere.
    """

    after: int = 0
    pages: bool = True
    checkpoint: Checkpoint | None = None
    certificates: str = ""


@dataclass(frozen=True, kw_only=True)
class _Run:
    """What one run holds on to."""

    site: Site
    now: datetime
    wanted: Wanted
    keys: SiteKeys
    certificates: str
    recognised: Recognised = field(default_factory=Recognised)
    # Where the log says that a key was stolen.
    declared: dict[str, Entry] = field(default_factory=dict)

    def signed(self, checkpoint: Checkpoint) -> bool:
        """Whether the site signed a checkpoint, by the certificates that are trusted.

        A key that was declared stolen from before then counts up to where the log says so.
        """
        known = read_public_file(self.certificates)
        declared = self.declared.get(checkpoint.kid)
        if declared and checkpoint.size >= declared.position and checkpoint.at >= _stolen_from(declared):
            return False
        return is_signed_in_time(checkpoint, known, though_stolen=True)


def verify_store(site: Site, now: datetime, wanted: Wanted) -> Iterator[Step] | NotReadable:
    """Whatever does not hold, as it is found, and in between how far it is; nothing is written."""
    keys = readable_site_keys(site, now)
    if isinstance(keys, KeysUnusable):
        return NotReadable(why=keys.says)
    certificates = wanted.certificates or public_file(keys.known)
    return _steps(_Run(site=site, now=now, wanted=wanted, keys=keys, certificates=certificates))


def _steps(run: _Run) -> Iterator[Step]:
    with run.site.store.read_ahead() as reader:
        log = LogRead()
        yield from _guarded("log_entry", partial(log.steps, reader))
        yield from _guarded("site_key", partial(_stolen, run, reader))
        yield from _guarded("checkpoint", partial(_checkpoints, run, reader, log.tree))
        yield from _guarded("personal_key", partial(key_steps, reader))
        yield from _guarded("site_data", partial(failing_rows_of_site, run.site, reader, log.told))
        yield from _guarded("access", partial(_looks, reader))
        yield from _guarded("database", partial(_checks, run, reader, log.tree))


def _guarded(about: str, steps: Callable[[], Iterator[Step]], check: str = "") -> Iterator[Step]:
    """What they find; where the rest is damaged, that too. A database out of reach is another matter."""
    for found in until_damaged(steps):
        if not isinstance(found, Damaged):
            yield found
        elif is_out_of_reach(found.error):
            raise found.error
        elif isinstance(found.error, UnknownFormatError):
            yield Failing(check=check, about=about, what=found.error.says)
        else:
            yield Failing(check=check, about=about, what=f"it cannot be read: {found.kind}")


def _looks(reader: Reader) -> Iterator[Failing]:
    """The list of who looked, as far as the log has its digests."""
    for place in changed_accesses(reader):
        what = f"the list of who looked is not, up to its place {place}, what the log says that it was"
        yield Failing(about="access", what=what)


def _stolen(run: _Run, reader: Reader) -> Iterator[Failing]:
    """Keys that the log says were stolen; the folder of keys has to say so too: it is handed out."""
    marked = {each.kid: each.stolen_from for each in run.keys.known}
    for entry in reader.entries_of_kind(site_events.SiteKeyStolen.kind):
        assert isinstance(entry.event, site_events.SiteKeyStolen)  # noqa: S101  # asked for by its kind
        run.declared[entry.event.kid] = entry
        if marked.get(entry.event.kid) != _stolen_from(entry):
            what = f"the log says that {entry.event.kid} was stolen, and the folder of keys does not"
            yield Failing(about="site_key", what=what)


def _stolen_from(entry: Entry) -> datetime:
    """From when on, as the log says."""
    assert isinstance(entry.event, site_events.SiteKeyStolen)  # noqa: S101  # the caller's word
    return datetime.fromisoformat(entry.event.stolen_from)


def _checkpoints(run: _Run, reader: Reader, tree: Tree) -> Iterator[Failing]:
    yield from begun_by(tree, reader.checkpoints(), run.signed, about="checkpoint")
    if run.wanted.checkpoint is not None:
        yield from begun_by(tree, [run.wanted.checkpoint], run.signed, about="the checkpoint given")


def _checks(run: _Run, reader: ReadAhead, tree: Tree) -> Iterator[Step]:
    # Made for this run and kept nowhere: the places of records are shown under it.
    size = tree.size
    checkpoint = run.keys.sign_checkpoint(size=size, root=tree.root(size).hex(), at=run.now)
    waiting = {check for check, _, _ in reader.uncompared()}
    log = logged(reader)
    position, checks, records = run.wanted.after, 0, 0
    total = reader.opened_after(position)
    yield Progress(entries=size, of_checks=total, position=position)
    while opened := reader.opened_checks(after=position, limit=_PAGE):
        reader.take([check for _, check in opened])
        for position, check in opened:  # where the next page begins
            stored = stored_of_check(run.site, reader, check, now=run.now, log=log)
            broken = list(_broken(reader, stored, check, waiting=check in waiting))
            yield from broken
            if not isinstance(stored, Broken):
                files = partial(_pdfs, run, stored, tree, checkpoint, sound=not broken)
                yield from _guarded("pdf.content", files, check)
                follows = partial(_followed, run, reader, stored, tree=tree, checkpoint=checkpoint)
                yield from _guarded("what_followed.content", follows, check)
                records += len(stored.pdfs)
            checks += 1
            yield Progress(entries=size, checks=checks, of_checks=total, records=records, position=position)


def _broken(reader: Reader, stored: Stored | Broken, check: str, *, waiting: bool) -> Iterator[Step]:
    """What does not hold of one check, its sealed files apart."""
    for broken in broken_of_check(reader, stored, waiting=waiting):
        yield Failing(check=check, about=f"rule {broken.invariant.value}", what=broken.what)
    if not isinstance(stored, Broken):
        yield from _guarded("check", partial(failing_rows_of_check, reader, stored), check)


def _pdfs(run: _Run, stored: Stored, tree: Tree, checkpoint: Checkpoint, *, sound: bool) -> Iterator[Step]:
    """What does not hold of the sealed files of one check; `sound` when all else of it does."""
    for pdf in stored.pdfs.values():
        if pdf is None:
            continue
        issued = CheckpointFile(checkpoint=checkpoint, issued=_place(stored, pdf, tree))
        material = PublicMaterial(certificates=run.certificates, checkpoint=issued)
        quick = sound and not run.wanted.pages
        if not (quick and run.recognised.holds(pdf, stored, material)):
            yield from _file(run, pdf, material, about="pdf.content")


def _followed(
    run: _Run, reader: Reader, stored: Stored, *, tree: Tree, checkpoint: Checkpoint
) -> Iterator[Step]:
    """What does not hold of what followed the records of one check: the document, and its sealed file."""
    for kept in stored.followed:
        if followed_again(reader, stored, kept) != kept.document:
            what = f"edition {kept.edition}: it is not, byte for byte, what happened"
            yield Failing(check=kept.check, about="what_followed.document", what=what)
        issued = CheckpointFile(checkpoint=checkpoint, issued=_place(stored, kept, tree))
        material = PublicMaterial(certificates=run.certificates, checkpoint=issued)
        yield from _file(run, kept, material, about="what_followed.content")
        attached = open_document(kept.content)
        if not isinstance(attached, FollowedFile) or attached.written != kept.document:
            what = f"edition {kept.edition}: another document is attached to the file"
            yield Failing(check=kept.check, about="what_followed.content", what=what)


def _place(stored: Stored, pdf: KeptPdf | KeptFollowed, tree: Tree) -> dict[str, Place]:
    """Where the log says that this file was issued."""
    kind = events.RecordIssued if isinstance(pdf, KeptPdf) else events.WhatFollowedIssued
    issued = (
        each for each in stored.entries if isinstance(each.event, kind) and each.event.edition == pdf.edition
    )
    places = (
        Place(
            leaf=each.canonical,
            position=each.position,
            path=tuple(step.hex() for step in tree.inclusion(each.position - 1, tree.size)),
        )
        for each in issued
    )
    place = next(places, None)
    return {} if place is None else {pdf.digest: place}


def _file(run: _Run, pdf: KeptPdf | KeptFollowed, material: PublicMaterial, *, about: str) -> Iterator[Step]:
    """Verified in full; whose certificate sealed it is known from then on."""
    found = verify_file(pdf.content, material, pages=run.wanted.pages)
    if isinstance(found, NotReadable):
        yield Failing(check=pdf.check, about=about, what=f"edition {pdf.edition}: {found.why}")
        return
    if (found.record, found.edition) != (pdf.check, pdf.edition):
        yield Failing(check=pdf.check, about=about, what=f"edition {pdf.edition}: it is another's record")
    for each in found.answers:
        if each.holds is None and each.question is Question.PAGES:
            yield PagesNotAsked(check=pdf.check, edition=pdf.edition)
        if each.holds is False:
            what = f"edition {pdf.edition}: not so: {each.question.value}. {each.says}"
            yield Failing(check=pdf.check, about=about, what=what)
    if found.holds:
        run.recognised.learn(pdf.content, run.certificates)

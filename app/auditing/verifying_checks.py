"""Verify checks: their entries, every rule, every row beside the log, and their sealed files.

It needs nothing of the log's tree but the places that are handed in, so that any process can do it.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial

from app.auditing.invariants import Broken, broken_of_check, stored_of_check
from app.auditing.recomputing import Logged, Stored, followed_again, logged
from app.auditing.verifying import PublicMaterial, verify_file
from app.auditing.verifying_flat_rows import failing_flat_rows
from app.auditing.verifying_log import differing_entry, read_row
from app.auditing.verifying_quickly import Recognised
from app.auditing.verifying_rows import failing_rows_of_check
from app.base.damage import Damaged, until_damaged
from app.records import events
from app.records.checkpoint import Checkpoint, CheckpointFile, Place
from app.records.formats import UnknownFormatError
from app.records.kept import Entry, KeptFollowed, KeptPdf
from app.records.store_verification import Failing, PagesNotAsked, Step
from app.records.verification import NotReadable, Question
from app.reports.followed_file import FollowedFile, open_document
from app.site.installation import Site
from app.storage import ReadAhead, Reader, is_out_of_reach

# From entries of the log to a checkpoint, by position.
Paths = Mapping[int, tuple[str, ...]]


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What is the same for all checks of a run.

    `checkpoint` was made for this run: the places of records are shown under it.
    """

    now: datetime
    pages: bool
    certificates: str
    checkpoint: Checkpoint


@dataclass(frozen=True, kw_only=True)
class Chunk:
    """Checks that are verified one after the other, with the positions at which they were opened.

    `waiting` are those that the sweeper will compare; `paths` are of the entries that tell of a sealed file.
    """

    checks: tuple[tuple[int, str], ...]
    waiting: frozenset[str]
    paths: Paths


@dataclass(frozen=True, kw_only=True)
class Verified:
    """One check, the position after which to go on, how many records it has, and what was found."""

    position: int
    records: int
    found: tuple[Step, ...]


@dataclass(frozen=True, kw_only=True)
class CheckVerifier:
    """Verifies the checks of one run in one snapshot."""

    site: Site
    reader: ReadAhead
    asked: Asked
    log: Logged
    recognised: Recognised = field(default_factory=Recognised)

    def verified(self, chunk: Chunk) -> Iterator[Verified]:
        """Each check of a chunk, in order."""
        self.reader.take([check for _, check in chunk.checks])
        for position, check in chunk.checks:
            stored = stored_of_check(self.site, self.reader, check, now=self.asked.now, log=self.log)
            found = tuple(self._found(stored, check, chunk))
            records = 0 if isinstance(stored, Broken) else len(stored.pdfs)
            yield Verified(position=position, records=records, found=found)

    def _found(self, stored: Stored | Broken, check: str, chunk: Chunk) -> Iterator[Step]:
        broken = list(_broken(self.reader, stored, check, waiting=check in chunk.waiting))
        yield from broken
        if isinstance(stored, Broken):
            return
        files = partial(self._pdfs, stored, chunk.paths, sound=not broken)
        yield from guarded("pdf.content", files, check)
        follows = partial(self._followed, stored, chunk.paths)
        yield from guarded("what_followed.content", follows, check)

    def _pdfs(self, stored: Stored, paths: Paths, *, sound: bool) -> Iterator[Step]:
        """What does not hold of the sealed files of one check; `sound` when all else of it does."""
        for pdf in stored.pdfs.values():
            if pdf is None:
                continue
            material = self._material(stored, pdf, paths)
            quick = sound and not self.asked.pages
            if not (quick and self.recognised.holds(pdf, stored, material)):
                yield from self._file(pdf, material, about="pdf.content")

    def _followed(self, stored: Stored, paths: Paths) -> Iterator[Step]:
        """What does not hold of what followed the records of one check: the document, and its sealed file."""
        for kept in stored.followed:
            if followed_again(self.reader, stored, kept) != kept.document:
                what = f"edition {kept.edition}: it is not, byte for byte, what happened"
                yield Failing(check=kept.check, about="what_followed.document", what=what)
            material = self._material(stored, kept, paths)
            yield from self._file(kept, material, about="what_followed.content")
            attached = open_document(kept.content)
            if not isinstance(attached, FollowedFile) or attached.written != kept.document:
                what = f"edition {kept.edition}: another document is attached to the file"
                yield Failing(check=kept.check, about="what_followed.content", what=what)

    def _material(self, stored: Stored, file: KeptPdf | KeptFollowed, paths: Paths) -> PublicMaterial:
        issued = CheckpointFile(checkpoint=self.asked.checkpoint, issued=_place(stored, file, paths))
        return PublicMaterial(certificates=self.asked.certificates, checkpoint=issued)

    def _file(self, pdf: KeptPdf | KeptFollowed, material: PublicMaterial, *, about: str) -> Iterator[Step]:
        """Verified in full; whose certificate sealed it is known from then on."""
        found = verify_file(pdf.content, material, pages=self.asked.pages)
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
            self.recognised.learn(pdf.content, self.asked.certificates)


def check_verifier(site: Site, reader: ReadAhead, asked: Asked) -> CheckVerifier:
    """Whoever verifies checks in this snapshot."""
    return CheckVerifier(site=site, reader=reader, asked=asked, log=logged(reader))


def guarded(about: str, steps: Callable[[], Iterator[Step]], check: str = "") -> Iterator[Step]:
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


def _broken(reader: Reader, stored: Stored | Broken, check: str, *, waiting: bool) -> Iterator[Step]:
    """What does not hold of one check, its sealed files apart."""
    yield from guarded("log_entry", partial(_entries, reader, stored, check), check)
    for broken in broken_of_check(reader, stored, waiting=waiting):
        yield Failing(check=check, about=f"rule {broken.invariant.value}", what=broken.what)
    if not isinstance(stored, Broken):
        yield from guarded("check", partial(failing_rows_of_check, reader, stored), check)
        yield from guarded("ended_check", partial(failing_flat_rows, reader, stored), check)


def _entries(reader: Reader, stored: Stored | Broken, check: str) -> Iterator[Failing]:
    """Entries that are not as their columns say; of a check that cannot be read, each by itself."""
    read: Iterable[Entry | Failing] = (
        map(read_row, reader.rows("log_entry", check=check)) if isinstance(stored, Broken) else stored.entries
    )
    for entry in read:
        yield from (entry,) if isinstance(entry, Failing) else differing_entry(entry)


def _place(stored: Stored, pdf: KeptPdf | KeptFollowed, paths: Paths) -> dict[str, Place]:
    """Where the log says that this file was issued."""
    kind = events.RecordIssued if isinstance(pdf, KeptPdf) else events.WhatFollowedIssued
    issued = (
        each for each in stored.entries if isinstance(each.event, kind) and each.event.edition == pdf.edition
    )
    places = (
        Place(leaf=each.canonical, position=each.position, path=paths.get(each.position, ()))
        for each in issued
    )
    place = next(places, None)
    return {} if place is None else {pdf.digest: place}

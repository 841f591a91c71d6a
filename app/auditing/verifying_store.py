"""Verify a whole database: its log, its rules, every row beside the log, and every sealed PDF.

Everything is read in one snapshot that cannot write. The log is always read whole, for only so is its root
known; checks are then taken in the order in which they were opened, so that one can go on after a position.
"""

import gc
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial

from app.auditing.access_digest import changed_accesses
from app.auditing.checkpointing import changed_blocks
from app.auditing.invariants import Invariant
from app.auditing.recounting import differing_accounts
from app.auditing.verifying_chain import key_steps
from app.auditing.verifying_checks import Asked, Chunk, check_verifier, guarded
from app.auditing.verifying_log import LogRead, begun_by
from app.auditing.verifying_processes import Answer, Processes, started
from app.auditing.verifying_rows import failing_rows_of_site
from app.auditing.verifying_training import failing_training
from app.base.damage import Damaged, read_or_damaged
from app.keys import SiteKeys, is_signed_in_time, public_file, read_public_file
from app.records import site_events
from app.records.checkpoint import Checkpoint
from app.records.kept import Entry
from app.records.proofs import Tree
from app.records.store_verification import Failing, Progress, Step, Unverified
from app.records.verification import NotReadable
from app.site.installation import KeysUnusable, Site, readable_site_keys
from app.storage import ReadAhead, Reader

# Checks whose rows are held in memory at a time; a record's file is the largest of them.
_AT_ONCE = 50
_WITH_PAGES = 5


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What is asked: after which position to go on, whether pages are made again, and what is trusted.

    Without `certificates` (PEM) the installation's own are; `checkpoint` is one that was kept elsewhere.
    Of `processes` there are at most so many: a few checks are verified before others have started.
    """

    after: int = 0
    pages: bool = True
    checkpoint: Checkpoint | None = None
    certificates: str = ""
    processes: int = 1

    @property
    def chunk(self) -> int:
        """Checks that are taken together; making the pages of one again takes a second."""
        return _WITH_PAGES if self.pages else _AT_ONCE


@dataclass(frozen=True, kw_only=True)
class _Run:
    """What one run holds on to."""

    site: Site
    now: datetime
    wanted: Wanted
    keys: SiteKeys
    certificates: str
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
    keys = readable_site_keys(site)
    if isinstance(keys, KeysUnusable):
        return NotReadable(why=keys.says)
    certificates = wanted.certificates or public_file(keys.known)
    return _steps(_Run(site=site, now=now, wanted=wanted, keys=keys, certificates=certificates))


def _steps(run: _Run) -> Iterator[Step]:
    # What is loaded by now stays: whoever collects garbage need not go through all of it again and again.
    gc.freeze()
    with ExitStack() as open_:
        processes = _processes(run, open_)
        store = run.site.store
        begun = store.read_ahead_with(processes.begin) if processes else store.read_ahead()
        reader = open_.enter_context(begun)
        opened: list[tuple[int, str]] = []
        yield from guarded("log_entry", partial(_opened, run, reader, opened))
        log = LogRead(elsewhere={check for _, check in opened})
        yield from guarded("log_entry", partial(log.steps, reader))
        yield from guarded("site_key", partial(_stolen, run, reader))
        yield from guarded("checkpoint", partial(_checkpoints, run, reader, log.tree))
        yield from guarded("personal_key", partial(key_steps, reader))
        yield from guarded("site_data", partial(failing_rows_of_site, run.site, reader, log.told))
        yield from guarded("access", partial(_looks, reader))
        yield from guarded("account", partial(_accounts, run, reader))
        yield from guarded("competency_file", partial(_training, run, reader, log.tree))
        checks = _Checks(run=run, reader=reader, tree=log.tree, opened=opened)
        yield from guarded("database", partial(checks.steps, processes))


def _processes(run: _Run, open_: ExitStack) -> Processes | None:
    """Others that verify, where there is enough for two."""
    if run.wanted.processes == 1:
        return None
    with run.site.store.read() as reader:
        opened = read_or_damaged(lambda: reader.opened_checks(after=run.wanted.after))
    enough = 0 if isinstance(opened, Damaged) else len(opened) // run.wanted.chunk
    count = min(run.wanted.processes, enough)
    return open_.enter_context(started(run.site, count)) if count > 1 else None


def _opened(run: _Run, reader: Reader, into: list[tuple[int, str]]) -> Iterator[Step]:
    """The checks that are verified, with the positions at which they were opened."""
    into += reader.opened_checks(after=run.wanted.after)
    yield from ()


def _looks(reader: Reader) -> Iterator[Failing]:
    """The list of who looked, as far as the log has its digests."""
    for place in changed_accesses(reader):
        what = f"the list of who looked is not, up to its place {place}, what the log says that it was"
        yield Failing(about="access", what=what)


def _accounts(run: _Run, reader: Reader) -> Iterator[Failing]:
    """Accounts that are not what is stored of their infusions."""
    for what in differing_accounts(reader, run.now):
        yield Failing(about=f"rule {Invariant.ONE_ACCOUNT.value}", what=what)


def _training(run: _Run, reader: Reader, tree: Tree) -> Iterator[Failing]:
    """Sealed records of checks on training cards; there are few."""
    checkpoint, certificates = _of_this_run(run, tree), run.certificates
    yield from failing_training(reader, tree, checkpoint, certificates, pages=run.wanted.pages)


def _of_this_run(run: _Run, tree: Tree) -> Checkpoint:
    """A checkpoint of the whole log that is kept nowhere."""
    return run.keys.sign_to_verify(size=tree.size, root=tree.root(tree.size).hex(), at=run.now)


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
    yield from _blocks(reader, tree)
    if run.wanted.checkpoint is not None:
        yield from begun_by(tree, [run.wanted.checkpoint], run.signed, about="the checkpoint given")


def _blocks(reader: Reader, tree: Tree) -> Iterator[Failing]:
    """Roots that were kept of blocks of the log, and are not those of their entries."""
    made = [each.hex() for each in tree.blocks(tree.size)]
    for number in changed_blocks(reader.log_blocks(), made):
        yield Failing(about="log_block.root", what=f"block {number}: it is not that of its entries")


@dataclass(frozen=True, kw_only=True)
class _Checks:
    """The checks of a run, and the tree in which their files have their places."""

    run: _Run
    reader: ReadAhead
    tree: Tree
    opened: Sequence[tuple[int, str]]

    def steps(self, processes: Processes | None) -> Iterator[Step]:
        """What is found of them in their order, and how far it is."""
        size, wanted = self.tree.size, self.run.wanted
        position, checks, records = wanted.after, 0, 0
        yield Progress(entries=size, of_checks=len(self.opened), position=position)
        is_whole = True
        for answer in self._answers(processes):
            if isinstance(answer, Unverified):
                is_whole = False
                yield answer
                continue
            for each in answer:
                yield from each.found
                checks, records = checks + 1, records + each.records
                # Where to go on is before whatever was left out.
                position = each.position if is_whole else position
                yield Progress(
                    entries=size,
                    checks=checks,
                    of_checks=len(self.opened),
                    records=records,
                    position=position,
                )

    def _answers(self, processes: Processes | None) -> Iterator[Answer]:
        run = self.run
        checkpoint = _of_this_run(run, self.tree)
        asked = Asked(
            now=run.now, pages=run.wanted.pages, certificates=run.certificates, checkpoint=checkpoint
        )
        if processes is not None:
            yield from processes.verified(asked, self._chunks())
            return
        verifier = check_verifier(run.site, self.reader, asked)
        for chunk in self._chunks():
            yield from ((each,) for each in verifier.verified(chunk))

    def _chunks(self) -> Iterator[Chunk]:
        waiting, many = {check for check, _, _ in self.reader.uncompared()}, self.run.wanted.chunk
        for first in range(0, len(self.opened), many):
            checks = tuple(self.opened[first : first + many])
            ids = [check for _, check in checks]
            issued = (each for each in self.reader.issued_at(ids) if each <= self.tree.size)
            yield Chunk(
                checks=checks,
                waiting=frozenset(waiting.intersection(ids)),
                paths={each: self._path(each) for each in issued},
            )

    def _path(self, position: int) -> tuple[str, ...]:
        return tuple(step.hex() for step in self.tree.inclusion(position - 1, self.tree.size))

"""Sign what the log is, and show where an entry stands in it; a history that changed is not signed over."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from app.keys import SiteKey, SiteKeys, list_site_keys
from app.records import site_events
from app.records.checkpoint import Checkpoint, CheckpointFile, Place, holds
from app.records.event_kinds import ISSUED
from app.records.kept_keys import KeptSiteKey
from app.site.installation import Site
from app.site.log_tree import LogTree
from app.storage import ConstraintBroken, Reader, Transaction


@dataclass(frozen=True, kw_only=True)
class HistoryChanged:
    """The log no longer begins with what was signed when it had `size` entries: someone changed or cut it."""

    size: int
    block: int | None = None

    @property
    def says(self) -> str:
        """What happened, and what to do about it."""
        what = (
            f"the log is not what was signed when it had {self.size} entries: "
            "an entry was changed, moved or taken out"
        )
        if self.block is not None:
            what = f"the root that was kept of block {self.block} of the log is not that of its entries"
        return f"{what}. Nothing was signed. Keep every copy, and look into it"


@dataclass(frozen=True, kw_only=True)
class NoSuchEntry:
    """The log has no entry at this position."""

    position: int


def register_site_keys(site: Site, known: tuple[SiteKey, ...], now: datetime) -> int:
    """Write into the log each key of the site that is not there yet; how many that were."""
    with site.store.read() as reader:
        if {each.kid for each in known} <= {each.kid for each in reader.site_keys()}:
            return 0
    with site.store.write() as tx:
        there = {each.kid for each in tx.site_keys()}
        new = [each for each in reversed(known) if each.kid not in there]
        try:
            for each in new:
                _register(tx, each, now)
        except ConstraintBroken as broken:
            if broken.name != "site_key_unique":
                raise
            # Another process did it at the same instant, and what it wrote is there now.
            tx.refuse()
        else:
            return len(new)
    return register_site_keys(site, known, now)


def has_lost_keys(site: Site) -> bool:
    """Whether the log tells of keys, for the seal or for checkpoints, of which no private half is here."""
    here = {each.purpose.value for each in list_site_keys(site.site_keys) if each.here}
    with site.store.read() as reader:
        return not {each.purpose for each in reader.site_keys()} <= here


def missing_site_keys(site: Site) -> tuple[str, ...]:
    """The certificates of keys of which the log tells and the folder does not."""
    known = {each.kid for each in list_site_keys(site.site_keys)}
    with site.store.read() as reader:
        return tuple(each.certificate for each in reader.site_keys() if each.kid not in known)


def _register(tx: Transaction, key: SiteKey, now: datetime) -> None:
    kept = KeptSiteKey(
        kid=key.kid, purpose=key.purpose.value, certificate=key.certificate, made_at=key.made_at
    )
    tx.add_site_key(kept)
    tx.append(
        site_events.SiteKeyMade(kid=kept.kid, purpose=kept.purpose, certificate=kept.certificate), at=now
    )


def make_checkpoint(site: Site, keys: SiteKeys, now: datetime) -> Checkpoint | HistoryChanged:
    """Sign the whole log as it stands, read anew, after every earlier checkpoint was found to begin it.

    When nothing has happened since the last one, that one is given again.
    """
    register_site_keys(site, keys.known, now)
    with site.store.read() as reader:
        tree, size, kept = LogTree(anew=True), reader.head(), reader.checkpoints()
        for each in kept:
            if not _begins(tree, reader, keys, each):
                return HistoryChanged(size=each.size)
        root, blocks = tree.find_root(reader, size), tree.blocks(reader, size)
        changed = next(changed_blocks(reader.log_blocks(), blocks), None)
    if root is None or changed is not None:
        return HistoryChanged(size=size, block=changed)
    if kept and kept[-1].size == size:
        return kept[-1]
    return _keep(site, keys.sign_checkpoint(size=size, root=root, at=now), blocks)


def changed_blocks(kept: Mapping[int, str], blocks: Sequence[str]) -> Iterator[int]:
    """The blocks whose kept root is not that of their entries, or that are not full yet."""
    made = dict(enumerate(blocks))
    return (number for number, root in kept.items() if made.get(number) != root)


def place_of(
    site: Site, keys: SiteKeys, tree: LogTree, *, position: int, now: datetime
) -> tuple[Place, Checkpoint] | HistoryChanged | NoSuchEntry:
    """An entry's place, under the newest checkpoint that covers it or under a new one."""
    register_site_keys(site, keys.known, now)
    with site.store.read() as reader:
        size, latest = reader.head(), reader.latest_checkpoint()
        if not 0 < position <= size:
            return NoSuchEntry(position=position)
        if latest is None:
            # Nothing that was signed stands for what was kept; what this process itself has read stands.
            tree = tree if tree.has_read_all else LogTree(anew=True)
        elif not _begins(tree, reader, keys, latest):
            return HistoryChanged(size=latest.size)
        root, blocks = tree.find_root(reader, size), tree.blocks(reader, size)
    if root is None:
        return HistoryChanged(size=size)
    if latest is None or latest.size < position:
        latest = _keep(site, keys.sign_checkpoint(size=size, root=root, at=now), blocks)
    with site.store.read() as reader:
        place = tree.place(reader, position, latest.size)
    # This process may have read the log before somebody changed it.
    return (place, latest) if holds(place, latest) else HistoryChanged(size=latest.size)


def checkpoint_file(site: Site, keys: SiteKeys, now: datetime) -> CheckpointFile | HistoryChanged:
    """A checkpoint of the whole log and, by the digest of each PDF, the place of its issue."""
    checkpoint = make_checkpoint(site, keys, now)
    if isinstance(checkpoint, HistoryChanged):
        return checkpoint
    tree = LogTree(anew=True)
    with site.store.read() as reader:
        issued: Mapping[str, Place] = {
            each.event.pdf_digest: tree.place(reader, each.position, checkpoint.size)
            for each in reader.issued_entries(up_to=checkpoint.size)
            if isinstance(each.event, ISSUED)
        }
    return CheckpointFile(checkpoint=checkpoint, issued=issued)


def _begins(tree: LogTree, reader: Reader, keys: SiteKeys, checkpoint: Checkpoint) -> bool:
    """Whether the site signed this checkpoint, and the log of today begins with it."""
    if checkpoint.size > reader.head() or not keys.signed(checkpoint):
        return False
    return tree.find_root(reader, checkpoint.size) == checkpoint.root


def _keep(site: Site, checkpoint: Checkpoint, blocks: Sequence[str]) -> Checkpoint:
    """Store it, with the roots of the blocks that became full.

    When another process stored one of at least this size in the meantime, that one counts.
    """
    with site.store.write() as tx:
        try:
            # First, and so one after the other: whoever comes second finds the blocks there.
            tx.add_checkpoint(checkpoint)
            kept = tx.log_blocks()
            for number, root in enumerate(blocks):
                if number not in kept:
                    tx.add_log_block(number, root)
        except ConstraintBroken as broken:
            if broken.name != "checkpoints_only_grow":
                raise
            tx.refuse()
        else:
            return checkpoint
    with site.store.read() as reader:
        latest = reader.latest_checkpoint()
    assert latest is not None  # noqa: S101  # it refused ours
    return latest

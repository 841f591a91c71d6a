"""Checkpoints: the whole log is signed, places in it are shown, a changed history is not signed over."""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import text

from app.auditing.checkpointing import (
    HistoryChanged,
    NoSuchEntry,
    checkpoint_file,
    make_checkpoint,
    place_of,
    register_site_keys,
)
from app.keys import (
    ApplicationKey,
    Purpose,
    SiteKeys,
    create_site_keys,
    list_site_keys,
    load_site_keys,
    rotate_site_key,
)
from app.records.checkpoint import Checkpoint, CheckpointFile, Place, file_content, holds, read_file
from app.records.events import AccountChanged, RecordIssued
from app.records.kept import Unit
from app.records.proofs import Tree
from app.records.site_events import SiteKeyMade
from app.site.installation import Site
from app.site.log_tree import LogTree
from app.storage import open_store
from tests.factories.site_keys import owned
from tests.support.tampering import as_database_administrator
from tests.support.together import together

NOW = datetime(2031, 5, 2, 12, 10, tzinfo=UTC)


@dataclass(kw_only=True)
class Office:
    """A site with keys and a log."""

    site: Site
    keys: SiteKeys
    folder: Path
    address: str
    tree: LogTree = field(default_factory=LogTree)

    def happens(self, times: int = 1) -> None:
        """Something is written into the log."""
        with self.site.store.write() as tx:
            for number in range(times):
                tx.append(AccountChanged(person=f"person-{number}", what="made"), at=NOW)

    def issues(self, digest: str) -> int:
        """A record is issued; its entry's position."""
        with self.site.store.write() as tx:
            return tx.append(RecordIssued(edition=1, pdf_digest=digest), at=NOW).position

    def checkpoint(self, at: datetime = NOW) -> Checkpoint:
        made = make_checkpoint(self.site, self.keys, at)
        assert isinstance(made, Checkpoint), made
        return made

    def place(self, position: int, at: datetime = NOW) -> tuple[Place, Checkpoint]:
        found = place_of(self.site, self.keys, self.tree, position=position, now=at)
        assert isinstance(found, tuple), found
        return found

    def leaves(self) -> list[bytes]:
        with self.site.store.read() as reader:
            return list(reader.leaves(after=0, up_to=reader.head()))

    def kept(self) -> tuple[Checkpoint, ...]:
        with self.site.store.read() as reader:
            return reader.checkpoints()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("site") / "keys"
    create_site_keys(made, NOW - timedelta(days=1), owner=owned("Saint Invented"))
    return made


@pytest.fixture
def office(database_url: str, folder: Path) -> Iterator[Office]:
    site = Site(store=open_store(database_url), key=ApplicationKey(content=bytes(32)), site_keys=folder)
    made = Office(site=site, keys=load_site_keys(folder, NOW), folder=folder, address=database_url)
    made.happens(5)
    yield made
    site.store.close()


def test_a_checkpoint_is_of_the_whole_log_and_signed(office: Office) -> None:
    made = office.checkpoint()
    assert made.size == len(office.leaves())
    assert made.root == Tree(office.leaves()).root(made.size).hex()
    assert made.at == NOW
    assert office.keys.signed(made)
    assert office.kept() == (made,)


def test_the_site_s_keys_are_in_the_log_before_anything_is_signed_with_them(office: Office) -> None:
    made = office.checkpoint()
    with office.site.store.read() as reader:
        entries = reader.log_entries(after=0, limit=99)
        assert {each.kid for each in reader.site_keys()} == {office.keys.seal.kid, office.keys.checkpoint.kid}
    named = [each.event for each in entries if isinstance(each.event, SiteKeyMade)]
    assert {(each.kid, each.purpose) for each in named} == {
        (office.keys.seal.kid, "seal"),
        (office.keys.checkpoint.kid, "checkpoint"),
    }
    assert made.size == len(entries)
    assert register_site_keys(office.site, office.keys.known, NOW) == 0
    assert len(office.leaves()) == made.size


def test_several_who_write_the_keys_down_at_the_same_instant_do_it_once(office: Office) -> None:
    known = office.keys.known
    done = together(*(lambda: register_site_keys(office.site, known, NOW) for _ in range(4)))
    assert sorted(map(repr, done)) == ["0", "0", "0", "2"]


def test_when_nothing_happened_the_last_one_is_given_again(office: Office) -> None:
    first = office.checkpoint()
    assert office.checkpoint(NOW + timedelta(hours=8)) == first
    office.happens()
    second = office.checkpoint(NOW + timedelta(hours=8))
    assert second.size == first.size + 1
    assert office.kept() == (first, second)


def test_every_entry_has_its_place(office: Office) -> None:
    for position in range(1, 6):
        place, checkpoint = office.place(position)
        assert place.leaf == office.leaves()[position - 1]
        assert holds(place, checkpoint)
        assert office.keys.signed(checkpoint)
    # One checkpoint covers them all.
    assert len(office.kept()) == 1


def test_a_new_entry_gets_a_new_checkpoint_and_an_old_one_none(office: Office) -> None:
    _, first = office.place(3)
    office.happens(3)
    assert office.place(2)[1] == first
    place, second = office.place(first.size + 2, NOW + timedelta(minutes=1))
    assert holds(place, second)
    assert second.size == first.size + 3
    assert not holds(place, first)


@pytest.mark.parametrize("position", [0, -1, 8])
def test_what_is_not_in_the_log_has_no_place(office: Office, position: int) -> None:
    assert place_of(office.site, office.keys, office.tree, position=position, now=NOW) == NoSuchEntry(
        position=position
    )


def test_the_file_holds_the_place_of_every_issued_record(office: Office) -> None:
    digests = {f"{number:064x}": office.issues(f"{number:064x}") for number in range(3)}
    office.happens(4)
    file = checkpoint_file(office.site, office.keys, NOW)
    assert isinstance(file, CheckpointFile)
    assert file.issued.keys() == digests.keys()
    for digest, place in file.issued.items():
        assert place.position == digests[digest]
        assert digest.encode() in place.leaf
        assert holds(place, file.checkpoint)
    assert read_file(file_content(file)) == file


def test_old_checkpoints_hold_after_the_key_was_rotated(office: Office, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(office.folder, tmp_path / "keys"))
    first = office.checkpoint()
    later = NOW + timedelta(days=9)
    rotate_site_key(folder, later, Purpose.CHECKPOINT, owner=owned("Saint Invented"))
    office.keys = load_site_keys(folder, later)
    second = office.checkpoint(later)
    assert second.kid == office.keys.checkpoint.kid != first.kid
    assert office.keys.signed(first)
    assert office.keys.signed(second)
    # The new key stands in the log.
    assert second.size == first.size + 1
    assert [each.kid for each in list_site_keys(folder)].count(first.kid) == 1


# A history that was changed is noticed and not signed over.

CHANGES = {
    "an entry changed": "UPDATE log_entry SET canonical = canonical WHERE position = 2",
    "an entry taken out": "DELETE FROM log_entry WHERE position = 2",
    "the newest entry cut off": "DELETE FROM log_entry WHERE position = (SELECT size FROM log_head)",
    "the count alone lowered": "UPDATE log_head SET size = size - 1",
    "the end cut off with its count": "UPDATE log_head SET size = size - 1",
    "two entries swapped": (
        "UPDATE log_entry SET position = CASE position WHEN 2 THEN -3 ELSE -2 END WHERE position IN (2, 3)"
    ),
    "a checkpoint's root changed": "UPDATE checkpoint SET root = substr(root, 2) || substr(root, 1, 1)",
    "a checkpoint's time moved": "UPDATE checkpoint SET at = '2031-05-02T12:11:00.000000Z'",
    "a checkpoint's size changed": "UPDATE checkpoint SET size = size - 1",
    "a checkpoint's signature changed": (
        "UPDATE checkpoint SET signature = substr(signature, 2) || substr(signature, 1, 1)"
    ),
    "a checkpoint ascribed to another key": (
        "UPDATE checkpoint SET kid = (SELECT kid FROM site_key WHERE purpose = 'seal')"
    ),
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_changed_history_is_not_signed_over(office: Office, change: str) -> None:
    size = office.checkpoint().size
    with as_database_administrator(office.address) as connection:
        connection.execute(text(CHANGES[change]))
        if change == "an entry changed":
            other = office.leaves()[0]
            connection.execute(
                text("UPDATE log_entry SET canonical = :other WHERE position = 2"), {"other": other}
            )
        if change == "the end cut off with its count":
            connection.execute(text("DELETE FROM log_entry WHERE position > (SELECT size FROM log_head)"))
        if change == "two entries swapped":
            connection.execute(text("UPDATE log_entry SET position = -position WHERE position < 0"))
    changed = make_checkpoint(office.site, office.keys, NOW)
    assert isinstance(changed, HistoryChanged)
    assert changed.size in {size, size - 1}
    # A process that reads the log for the first time notices it too.
    assert isinstance(place_of(office.site, office.keys, LogTree(), position=1, now=NOW), HistoryChanged)
    assert isinstance(checkpoint_file(office.site, office.keys, NOW), HistoryChanged)


def test_a_gap_is_not_signed_even_the_first_time(office: Office) -> None:
    with as_database_administrator(office.address) as connection:
        connection.execute(text("DELETE FROM log_entry WHERE position = 3"))
    assert isinstance(make_checkpoint(office.site, office.keys, NOW), HistoryChanged)
    assert isinstance(place_of(office.site, office.keys, office.tree, position=1, now=NOW), HistoryChanged)
    assert office.kept() == ()


def test_another_process_may_have_signed_in_the_meantime(
    office: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sizes only grow: of two at the same instant the larger one stays, and both are told a good one."""
    sign = SiteKeys.sign_checkpoint

    def overtaken(keys: SiteKeys, *, size: int, root: str, at: datetime) -> Checkpoint:
        monkeypatch.undo()
        office.happens()
        office.checkpoint()
        return sign(keys, size=size, root=root, at=at)

    monkeypatch.setattr(SiteKeys, "sign_checkpoint", overtaken)
    made = office.checkpoint()
    assert office.kept() == (made,)
    assert made.size == len(office.leaves())


def test_units_are_no_part_of_the_log(office: Office) -> None:
    """The twin of the above: what is outside the log changes no root."""
    before = office.checkpoint()
    with office.site.store.write() as tx:
        tx.add_unit(Unit(id="u", name="U"))
    assert office.checkpoint() == before

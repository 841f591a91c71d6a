"""Copies of the database: whole, of one moment, verified, and back at once or not at all, on each engine."""

import json
import secrets
import shutil
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import text

from app.auditing.invariants import check_invariants
from app.config import create_key_file
from app.keys import ApplicationKey, list_site_keys
from app.records.kept import Throttle
from app.records.state import Phase
from app.records.store_verification import Step
from app.site.installation import KeysUnusable, usable_site_keys
from app.storage import ConstraintBroken, Schema, StoreUnavailable, contents, copying, find_schema, open_store
from app.workflow.bringing_back import bring_back
from app.workflow.copies import DATABASE, MANIFEST, Done, Installation, NotDone, make_copy
from app.workflow.stolen_keys import Declared, declare_stolen
from app.workflow.sweeping import sweep_once
from tests.story.people import NADIA, TOMAS
from tests.story.ward import Ward, site_at
from tests.support.postgresql import Cluster
from tests.support.tampering import as_database_administrator
from tests.workflow.test_stolen_keys import OWNER, founder


def said(_step: Step) -> None:
    """Nobody follows how far it is."""


def installation_of(ward: Ward, address: str, tmp_path: Path) -> Installation:
    """The keys of a ward in a folder of their own, and whoever changes them changes no other's."""
    keys = tmp_path / "keys"
    create_key_file(keys / "application.key", b"k" * 32)
    shutil.copytree(ward.site.site_keys, keys / "site")
    ward.site = replace(ward.site, site_keys=keys / "site")
    return Installation(
        address=address,
        owner=address,
        application=ward.site.key,
        application_file=keys / "application.key",
        site_keys=keys / "site",
    )


@pytest.fixture
def of(ward: Ward, database_url: str, tmp_path: Path) -> Installation:
    """An installation with its keys apart from its database."""
    return installation_of(ward, database_url, tmp_path)


@pytest.fixture
def elsewhere(postgresql: Cluster, tmp_path: Path) -> Iterator[Callable[[str], str]]:
    """The address of an engine's database where there is nothing yet."""
    made: list[str] = []

    def address(engine: str) -> str:
        if engine == "sqlite":
            return f"sqlite:///{tmp_path / 'new' / secrets.token_hex(4)}.sqlite3"
        made.append(f"new_{secrets.token_hex(6)}")
        postgresql.create(made[-1])
        return postgresql.url(made[-1])

    yield address
    for each in made:
        postgresql.drop(each)


def copied(of: Installation, folder: Path, ward: Ward) -> Path:
    outcome = make_copy(of, folder, ward.now, said)
    assert isinstance(outcome, Done), outcome
    assert outcome.tally.failing == []
    return folder


def back(copy: Path, of: Installation, address: str, ward: Ward, *, as_it_is: bool = False) -> Done | NotDone:
    return bring_back(copy, replace(of, address=address, owner=address), ward.now, said, as_it_is=as_it_is)


def files(folder: Path) -> list[str]:
    return sorted(each.name for each in folder.iterdir())


def private_halves(of: Installation) -> Iterator[bytes]:
    """The keys of the installation, in each form in which they could have been kept."""
    for file in (of.application_file, *of.site_keys.glob("*.key")):
        yield file.read_bytes().strip()
    yield b"k" * 32


def test_a_copy_comes_back_whole_on_either_engine_and_work_goes_on(
    ward: Ward, of: Installation, elsewhere: Callable[[str], str], tmp_path: Path
) -> None:
    # A record that was sealed, and a reading that waits for its second.
    ward.at_stage(Phase.STARTED)
    sweep_once(ward.site, ward.wait().now, holder="test")
    ward.opens().joins().reads(NADIA)
    copy = copied(of, tmp_path / "copy", ward)
    assert files(copy) == [MANIFEST, DATABASE]
    assert [each.stat().st_mode & 0o077 for each in (copy, copy / DATABASE)] == [0, 0]
    assert not any(key in (copy / DATABASE).read_bytes() for key in private_halves(of))
    for engine in ("sqlite", "postgresql"):
        address = elsewhere(engine)
        assert isinstance(back(copy, of, address, ward), Done)
        assert contents(address) == contents(of.address)
        again = Ward(replace(site_at(address), site_keys=of.site_keys), address)
        again.now, again.check, again.bed = ward.now, ward.check, ward.bed
        # What waited for its second goes on where it was, and what may not change may not here either.
        again.wait().reads(TOMAS).compares()
        assert again.phase is Phase.STEPS
        with pytest.raises(ConstraintBroken), again.site.store.write() as tx:
            tx.add_reading(tx.readings(again.check)[0])
        assert check_invariants(again.site, again.now) == ()
        again.site.store.close()
        refuse_change(address)
        assert files(copy) == [MANIFEST, DATABASE]


def test_after_the_keys_have_ended_copies_are_made_and_come_back(
    ward: Ward, of: Installation, elsewhere: Callable[[str], str], tmp_path: Path
) -> None:
    """Who rotates keys needs a database: where none came back without valid keys, neither could ever be."""
    ward.at_stage(Phase.STARTED)
    sweep_once(ward.site, ward.wait().now, holder="test")
    ward.now += timedelta(days=4000)
    assert isinstance(usable_site_keys(ward.site, ward.now), KeysUnusable)
    copy = copied(of, tmp_path / "copy", ward)

    assert isinstance(back(copy, of, elsewhere("sqlite"), ward), Done)


def refuse_change(address: str) -> None:
    with copying._open(address) as engine, engine.connect() as connection:  # noqa: SLF001  # plain SQL
        with pytest.raises(Exception, match="append_only"):
            connection.execute(text("DELETE FROM log_entry"))
        connection.rollback()


def test_every_table_of_the_program_is_in_a_copy(ward: Ward, of: Installation, tmp_path: Path) -> None:
    told = json.loads((copied(of, tmp_path / "copy", ward) / MANIFEST).read_text())
    with copying._open(of.address) as engine, engine.connect() as connection:  # noqa: SLF001  # what is there
        names = engine.dialect.get_table_names(connection)
    assert set(told["tables"]) == set(names) - {"alembic_version"}
    assert told["tables"]["person"]["rows"] > 1
    assert told["holds"] is True


def test_a_copy_is_of_one_moment_while_others_write(ward: Ward, of: Installation, tmp_path: Path) -> None:
    before = contents(of.address)
    begun, copying_done = threading.Event(), threading.Event()

    def write() -> None:
        store = open_store(of.address)
        with store.write() as tx:
            tx.set_throttle(Throttle(key="somebody", failures=1, not_before=None))
            begun.set()
            assert copying_done.wait(60)
        store.close()

    writing = threading.Thread(target=write)
    writing.start()
    assert begun.wait(60)
    try:
        copy = copied(of, tmp_path / "copy", ward)
    finally:
        copying_done.set()
        writing.join()
    assert contents(f"sqlite:///{copy / DATABASE}") == before
    assert contents(of.address) != before


def test_a_copy_overwrites_nothing_and_lies_apart_from_the_keys(
    ward: Ward, of: Installation, tmp_path: Path
) -> None:
    copy = copied(of, tmp_path / "copy", ward)
    kept = (copy / DATABASE).read_bytes()
    for folder, says in (
        (copy, "is there already"),
        (copy / DATABASE, "is there already"),
        (of.site_keys / "copy", "lies with the keys"),
        (of.application_file.parent / "copy", "lies with the keys"),
        (tmp_path / "not mounted" / "copy", "there is no folder"),
    ):
        outcome = make_copy(of, folder, ward.now, said)
        assert isinstance(outcome, NotDone)
        assert says in outcome.why
    assert (copy / DATABASE).read_bytes() == kept
    (tmp_path / "empty").mkdir()
    copied(of, tmp_path / "empty", ward)


def test_a_damaged_byte_anywhere_is_refused_and_nothing_is_there(
    one_ward: Ward, sqlite_url: str, tmp_path: Path
) -> None:
    of = installation_of(one_ward, sqlite_url, tmp_path)
    copy = copied(of, tmp_path / "copy", one_ward)
    target = tmp_path / "new" / "database.sqlite3"
    for name in (DATABASE, MANIFEST):
        good = (copy / name).read_bytes()
        for at in range(0, len(good), len(good) // 13):
            (copy / name).write_bytes(good[:at] + bytes([good[at] ^ 0x10]) + good[at + 1 :])
            outcome = back(copy, of, f"sqlite:///{target}", one_ward)
            assert isinstance(outcome, NotDone), (name, at)
            assert not target.parent.exists() or files(target.parent) == []
        (copy / name).write_bytes(good[:-5])
        assert isinstance(back(copy, of, f"sqlite:///{target}", one_ward), NotDone)
        (copy / name).write_bytes(good)
    assert isinstance(back(copy, of, f"sqlite:///{target}", one_ward), Done)
    assert files(target.parent) == [target.name]


def test_where_an_installation_is_nothing_is_brought_back(
    ward: Ward, of: Installation, database_url: str, tmp_path: Path
) -> None:
    copy = copied(of, tmp_path / "copy", ward)
    before = contents(database_url)
    outcome = back(copy, of, database_url, ward)
    assert isinstance(outcome, NotDone)
    assert "already" in outcome.why
    assert contents(database_url) == before


def test_what_is_left_beside_a_lost_file_is_not_taken_for_its_own(
    one_ward: Ward, sqlite_url: str, tmp_path: Path
) -> None:
    of = installation_of(one_ward, sqlite_url, tmp_path)
    copy = copied(of, tmp_path / "copy", one_ward)
    (tmp_path / "new").mkdir()
    left = tmp_path / "new" / "database.sqlite3-wal"
    left.write_bytes(b"of another database")
    outcome = back(copy, of, f"sqlite:///{tmp_path / 'new' / 'database.sqlite3'}", one_ward)
    assert isinstance(outcome, NotDone)
    assert str(left) in outcome.why
    assert files(tmp_path / "new") == [left.name]


@pytest.mark.parametrize("engine", ["sqlite", "postgresql"])
@pytest.mark.parametrize("fails", ["database lost", "disk full", "rows lost"])
def test_a_restore_that_fails_half_way_leaves_nothing(
    one_ward: Ward,
    sqlite_url: str,
    tmp_path: Path,
    *,
    elsewhere: Callable[[str], str],
    engine: str,
    fails: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    of = installation_of(one_ward, sqlite_url, tmp_path)
    copy, address = copied(of, tmp_path / "copy", one_ward), elsewhere(engine)

    def fail(*_given: object) -> None:
        if fails == "disk full":
            raise OSError(28, "No space left on device")
        raise StoreUnavailable(outcome_known=True)

    with monkeypatch.context() as broken:
        if fails == "rows lost" and engine == "postgresql":
            broken.setattr(copying, "_contents", lambda _connection: {})
            assert isinstance(back(copy, of, address, one_ward), NotDone)
        else:
            broken.setattr(copying, "_go_on_counting", fail)
            broken.setattr("app.storage.copying.os.link", fail)
            with pytest.raises((OSError, StoreUnavailable)):
                back(copy, of, address, one_ward)
    assert find_schema(address) is Schema.NONE
    assert isinstance(back(copy, of, address, one_ward), Done)


def test_a_copy_that_does_not_hold_is_kept_and_comes_back_only_as_it_is(
    ward: Ward, of: Installation, elsewhere: Callable[[str], str], tmp_path: Path
) -> None:
    named = "UPDATE site_data SET version = '{}' WHERE what = 'policy'"
    with as_database_administrator(of.address) as connection:
        was = connection.execute(text("SELECT version FROM site_data WHERE what = 'policy'")).scalar_one()
        connection.execute(text(named.format(9)))
    outcome = make_copy(of, tmp_path / "copy", ward.now, said)
    assert isinstance(outcome, Done)
    assert outcome.tally.failures
    with as_database_administrator(of.address) as connection:
        connection.execute(text(named.format(was)))
    assert json.loads((tmp_path / "copy" / MANIFEST).read_text())["holds"] is False
    address = elsewhere("sqlite")
    refused = back(tmp_path / "copy", of, address, ward)
    assert isinstance(refused, NotDone)
    assert refused.tally
    assert refused.tally.failures == outcome.tally.failures
    assert find_schema(address) is Schema.NONE
    assert isinstance(back(tmp_path / "copy", of, address, ward, as_it_is=True), Done)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (
            "UPDATE alembic_version SET version_num = '0001'",
            "the copy is of an older version of this program",
        ),
        ("UPDATE alembic_version SET version_num = '9999'", "the copy is of a newer version of this program"),
    ],
)
def test_a_copy_of_another_version_is_told(
    one_ward: Ward,
    sqlite_url: str,
    tmp_path: Path,
    *,
    change: str,
    says: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    of = installation_of(one_ward, sqlite_url, tmp_path)

    def settle_another(file: Path) -> None:
        with as_database_administrator(f"sqlite:///{file}") as connection:
            connection.execute(text(change))
        copying.settle(file)

    with monkeypatch.context() as other:
        other.setattr("app.workflow.copies.settle", settle_another)
        copy = copied(of, tmp_path / "copy", one_ward)
    address = f"sqlite:///{tmp_path / 'new.sqlite3'}"
    outcome = back(copy, of, address, one_ward)
    assert isinstance(outcome, NotDone)
    assert outcome.why.startswith(says)
    told = json.loads((copy / MANIFEST).read_text())
    (copy / MANIFEST).write_text(json.dumps({**told, "format": "countersign.copy/9"}))
    outcome = back(copy, of, address, one_ward)
    assert isinstance(outcome, NotDone)
    assert "countersign.copy/9, which this version of the program does not know" in outcome.why


def test_keys_from_before_a_theft_and_keys_of_another_bring_nothing_back(
    ward: Ward, of: Installation, elsewhere: Callable[[str], str], tmp_path: Path
) -> None:
    shutil.copytree(of.site_keys, tmp_path / "older")
    stolen = next(each for each in list_site_keys(of.site_keys) if each.purpose.value == "seal")
    declared = declare_stolen(
        ward.site,
        ward.now,
        kid=stolen.kid,
        since=ward.now - timedelta(hours=1),
        by=(founder(NADIA), founder(TOMAS)),
        owner=OWNER,
    )
    assert isinstance(declared, Declared)
    copy, address = copied(of, tmp_path / "copy", ward), elsewhere("sqlite")
    for wrong, says in (
        (replace(of, site_keys=tmp_path / "older"), "the keys are older than the log"),
        (replace(of, application=ApplicationKey(content=b"x" * 32)), "belongs to another installation"),
    ):
        outcome = back(copy, wrong, address, ward)
        assert isinstance(outcome, NotDone)
        assert says in outcome.why
        assert find_schema(address) is Schema.NONE
    assert not (of.site_keys / f"seal-{stolen.kid}.key").exists()
    assert isinstance(back(copy, of, address, ward), Done)

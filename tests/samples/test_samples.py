"""The kept samples verify today: their files and their stores, on both engines, through each migration."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from alembic import command
from sqlalchemy import Engine, text

from app.auditing.invariants import check_invariants
from app.auditing.verifying import PublicMaterial, read_material, verify_file
from app.auditing.verifying_store import Wanted, verify_store
from app.keys import create_site_keys, list_site_keys, public_file
from app.records.checkpoint import Checkpoint, CheckpointFile, read_file
from app.records.store_verification import Failing, Progress, Step
from app.records.verification import Verification
from app.site.installation import Site
from app.storage import migrate
from app.storage.migrate import alembic_config
from tests.factories.site_keys import MADE_AT, owned
from tests.samples.make import HERE
from tests.samples.rows import write_rows
from tests.storage.conftest import engine_of
from tests.story.ward import BEGAN, site_at

# Who has a sealed record, and in which format it is.
RECORDS = {"today": "countersign.record/2"}
STORES = ["today"]


@contextmanager
def installed(address: str, name: str, folder: Path) -> Iterator[tuple[Site, str]]:
    """The sample's store in an installation of other secret keys, and the certificates that are trusted."""
    # Made when the sample's own were: neither takes the place of the other.
    create_site_keys(folder, MADE_AT, owner=owned("Larkmoor General Hospital (invented)"))
    certificates = public_file(list_site_keys(folder))
    kept = HERE / name / "site.pem"
    if kept.exists():
        certificates += kept.read_text(encoding="ascii")
    found = site_at(address)
    site = Site(store=found.store, key=found.key, site_keys=folder)
    try:
        yield site, certificates
    finally:
        site.store.close()


def verified(site: Site, certificates: str, name: str) -> list[Step]:
    wanted = Wanted(certificates=certificates, checkpoint=_checkpoint(name))
    steps = verify_store(site, BEGAN.replace(day=3), wanted)
    assert isinstance(steps, Iterator)
    return list(steps)


def _checkpoint(name: str) -> Checkpoint | None:
    file = HERE / name / "checkpoint.json"
    if not file.exists():
        return None
    read = read_file(file.read_bytes())
    assert isinstance(read, CheckpointFile)
    return read.checkpoint


def failing(steps: list[Step]) -> list[Failing]:
    return [each for each in steps if isinstance(each, Failing)]


@pytest.mark.parametrize("name", RECORDS)
def test_the_record_verifies_by_its_file_and_the_public_material(name: str) -> None:
    folder = HERE / name
    material = read_material((folder / "site.pem").read_bytes(), (folder / "checkpoint.json").read_bytes())
    assert isinstance(material, PublicMaterial)
    found = verify_file((folder / "record-1.pdf").read_bytes(), material)
    assert isinstance(found, Verification)
    assert found.holds, [each.says for each in found.answers if each.holds is False]
    with_one_more = verify_file((folder / "record-1.pdf").read_bytes() + b"\n", material)
    assert isinstance(with_one_more, Verification)
    assert not with_one_more.holds


@pytest.fixture
def carried(request: pytest.FixtureRequest, empty_database_url: str) -> str:
    """The rows of a sample, put in as its migration had them and carried by every later one."""
    with engine_of(empty_database_url) as engine:
        put_in(engine, "head", HERE / request.param / "rows.json")
    migrate(empty_database_url)
    return empty_database_url


def put_in(engine: Engine, revision: str, file: Path) -> None:
    with engine.connect() as connection:
        connection.execution_options(writing=True)
        with connection.begin():
            config = alembic_config()
            config.attributes["connection"] = connection
            command.upgrade(config, revision)
            write_rows(connection, file)


@pytest.mark.parametrize(("carried", "name"), [(each, each) for each in STORES], indirect=["carried"])
def test_the_store_verifies_with_each_migration_that_it_was_carried_through(
    carried: str, name: str, tmp_path: Path
) -> None:
    with installed(carried, name, tmp_path / "keys") as (site, certificates):
        steps = verified(site, certificates, name)
        assert failing(steps) == []
        last = steps[-1]
        assert isinstance(last, Progress)
        assert (last.checks, last.of_checks, last.records) == (1, 1, int(name in RECORDS))
        assert check_invariants(site, BEGAN.replace(day=3)) == ()
        with site.store.read() as reader:
            ((_, check),) = reader.opened_checks(after=0, limit=2)
            (frozen,) = reader.frozen_records(check)
            assert len(reader.signatures(check)) == 2
        assert frozen.told["format"] == RECORDS[name]


@pytest.mark.parametrize(("carried", "name"), [(each, each) for each in STORES], indirect=["carried"])
def test_a_sample_in_which_something_was_changed_does_not_verify(
    carried: str, name: str, tmp_path: Path
) -> None:
    with engine_of(carried) as engine, engine.connect() as connection:
        connection.execution_options(writing=True)
        with connection.begin():
            connection.execute(text("UPDATE person SET printed_name = 'Nadja Ferrow' WHERE id = 'nadia'"))
    with installed(carried, name, tmp_path / "keys") as (site, certificates):
        assert failing(verified(site, certificates, name))


def test_the_file_of_a_store_verifies_as_it_lies(tmp_path: Path) -> None:
    file = tmp_path / "store.sqlite3"
    shutil.copyfile(HERE / "today" / "store.sqlite3", file)
    migrate(f"sqlite:///{file}")
    with installed(f"sqlite:///{file}", "today", tmp_path / "keys") as (site, certificates):
        assert failing(verified(site, certificates, "today")) == []
        assert check_invariants(site, BEGAN.replace(day=3)) == ()


def test_they_are_small() -> None:
    kept = [each for each in HERE.glob("*/*") if each.suffix != ".pyc"]
    assert len(kept) > len(STORES)
    assert all(each.stat().st_size < 600_000 for each in kept)

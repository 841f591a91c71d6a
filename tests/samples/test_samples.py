"""What was released, and what is written today, is read and verifies: by files alone and on both engines."""

import json
import shutil
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path

import pytest
from alembic import command
from sqlalchemy import text

from app.accounting import AccountCase, balance, read_account
from app.auditing.invariants import check_invariants
from app.auditing.recomputing import why_not_signable
from app.auditing.verifying import PublicMaterial, read_material, verify_file
from app.auditing.verifying_export import ExportVerification, verify_export
from app.auditing.verifying_store import Wanted, verify_store
from app.comparison import Case, evaluate, read_case
from app.config import root
from app.keys import create_site_keys, list_site_keys, public_file
from app.records.checkpoint import CheckpointFile, read_file
from app.records.formats import FORMATS
from app.records.kept import FrozenRecord
from app.records.kinds import KINDS, REPEAT_SET_UP
from app.records.order_message import ReadOrder, read_order
from app.records.sealed import opened
from app.records.store_verification import Failing
from app.records.verification import Verification
from app.site.installation import Site
from app.storage import migrate
from app.storage.migrate import alembic_config
from app.workflow.export_jobs import FORMS
from app.workflow.rule_faults import faults_of, unit_ids
from app.workflow.rule_files import RuleFiles, read_rules
from tests.factories.site_keys import MADE_AT, owned
from tests.samples.formats import formats_in
from tests.samples.make import HERE, RELEASED, SEALED, files_of, list_of, main
from tests.samples.rows import pour_store, revision_of
from tests.storage.conftest import engine_of
from tests.story.ward import BEGAN, site_at

# While its keys last.
LONG_AFTER = BEGAN.replace(year=2033)
VERSION = tomllib.loads((root() / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
FOLDERS = sorted(
    each for each in (HERE / "today", *RELEASED.glob("*/")) if each.is_dir() and not each.name.startswith("_")
)
MOST_BYTES = 2_000_000
# The kinds of check that the first release did not have.
SINCE = {REPEAT_SET_UP.name: (1, 2)}


@pytest.fixture(params=FOLDERS, ids=lambda each: each.name)
def folder(request: pytest.FixtureRequest) -> Path:
    assert isinstance(request.param, Path)
    return request.param


def material_of(folder: Path) -> PublicMaterial:
    found = read_material((folder / "site.pem").read_bytes(), (folder / "checkpoint.json").read_bytes())
    assert isinstance(found, PublicMaterial)
    return found


def came_after(kind: str, release: str) -> bool:
    """Whether a kind of check is newer than a release; today has them all."""
    if release == "today":
        return False
    return tuple(int(each) for each in release.split(".")) < SINCE.get(kind, ())


# By files alone


@pytest.mark.parametrize("name", SEALED.values())
def test_a_sealed_file_verifies_by_the_public_material_alone(folder: Path, name: str) -> None:
    content, material = (folder / name).read_bytes(), material_of(folder)
    found = verify_file(content, material, pages=False)
    assert isinstance(found, Verification)
    assert found.holds, [each.says for each in found.answers if each.holds is False]
    with_one_more = verify_file(content + b"\n", material, pages=False)
    assert isinstance(with_one_more, Verification)
    assert not with_one_more.holds


def test_each_export_is_what_its_manifest_says(folder: Path, tmp_path: Path) -> None:
    certificates = (folder / "site.pem").read_text(encoding="ascii")
    manifests = sorted((folder / "exports").glob("*.manifest.json"))
    assert len(manifests) == 2 * len(FORMS) - 1
    for each in manifests:
        found = verify_export(each, certificates)
        assert isinstance(found, ExportVerification)
        assert (found.holds, found.whole) == (True, True), found.answers
    shutil.copytree(folder / "exports", tmp_path / "changed")
    changed = tmp_path / "changed" / "identified.csv"
    changed.write_bytes(changed.read_bytes().replace(b"2031", b"2032", 1))
    found = verify_export(changed, certificates)
    assert isinstance(found, ExportVerification)
    assert not found.holds


def test_each_case_comes_to_its_kept_result(folder: Path) -> None:
    """An engine that says it in other words is held to codes, severities and exact values instead."""
    case = read_case((folder / "case.json").read_bytes())
    account = read_account((folder / "account.json").read_bytes())
    assert isinstance(case, Case)
    assert isinstance(account, AccountCase)
    assert evaluate(case).as_json() == json.loads((folder / "result.json").read_bytes())
    assert balance(account).as_json() == json.loads((folder / "balance.json").read_bytes())


def test_each_rules_document_is_read_and_without_a_fault(folder: Path, tmp_path: Path) -> None:
    for each in (folder / "rules").iterdir():
        shutil.copy(each, tmp_path)
    shutil.copy(root() / "seed_data" / "units.json", tmp_path)
    rules = read_rules(tmp_path)
    assert isinstance(rules, RuleFiles)
    assert faults_of(rules, unit_ids(rules)) == ()


def test_the_record_of_each_kind_of_check_is_read(folder: Path) -> None:
    records = {
        each.stem: FrozenRecord(check="", edition=1, at=BEGAN, document=each.read_bytes(), digest="").told
        for each in (folder / "records").iterdir()
    }
    assert {each for each in KINDS if not came_after(each, folder.name)} <= set(records)
    assert {kind: list(why_not_signable(each)) for kind, each in records.items()} == {
        kind: [] for kind in records
    }


def test_a_reading_is_opened_and_an_order_is_read(folder: Path) -> None:
    assert opened((folder / "reading.json").read_bytes()).answers
    library = json.loads((folder / "rules" / "library.json").read_bytes())
    order = read_order((folder / "order.json").read_bytes(), drugs=tuple(library["drugs"]))
    assert isinstance(order, ReadOrder)
    assert order.is_active


# In a database


@pytest.fixture
def store(folder: Path, empty_database_url: str) -> str:
    """The store as its revision had it, carried by every later migration, on either engine."""
    file = folder / "store" / "countersign.sqlite3"
    if empty_database_url.startswith("sqlite"):
        shutil.copyfile(file, empty_database_url.removeprefix("sqlite:///"))
    else:
        with engine_of(empty_database_url) as engine, engine.begin() as connection:
            config = alembic_config()
            config.attributes["connection"] = connection
            command.upgrade(config, revision_of(file))
            pour_store(file, connection)
    migrate(empty_database_url)
    return empty_database_url


@contextmanager
def installed(address: str, folder: Path, keys: Path) -> Iterator[tuple[Site, Wanted]]:
    """The store in an installation of other secret keys, and what is trusted of the sample's own."""
    # Made when the sample's own were: neither takes the place of the other.
    create_site_keys(keys, MADE_AT, owner=owned("Larkmoor General Hospital (invented)"))
    certificates = public_file(list_site_keys(keys)) + (folder / "site.pem").read_text(encoding="ascii")
    read = read_file((folder / "checkpoint.json").read_bytes())
    assert isinstance(read, CheckpointFile)
    found = site_at(address)
    site = Site(store=found.store, key=found.key, site_keys=keys)
    try:
        yield site, Wanted(certificates=certificates, checkpoint=read.checkpoint, pages=False)
    finally:
        site.store.close()


def failing(site: Site, wanted: Wanted) -> list[Failing]:
    steps = verify_store(site, LONG_AFTER, wanted)
    assert isinstance(steps, Iterator)
    return [each for each in steps if isinstance(each, Failing)]


def test_the_store_holds_and_something_that_was_changed_in_it_is_found(
    store: str, folder: Path, tmp_path: Path
) -> None:
    with installed(store, folder, tmp_path / "keys") as (site, wanted):
        assert failing(site, wanted) == []
        assert check_invariants(site, LONG_AFTER) == ()
        with engine_of(store) as engine, engine.connect() as connection:
            connection.execution_options(writing=True)
            with connection.begin():
                connection.execute(text("UPDATE person SET printed_name = 'Nadja Ferrow' WHERE id = 'nadia'"))
        assert failing(site, wanted)


# What is there, and stays


def test_no_byte_of_what_is_kept_has_changed(folder: Path) -> None:
    told = json.loads(list_of(folder).read_bytes())
    found = {name: sha256(each.read_bytes()).hexdigest() for name, each in files_of(folder).items()}
    assert found == told["sha256"]
    assert sum(each.stat().st_size for each in files_of(folder).values()) < MOST_BYTES


def test_every_format_that_was_kept_is_read_and_every_version_that_is_read_was_kept() -> None:
    said: set[str] = set()
    for each in FOLDERS:
        told = json.loads(list_of(each).read_bytes())["formats"]
        assert set(told) == {one for file in files_of(each).values() for one in formats_in(file)}
        said |= set(told)
    assert said == {each.said(version) for each in FORMATS for version in each.versions}


def test_a_version_that_is_released_has_its_samples() -> None:
    released = {each.name for each in FOLDERS} - {"today"}
    assert FOLDERS
    assert VERSION.startswith("0.") or VERSION in released


def test_what_was_released_is_never_written_over(tmp_path: Path) -> None:
    (tmp_path / "1.0.0").mkdir()
    with pytest.raises(SystemExit, match="is there already"):
        main(["--release", "1.0.0", "--into", str(tmp_path)])
    assert list(tmp_path.iterdir()) == [tmp_path / "1.0.0"]

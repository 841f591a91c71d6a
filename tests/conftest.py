"""The strict harness: nothing is skipped, nothing leaves the machine, both database engines take part."""

import os
import secrets
import shutil
import sqlite3
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import pytest
import pytest_socket
from hypothesis import settings

from tests.support import quick, strictness
from tests.support.postgresql import Cluster, shared_cluster

if TYPE_CHECKING:
    from tests.reports.sealed import Story
    from tests.story.ward import Ward

quick.keep_files_in_memory()
quick.compile_templates_once()
quick.compile_statements_once()
quick.hash_secrets_once()

# The same examples every time, so that a red run can be repeated; HYPOTHESIS_PROFILE=thorough looks further.
settings.register_profile("steady", derandomize=True, deadline=None, database=None, max_examples=100)
settings.register_profile("thorough", deadline=None, max_examples=5000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """A test that was skipped has failed."""
    report = yield
    strictness.refuse_skip(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """A file that was skipped has failed."""
    report = yield
    strictness.refuse_skip(report)
    return report


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The tests of pure packages reach no database; of all tests, shuffled by now, the longest begin."""
    strictness.refuse_database_in_pure_tests(items)
    quick.begin_with_the_longest(items)


def pytest_collection_finish() -> None:
    """All is loaded that will be."""
    quick.collect_less()


@pytest.fixture(autouse=True)
def _pure_tests_reach_nothing(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> Iterator[None]:
    """In the tests of pure packages a socket cannot be made and a database cannot be opened."""
    if not strictness.is_pure(request.path):
        yield
        return

    def refuse(*_arguments: object, **_options: object) -> NoReturn:
        message = "the test of a pure package opened a database"
        raise AssertionError(message)

    monkeypatch.setattr(sqlite3, "connect", refuse)
    pytest_socket.disable_socket()
    yield
    pytest_socket.enable_socket()


def _run_of(config: pytest.Config) -> int:
    """The process that the whole run belongs to: this one, or the one that started this worker."""
    return os.getppid() if hasattr(config, "workerinput") else os.getpid()


@pytest.fixture(scope="session")
def postgresql(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Cluster:
    """The run's PostgreSQL cluster, shared by all workers; its absence is an error, never a skip."""
    own = tmp_path_factory.getbasetemp()
    shared = own.parent if hasattr(request.config, "workerinput") else own
    return shared_cluster(shared, _run_of(request.config))


@pytest.fixture(scope="session")
def _migrated_postgresql(postgresql: Cluster) -> str:
    """The name of a migrated, empty database that others are copied from."""
    from app.storage import migrate

    name = f"template_{secrets.token_hex(6)}"
    postgresql.create(name)
    migrate(postgresql.url(name))
    return name


@pytest.fixture(scope="session")
def _migrated_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated, empty file that others are copied from."""
    from app.storage import migrate

    path = tmp_path_factory.mktemp("migrated") / "countersign.sqlite3"
    migrate(f"sqlite:///{path}")
    with sqlite3.connect(path) as connection:
        # What is still in the write-ahead log would not be copied.
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    return path


@pytest.fixture
def sqlite_url(_migrated_sqlite: Path, tmp_path: Path) -> str:
    """A fresh, migrated SQLite database."""
    path = tmp_path / "countersign.sqlite3"
    shutil.copyfile(_migrated_sqlite, path)
    return f"sqlite:///{path}"


@pytest.fixture
def postgresql_url(postgresql: Cluster, _migrated_postgresql: str) -> Iterator[str]:
    """A fresh, migrated PostgreSQL database."""
    name = f"test_{secrets.token_hex(6)}"
    postgresql.create(name, template=_migrated_postgresql)
    yield postgresql.url(name)
    postgresql.drop(name)


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest) -> str:
    """A fresh, migrated database: the test runs once on each engine."""
    url: str = request.getfixturevalue(f"{request.param}_url")
    return url


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """A fresh database without tables, for the tests of migrations: once on each engine."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.sqlite3'}"
        return
    cluster: Cluster = request.getfixturevalue("postgresql")
    name = f"empty_{secrets.token_hex(6)}"
    cluster.create(name)
    yield cluster.url(name)
    cluster.drop(name)


@pytest.fixture
def ward(database_url: str) -> Iterator["Ward"]:
    """A ward; the test runs once on each database engine, and whatever it did keeps the invariants."""
    from app.auditing.invariants import check_invariants
    from tests.story.ward import open_ward

    with open_ward(database_url) as made:
        yield made
        assert check_invariants(made.site, made.now) == ()


@pytest.fixture
def one_ward(sqlite_url: str) -> Iterator["Ward"]:
    """A ward on SQLite alone, for what the engine of the database has no part in."""
    from app.auditing.invariants import check_invariants
    from tests.story.ward import open_ward

    with open_ward(sqlite_url) as made:
        yield made
        assert check_invariants(made.site, made.now) == ()


@pytest.fixture(scope="session")
def story(tmp_path_factory: pytest.TempPathFactory) -> "Story":
    """A record signed, proved and sealed, and its site: made once for all who look at it."""
    from tests.reports.sealed import tell

    return tell(tmp_path_factory.mktemp("site") / "site-keys")


@pytest.fixture
def quick_pdf(monkeypatch: pytest.MonkeyPatch) -> None:
    """No rendering, where only the storing of a PDF is asked about: one takes seconds."""
    from tests.factories.quick_pdf import without_rendering

    without_rendering(monkeypatch)

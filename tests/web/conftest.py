"""A furnished installation behind the web, copied for each test; helpers stand in tests/support/world.py."""

import itertools
import secrets
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from app.site.installation import Site
from app.storage import open_store
from app.workflow import accounts, comparing, opening
from tests.factories.site_keys import site_keys
from tests.story.stages import Stages
from tests.support.quick import drawn_once
from tests.support.world import KEY, World, furnish, make_world


@pytest.fixture(scope="session")
def _furnished(_migrated_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A furnished SQLite file that others are copied from."""
    path = tmp_path_factory.mktemp("furnished") / "countersign.sqlite3"
    shutil.copyfile(_migrated_sqlite, path)
    store = open_store(f"sqlite:///{path}")
    furnish(Site(store=store, key=KEY, site_keys=site_keys()))
    store.close()
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    return path


@pytest.fixture(scope="session")
def _stages(_furnished: Path, tmp_path_factory: pytest.TempPathFactory) -> Stages:
    """Stages that were walked to in copies of the furnished file."""
    return Stages(folder=tmp_path_factory.mktemp("stages"))


@pytest.fixture(autouse=True)
def _draws_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every route is asked for by everybody, and each paper among them is drawn once."""
    monkeypatch.setattr("app.reports.pdf.make_pdf", drawn_once())


@pytest.fixture
def world(_furnished: Path, _stages: Stages, tmp_path: Path) -> Iterator[World]:
    """A furnished installation on SQLite."""
    path = tmp_path / "world.sqlite3"
    shutil.copyfile(_furnished, path)
    store = open_store(f"sqlite:///{path}")
    made = make_world(store)
    made.database, made.stages = path, _stages
    yield made
    store.close()


@pytest.fixture
def world_on_both(database_url: str) -> Iterator[World]:
    """A furnished installation, once on each engine: for what the database decides."""
    store = open_store(database_url)
    furnish(Site(store=store, key=KEY, site_keys=site_keys()))
    yield make_world(store)
    store.close()


@pytest.fixture
def worlds(
    _furnished: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Callable[[], World]]:
    """Makes worlds that are the same down to every id, token and code."""
    made: list[World] = []

    def make() -> World:
        path = tmp_path / f"world-{len(made)}.sqlite3"
        shutil.copyfile(_furnished, path)
        _freeze_randomness(monkeypatch)
        world = make_world(open_store(f"sqlite:///{path}"))
        world.ids = (f"{number:032x}" for number in itertools.count(1))
        made.append(world)
        return world

    yield make
    for each in made:
        each.site.store.close()


def _freeze_randomness(monkeypatch: pytest.MonkeyPatch) -> None:
    tokens, codes, salts = itertools.count(1), itertools.count(1), itertools.count(1)
    # Of a challenge for a passkey, and of a request's own id, nobody learns anything.
    monkeypatch.setattr(secrets, "token_bytes", bytes)
    monkeypatch.setattr(secrets, "token_hex", lambda size=16: f"{next(tokens):0{2 * size}x}")
    monkeypatch.setattr(secrets, "token_urlsafe", lambda size=32: f"token-{next(tokens):0{size}d}")
    monkeypatch.setattr(opening, "make_join_code", lambda: f"CDF{next(codes):03d}")
    monkeypatch.setattr(comparing, "new_salt", lambda: next(salts).to_bytes(32))
    monkeypatch.setattr(accounts, "make_code", lambda: f"CODE-{next(codes):04d}")

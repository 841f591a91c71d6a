import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from app.auditing import verifying_checks
from app.storage import open_store
from tests.factories.quick_pdf import without_rendering
from tests.invariants.twins import Told, Twin, verify_once
from tests.story.ward import Ward, open_ward
from tests.story.whole_life import fill_every_table


@pytest.fixture
def ward(sqlite_url: str) -> Iterator[Ward]:
    """A ward on SQLite."""
    with open_ward(sqlite_url) as made:
        yield made


@pytest.fixture
def quick_pdf(monkeypatch: pytest.MonkeyPatch) -> None:
    """No rendering: one takes seconds."""
    without_rendering(monkeypatch)


@pytest.fixture(scope="session")
def told(_migrated_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Told]:
    """Filled once for all tests of a whole database, with real keys, seals and pages."""
    folder = tmp_path_factory.mktemp("told")
    file = folder / "countersign.sqlite3"
    shutil.copyfile(_migrated_sqlite, file)
    with open_ward(f"sqlite:///{file}") as ward:
        kept = fill_every_table(ward)
        plain = folder / "plain.sqlite3"
        with closing(sqlite3.connect(file)) as connection, closing(sqlite3.connect(plain)) as copy:
            connection.backup(copy)
            for (name,) in copy.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
                copy.execute(f'DROP TRIGGER "{name}"')
            copy.commit()
        place = folder / "twin.sqlite3"
        store = open_store(f"sqlite:///{place}")
        yield Told(file=plain, ward=ward, kept=kept, place=place, store=store)


@pytest.fixture
def twin(told: Told, monkeypatch: pytest.MonkeyPatch) -> Twin:
    """A fresh copy of it, to be changed."""
    monkeypatch.setattr(verifying_checks, "verify_file", verify_once)
    for left in told.place.parent.glob(f"{told.place.name}*"):
        left.unlink()
    shutil.copyfile(told.file, told.place)
    return Twin(file=told.place, told=told)

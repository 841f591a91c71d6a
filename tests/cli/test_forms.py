"""The downtime forms on the command line: what a quiet computer holds is what the page gives."""

import os
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from app.cli import main
from app.config import load_settings
from app.keys import load_key
from app.site.installation import Site
from app.storage import open_store
from app.workflow.downtime import Forms, downtime_forms
from tests.factories.invented_site import install


@pytest.fixture(autouse=True)
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sqlite_url: str) -> dict[str, str]:
    env = {
        "DATABASE_URL": sqlite_url,
        "COUNTERSIGN_KEY_FILE": str(tmp_path / "keys" / "application.key"),
        "COUNTERSIGN_SITE_KEYS": str(tmp_path / "keys" / "site"),
    }
    for name, value in env.items():
        monkeypatch.setenv(name, value)
    made = install()
    assert made.exit_code == 0, made.output
    return env


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["forms", *map(str, words)])


def test_one_unit_is_written_and_is_what_the_page_gives(tmp_path: Path, installed: dict[str, str]) -> None:
    told = run("--unit", "recovery", tmp_path / "papers")
    assert told.exit_code == 0, told.output
    (written,) = (tmp_path / "papers").iterdir()
    assert written.name == "countersign-downtime-recovery.pdf"
    assert "policy-9 (" in told.output
    made = load_settings(installed)
    site = Site(store=open_store(made.database_url), key=load_key(made.key_file), site_keys=made.site_keys)
    # Whenever it is asked for, as long as the rules stay.
    given = downtime_forms(site, datetime(2099, 1, 1, tzinfo=UTC), "recovery")
    site.store.close()
    assert isinstance(given, Forms)
    assert written.read_bytes() == given.pdf


def test_without_a_unit_it_writes_those_of_all_and_replaces_what_is_there(tmp_path: Path) -> None:
    old = tmp_path / "countersign-downtime-recovery.pdf"
    old.write_bytes(b"of last year")
    assert run(tmp_path).exit_code == 0
    assert {each.name for each in tmp_path.glob("*.pdf")} == {
        "countersign-downtime-recovery.pdf",
        "countersign-downtime-ward-4-east.pdf",
    }
    assert old.read_bytes().startswith(b"%PDF-")
    assert not list(tmp_path.glob(".*"))


def test_a_unit_that_is_not_there_is_said_and_nothing_is_written(tmp_path: Path) -> None:
    told = run("--unit", "recovery", "--unit", "ward-9", tmp_path / "papers")
    assert told.exit_code == 2
    assert "there is no unit ward-9; there are: recovery, ward-4-east" in told.output
    assert not (tmp_path / "papers").exists()


def test_a_file_that_cannot_be_written_leaves_nothing_half(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    told = run("--unit", "recovery", tmp_path / "papers")
    assert told.exit_code == 2
    assert "No space left on device" in told.output
    assert list((tmp_path / "papers").iterdir()) == []

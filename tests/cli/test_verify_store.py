"""`countersign verify --store` as an operator runs it."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from sqlalchemy import text

from app.cli import main, verify_store
from app.records.store_verification import Failing, Progress, Step
from tests.factories.invented_site import install
from tests.support.tampering import as_database_administrator


def verified(*words: str) -> Result:
    return CliRunner().invoke(main, ["verify", "--store", *words])


@pytest.fixture
def installed(sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """An installation with its keys and rules; the database's address."""
    monkeypatch.setenv("DATABASE_URL", sqlite_url)
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "keys" / "application.key"))
    monkeypatch.setenv("COUNTERSIGN_SITE_KEYS", str(tmp_path / "keys" / "site"))
    assert install().exit_code == 0
    return sqlite_url


def test_an_installation_holds_until_somebody_changes_it(installed: str, tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    kept.mkdir()
    (kept / "site.pem").write_text(CliRunner().invoke(main, ["keys", "public"]).output)
    printed = CliRunner().invoke(main, ["keys", "checkpoint", "--file", str(kept / "checkpoint.json")])
    (kept / "paper.txt").write_text(printed.output)
    for words in (
        ["--without-pages"],
        ["--checkpoint", str(kept / "checkpoint.json")],
        ["--checkpoint", str(kept / "paper.txt"), "--site", str(kept / "site.pem")],
    ):
        ran = verified(*words)
        assert ran.exit_code == 0, ran.output
        assert "EVERYTHING HOLDS." in ran.output
        assert ("the pages were not made again" in ran.output) is ("--without-pages" in words)

    with as_database_administrator(installed) as connection:
        connection.execute(text("UPDATE site_data SET version = '9' WHERE what = 'policy'"))
    changed = verified()
    assert changed.exit_code == 1
    assert "DOES NOT HOLD  the site: site_data.version: it is not what the log says" in changed.output
    said = json.loads(verified("--json").output)
    assert (said["holds"], said["failing"][0]["about"]) == (False, "site_data.version")


def test_what_cannot_be_asked(installed: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert installed
    assert CliRunner().invoke(main, ["verify"]).exit_code == 2
    file = tmp_path / "file"
    file.write_bytes(b"nothing of the kind")
    for words in ([str(file)], ["--checkpoint", str(file)], ["--site", str(file)], ["--after", "-1"]):
        assert verified(*words).exit_code == 2, words
    assert CliRunner().invoke(main, ["verify", str(file), "--without-pages"]).exit_code == 2
    monkeypatch.setenv("COUNTERSIGN_SITE_KEYS", str(tmp_path / "nowhere"))
    assert verified().exit_code == 2
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "nowhere.key"))
    assert verified().exit_code == 2


def test_a_database_without_an_installation(
    installed: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert installed
    monkeypatch.setenv("DATABASE_URL", f"sqlite:///{tmp_path / 'none.sqlite3'}")
    ran = verified()
    assert ran.exit_code == 2
    assert "HOLD" not in ran.output


@pytest.mark.parametrize("found", [(), (Failing(check="c", about="pdf.digest", what="it is another"),)])
def test_an_interruption_says_where_to_go_on(
    installed: str, found: tuple[Step, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert installed

    def interrupted(*_: object) -> Iterator[Step]:
        yield from found
        yield Progress(entries=90, checks=2, of_checks=5, records=2, position=41)
        raise KeyboardInterrupt

    monkeypatch.setattr(verify_store, "verify_store", interrupted)
    monkeypatch.setattr(verify_store, "_OFTEN", 0.0)
    ran = verified()
    assert ran.exit_code == (1 if found else 2)
    assert "2 of 5 checks, 2 records" in ran.stderr
    assert "interrupted; go on with --after 41" in ran.stderr
    assert "\nEVERYTHING HOLDS" not in ran.stdout
    assert json.loads(verified("--json").stdout)["position"] == 41

"""`countersign backup` and `countersign restore` as an operator runs them: one line for each fault."""

import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from sqlalchemy.exc import DatabaseError

from app.cli import main
from app.storage import Schema, find_schema
from tests.factories.invented_site import install, own_rules

PASSPHRASE = "nine lanterns under the bridge"


def run(*words: str, typed: str = "", **changed: str) -> Result:
    return CliRunner().invoke(main, list(words), input=typed, env=changed)


def refused(ran: Result) -> str:
    """The one line of a command that did nothing."""
    assert ran.exit_code == 2, ran.output
    assert isinstance(ran.exception, SystemExit)
    (line,) = ran.output.splitlines()
    assert line.startswith("error: ")
    return line


@pytest.fixture
def keys(tmp_path: Path) -> Path:
    return tmp_path / "keys"


@pytest.fixture(autouse=True)
def installed(database_url: str, keys: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An installation with the site's own rules, on each engine."""
    monkeypatch.setenv("DATABASE_URL", database_url)
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(keys / "application.key"))
    monkeypatch.setenv("COUNTERSIGN_SITE_KEYS", str(keys / "site"))
    assert install(own_rules(tmp_path / "rules")).exit_code == 0


def test_database_and_keys_are_kept_apart_and_come_back_on_a_new_machine(tmp_path: Path, keys: Path) -> None:
    (tmp_path / "safe").mkdir()
    kept = run("keys", "backup", str(tmp_path / "safe" / "keys"), "--passphrase", PASSPHRASE)
    assert kept.exit_code == 0
    copied = run("backup", str(tmp_path / "copy"))
    assert copied.exit_code == 0, copied.output
    assert "EVERYTHING HOLDS." in copied.output
    assert f"kept in {tmp_path / 'copy'}: the log up to entry " in copied.output

    # Keys never join the copy, and the copy never the keys.
    beside = run("keys", "backup", str(tmp_path / "copy" / "keys"), "--passphrase", PASSPHRASE)
    assert "holds a copy of the database: keys are kept apart from it" in refused(beside)
    assert "lies with the keys" in refused(run("backup", str(keys / "copy")))

    keys.rename(tmp_path / "lost")
    new = {"DATABASE_URL": f"sqlite:///{tmp_path / 'new' / 'countersign.sqlite3'}"}
    before_keys = refused(run("restore", str(tmp_path / "copy"), **new))
    assert (
        "COUNTERSIGN_KEY_FILE: there is no such file; `countersign keys restore` brings it back"
        in before_keys
    )
    back = run("keys", "restore", str(tmp_path / "safe" / "keys"), "--passphrase", PASSPHRASE, **new)
    assert back.exit_code == 0, back.output
    assert "the database is not there yet: `countersign restore` brings it back" in back.output
    restored = run("restore", str(tmp_path / "copy"), **new)
    assert restored.exit_code == 0, restored.output
    assert "brought back: the log up to entry " in restored.output
    assert run("verify", "--store", **new).exit_code == 0
    assert run("rules", "show", **new).output == run("rules", "show").output
    assert (tmp_path / "new" / "countersign.sqlite3").stat().st_mode & 0o077 == 0
    # Once more does nothing but say so.
    assert "is there already" in refused(run("restore", str(tmp_path / "copy"), **new))


def test_the_same_command_once_more_does_nothing_but_say_so(tmp_path: Path, database_url: str) -> None:
    assert run("backup", str(tmp_path / "copy")).exit_code == 0
    assert "is there already: a copy overwrites nothing" in refused(run("backup", str(tmp_path / "copy")))
    assert "already" in refused(run("restore", str(tmp_path / "copy")))
    assert find_schema(database_url) is Schema.CURRENT


@pytest.mark.parametrize(
    ("words", "changed", "says"),
    [
        (("backup", "{tmp}/none/copy"), {}, "there is no folder {tmp}/none"),
        (("backup", "/proc/copy"), {}, "/proc/"),
        (
            ("backup", "{tmp}/copy"),
            {"DATABASE_URL": "sqlite:///{tmp}/no.sqlite3"},
            "has no tables of this program",
        ),
        (
            ("backup", "{tmp}/copy"),
            {"DATABASE_URL": "postgresql://nobody@127.0.0.1:1/x"},
            "cannot be reached",
        ),
        (("backup", "{tmp}/copy"), {"COUNTERSIGN_KEY_FILE": "{tmp}/none.key"}, "there is no such file"),
        (("backup", "{tmp}/copy"), {"COUNTERSIGN_SITE_KEYS": "{tmp}/none"}, "there is no seal key"),
        (("restore", "{tmp}/none"), {}, "there is no copy here"),
        (("restore", "{tmp}/rules"), {}, "there is no copy here"),
    ],
)
def test_each_fault_is_one_line_and_nothing_is_left(
    tmp_path: Path, words: tuple[str, ...], changed: dict[str, str], says: str
) -> None:
    before = sorted(tmp_path.iterdir())
    ran = run(
        *(each.format(tmp=tmp_path) for each in words),
        **{name: each.format(tmp=tmp_path) for name, each in changed.items()},
    )
    assert says.format(tmp=tmp_path) in refused(ran)
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"DATABASE_URL": "sqlite:////proc/none/x.sqlite3"}, "/proc/none"),
        ({"DATABASE_URL": "postgresql://nobody@127.0.0.1:1/x"}, "cannot be reached"),
        ({"COUNTERSIGN_SITE_KEYS": "{tmp}/none"}, "there is no seal key"),
    ],
)
def test_each_fault_of_bringing_back_is_one_line_and_the_copy_stays(
    tmp_path: Path, changed: dict[str, str], says: str
) -> None:
    assert run("backup", str(tmp_path / "copy")).exit_code == 0
    (tmp_path / "new").mkdir()
    address = {"DATABASE_URL": f"sqlite:///{tmp_path / 'new' / 'x.sqlite3'}"}
    ran = run(
        "restore",
        str(tmp_path / "copy"),
        **{**address, **{name: each.format(tmp=tmp_path) for name, each in changed.items()}},
    )
    assert says in refused(ran)
    assert list((tmp_path / "new").iterdir()) == []
    assert run("restore", str(tmp_path / "copy"), **address).exit_code == 0


def test_a_database_that_cannot_be_read_to_its_end_is_said_to_be_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def malformed(_address: str) -> None:
        raise DatabaseError("SELECT", {}, Exception("database disk image is malformed"))

    monkeypatch.setattr("app.workflow.copies.contents", malformed)
    assert "the database cannot be read (DatabaseError)" in refused(run("backup", str(tmp_path / "copy")))
    assert not (tmp_path / "copy").exists()


def test_a_disk_that_is_full_half_way_is_one_line_and_nothing_is_left(tmp_path: Path) -> None:
    assert run("backup", str(tmp_path / "whole")).exit_code == 0
    size = (tmp_path / "whole" / "countersign.sqlite3").stat().st_size
    (tmp_path / "new").mkdir()
    before = sorted(tmp_path.iterdir())
    elsewhere = {"DATABASE_URL": f"sqlite:///{tmp_path / 'new' / 'x.sqlite3'}"}
    for words, changed in ((("backup", "copy"), {}), (("restore", "whole"), elsewhere)):
        ran = with_room_for(size // 2, words[0], str(tmp_path / words[1]), **changed)
        (line,) = ran.stderr.splitlines()
        assert ran.returncode == 2, line
        assert line.startswith("error: "), line
        assert "the disk is full, or fails" in line or "File too large" in line, (words, line)
        assert sorted(tmp_path.iterdir()) == before
        assert list((tmp_path / "new").iterdir()) == []


def with_room_for(size: int, *words: str, **changed: str) -> subprocess.CompletedProcess[str]:
    """A command for which no file can grow beyond a size, as on a disk that is full."""

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))

    return subprocess.run(
        [sys.executable, "-c", "from app.cli import main; main()", *words],
        capture_output=True,
        check=False,
        text=True,
        env={**os.environ, **changed},
        preexec_fn=limit,  # no thread runs while a test starts it
    )

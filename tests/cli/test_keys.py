"""The site's keys on the command line; a fault ends the command with what to do, and never with less."""

import errno
import os
import re
import shutil
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from app.cli import main
from app.cli.keys import stolen
from app.keys import Purpose, is_signed_by, list_site_keys, read_public_file
from app.records.checkpoint import Checkpoint, CheckpointFile, from_text, read_file
from app.storage import open_store
from tests.factories.invented_site import install

PASSPHRASE = "nine lanterns under the bridge"


def run(*words: str, typed: str | None = None) -> Result:
    return CliRunner().invoke(main, list(words), input=typed)


def done(*words: str) -> str:
    ran = run(*words)
    assert ran.exit_code == 0, ran.output
    return ran.output


@pytest.fixture
def keyed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sqlite_url: str) -> Path:
    """An installation with its keys; the folder in which they are."""
    monkeypatch.setenv("DATABASE_URL", sqlite_url)
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "keys" / "application.key"))
    monkeypatch.setenv("COUNTERSIGN_SITE_KEYS", str(tmp_path / "keys" / "site"))
    assert install().exit_code == 0
    return tmp_path / "keys" / "site"


@pytest.fixture
def folder(keyed: Path) -> Path:
    """The same without keys of the site, as after the loss of its disk."""
    shutil.rmtree(keyed)
    return keyed


def test_installing_makes_them_too_and_says_where(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sqlite_url: str
) -> None:
    monkeypatch.setenv("DATABASE_URL", sqlite_url)
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "keys" / "application.key"))
    monkeypatch.setenv("COUNTERSIGN_SITE_KEYS", str(tmp_path / "keys" / "site"))
    said = install().output
    assert f"keys of the site written to {tmp_path / 'keys' / 'site'}" in said
    assert "countersign keys backup" in said
    assert "in use" in done("keys", "list")


def test_keys_are_made_and_named_in_the_log(folder: Path, sqlite_url: str) -> None:
    said = done("keys", "create", "--lost")
    made = [each for each in list_site_keys(folder) if each.here]
    assert len(made) == 2
    assert all(each.kid in said for each in made)
    assert "backup" in said
    store = open_store(sqlite_url)
    with store.read() as reader:
        assert {each.kid for each in reader.site_keys()} >= {each.kid for each in made}
    store.close()


def test_making_them_again_makes_nothing(keyed: Path) -> None:
    before = list_site_keys(keyed)
    assert "nothing to make" in done("keys", "create")
    assert list_site_keys(keyed) == before


def test_the_certificates_name_the_site(keyed: Path) -> None:
    (seal,) = [each for each in list_site_keys(keyed) if each.purpose.value == "seal"]
    assert "BEGIN CERTIFICATE" in seal.certificate
    from cryptography import x509

    name = x509.load_pem_x509_certificate(seal.certificate.encode()).subject.rfc4514_string()
    assert "Larkmoor General Hospital" in name


@pytest.mark.usefixtures("keyed")
def test_the_list_says_what_each_is_for_and_until_when() -> None:
    said = done("keys", "list")
    assert re.search(r"^seal +\S{43}  \d{4}-\d\d-\d\d to \d{4}-\d\d-\d\d  in use$", said, re.MULTILINE)
    assert re.search(r"^checkpoint +\S{43} .* in use$", said, re.MULTILINE)


def test_after_rotation_old_and_new_are_listed(keyed: Path) -> None:
    (old,) = [each for each in list_site_keys(keyed) if each.purpose.value == "seal"]
    done("keys", "rotate", "seal")
    said = done("keys", "list")
    assert re.search(rf"^seal +{re.escape(old.kid)} .* old, verifies what it signed$", said, re.MULTILINE)
    assert len(re.findall(r"in use", said)) == 2


def test_the_public_file_is_what_a_verifier_needs(keyed: Path) -> None:
    done("keys", "rotate", "checkpoint")
    public = read_public_file(done("keys", "public"))
    assert {each.kid for each in public} == {each.kid for each in list_site_keys(keyed)}
    assert "PRIVATE" not in done("keys", "public")


def test_a_backup_and_back(keyed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "backup"
    said = done("keys", "backup", str(file), "--passphrase", PASSPHRASE)
    assert str(file) in said
    assert file.stat().st_mode & 0o777 == 0o600
    before = list_site_keys(keyed)
    assert run("keys", "restore", str(file), "--passphrase", PASSPHRASE).exit_code == 2
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "new" / "application.key"))
    monkeypatch.setenv("COUNTERSIGN_SITE_KEYS", str(tmp_path / "new" / "site"))
    assert "does not open" in run("keys", "restore", str(file), "--passphrase", PASSPHRASE + "!").output
    assert "5 files restored" in done("keys", "restore", str(file), "--passphrase", PASSPHRASE)
    assert list_site_keys(tmp_path / "new" / "site") == before
    assert "in use" in done("keys", "list")


def test_the_passphrase_is_asked_for_twice_and_not_shown(keyed: Path, tmp_path: Path) -> None:
    file = tmp_path / "backup"
    ran = run("keys", "backup", str(file), typed=f"{PASSPHRASE}\n{PASSPHRASE}\n")
    assert ran.exit_code == 0, ran.output
    assert PASSPHRASE not in ran.output
    assert file.exists()
    assert keyed.is_dir()


@pytest.mark.usefixtures("keyed")
def test_a_backup_is_not_locked_with_too_little(tmp_path: Path) -> None:
    ran = run("keys", "backup", str(tmp_path / "backup"), "--passphrase", "too short")
    assert ran.exit_code == 2
    assert "at least 15 characters" in ran.output
    assert not (tmp_path / "backup").exists()


@pytest.mark.usefixtures("keyed")
def test_a_backup_overwrites_nothing(tmp_path: Path) -> None:
    (tmp_path / "backup").write_text("something dear")
    ran = run("keys", "backup", str(tmp_path / "backup"), "--passphrase", PASSPHRASE)
    assert ran.exit_code == 2
    assert (tmp_path / "backup").read_text() == "something dear"


def _full(_descriptor: int) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.usefixtures("keyed")
def test_a_full_disk_leaves_no_half_of_a_backup(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as filled:
        filled.setattr(os, "fsync", _full)
        assert run("keys", "backup", str(tmp_path / "backup"), "--passphrase", PASSPHRASE).exit_code == 2
    assert not (tmp_path / "backup").exists()
    done("keys", "backup", str(tmp_path / "backup"), "--passphrase", PASSPHRASE)


@pytest.mark.usefixtures("keyed")
def test_a_full_disk_leaves_the_checkpoint_that_was_filed_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "filed" / "checkpoint.json"
    file.parent.mkdir()
    done("keys", "checkpoint", "--file", str(file))
    before = file.read_bytes()
    monkeypatch.setattr(os, "fsync", _full)

    assert run("keys", "checkpoint", "--file", str(file)).exit_code == 2
    assert file.read_bytes() == before
    assert list(file.parent.iterdir()) == [file]


@pytest.mark.usefixtures("keyed")
def test_nothing_takes_the_place_of_a_link_or_of_a_pipe(tmp_path: Path) -> None:
    link, pipe = tmp_path / "link", tmp_path / "pipe"
    link.symlink_to(tmp_path / "checkpoint.json")
    os.mkfifo(pipe)
    done("keys", "checkpoint", "--file", str(link))
    with ThreadPoolExecutor(1) as other:
        read = other.submit(pipe.read_bytes)
        done("keys", "checkpoint", "--file", str(pipe))

    assert link.is_symlink()
    assert pipe.is_fifo()
    assert read.result() == (tmp_path / "checkpoint.json").read_bytes()


def test_the_checkpoint_of_a_longer_log_is_not_written_over_by_a_shorter_one(
    keyed: Path, tmp_path: Path, sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As after a copy from before was brought back: what shows that entries are gone stays."""
    file = tmp_path / "checkpoint.json"
    assert run("backup", str(tmp_path / "copy")).exit_code == 0
    done("bed", "add", "recovery", "99")
    done("keys", "checkpoint", "--file", str(file))
    newest = file.read_bytes()
    monkeypatch.setenv("DATABASE_URL", f"sqlite:///{tmp_path / 'copy' / 'countersign.sqlite3'}")
    ran = run("keys", "checkpoint", "--file", str(file))

    assert ran.exit_code == 2
    assert f"error: {file} tells of " in ran.output
    assert file.read_bytes() == newest
    monkeypatch.setenv("DATABASE_URL", sqlite_url)
    done("bed", "add", "recovery", "98")
    done("keys", "checkpoint", "--file", str(file))
    assert file.read_bytes() != newest
    assert keyed.is_dir()


def test_a_checkpoint_is_printed_and_filed(keyed: Path, tmp_path: Path) -> None:
    file = tmp_path / "checkpoint.json"
    printed = from_text(done("keys", "checkpoint", "--file", str(file)))
    assert isinstance(printed, Checkpoint)
    filed = read_file(file.read_bytes())
    assert isinstance(filed, CheckpointFile)
    assert filed.checkpoint == printed
    (own,) = [each for each in list_site_keys(keyed) if each.purpose.value == "checkpoint"]
    assert is_signed_by(printed, own.certificate)
    assert from_text(done("keys", "checkpoint")) == printed


@pytest.mark.usefixtures("keyed")
@pytest.mark.parametrize("filed", [False, True], ids=["printed", "filed"])
def test_a_changed_log_is_not_signed_and_the_operator_is_told(
    tmp_path: Path, sqlite_url: str, *, filed: bool
) -> None:
    done("keys", "checkpoint")
    with sqlite3.connect(sqlite_url.removeprefix("sqlite:///")) as connection:
        connection.execute("DROP TRIGGER log_entry_refuses_update")
        connection.execute("UPDATE log_entry SET canonical = x'7b7d' WHERE position = 2")
    connection.close()
    file = tmp_path / "checkpoint.json"
    ran = run("keys", "checkpoint", *(["--file", str(file)] if filed else []))
    assert ran.exit_code == 2
    assert "an entry was changed, moved or taken out" in ran.output
    assert not file.exists()


# A fault of a key ends every command that needs it.

COMMANDS = (
    ["keys", "list"],
    ["keys", "public"],
    ["keys", "checkpoint"],
    ["keys", "rotate", "seal"],
)


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_without_keys_nothing_goes_on(folder: Path, command: list[str]) -> None:
    ran = run(*command)
    assert ran.exit_code == 2
    assert "COUNTERSIGN_SITE_KEYS: there is no" in ran.output
    assert not folder.exists()


@pytest.mark.parametrize("command", [*COMMANDS, ["keys", "create"]], ids=" ".join)
def test_with_an_unreadable_key_nothing_goes_on(keyed: Path, command: list[str]) -> None:
    for path in keyed.glob("*.pem"):
        path.write_text("damaged")
    ran = run(*command)
    assert ran.exit_code == 2
    assert "does not hold a certificate" in ran.output


def test_with_a_key_that_others_can_read_nothing_goes_on(keyed: Path) -> None:
    for path in keyed.glob("*.key"):
        path.chmod(0o644)
    ran = run("keys", "checkpoint")
    assert ran.exit_code == 2
    assert "chmod 600" in ran.output


@pytest.mark.usefixtures("keyed")
def test_an_ended_key_is_named_with_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.cli.keys.now", lambda: datetime(2199, 1, 1, tzinfo=UTC))
    ran = run("keys", "list")
    assert ran.exit_code == 2
    assert "run `countersign keys rotate`" in ran.output
    assert "ends soon: rotate it" in ran.output


def test_a_backup_of_nothing_is_not_made(folder: Path, tmp_path: Path) -> None:
    ran = run("keys", "backup", str(tmp_path / "backup"), "--passphrase", PASSPHRASE)
    assert ran.exit_code == 2
    assert "there are no keys to keep" in ran.output
    assert not folder.exists()


def test_a_key_is_declared_stolen_by_two_who_type_their_secrets_and_by_no_argument(keyed: Path) -> None:
    (key,) = [each for each in list_site_keys(keyed) if each.purpose is Purpose.SEAL]
    since = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S%z")  # noqa: TID251  # the command's own clock
    words = ["keys", "stolen", key.kid, "nobody", "nobody-else", "--since", since]
    ran = run(*words, typed="one secret\nanother secret\n")
    assert ran.exit_code == 2
    assert "nobody: id and secret do not belong together" in ran.output
    assert "The secret of nobody-else" in ran.output
    assert "one secret" not in ran.output
    # A key's name may begin with hyphens.
    for named in ("-Ub2", "--Ub2"):
        ran = run("keys", "stolen", named, "nobody", "nobody-else", "--since", since, typed="one\nother\n")
        assert "error: the site has no such key" in ran.output
    given = {name for each in stolen.params for name in each.opts}
    assert given == {"kid", "first", "second", "--since"}

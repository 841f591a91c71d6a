"""Whatever stops a command is one line and status 2: no command ends in a trace of the program."""

import os
import shlex
import subprocess
import sys
from collections.abc import Iterator
from datetime import datetime, tzinfo
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from app.cli import main
from app.config import root
from app.keys import create_key_file
from app.storage.engine import SQLITE_PRAGMAS
from tests.factories.invented_site import SEED, Files, changed_rules, install

# What follows each command's name, in a folder where the files named `file` and `folder` are.
WORDS: dict[str, tuple[str, ...]] = {
    "account deactivate": ("nobody",),
    "account list": (),
    "account make": (
        *("--login", "x.new", "--staff-number", "X-1", "--name", "X New", "--role", "nurse"),
        *("--unit", "ward-4-east"),
    ),
    "account rename": ("nobody", "--name", "Somebody Else"),
    "account reset": ("nobody",),
    "account take-authenticators": ("nobody",),
    "account trained": ("nobody", "--for", "something", "--on", "2031-05-02"),
    "account withdraw-training": ("1", "--why", "another person"),
    "backup": ("copy",),
    "balance": ("file",),
    "bed add": ("ward-4-east", "99"),
    "bed list": (),
    "bed retire": ("ward-4-east", "1"),
    "doctor": (),
    "evaluate": ("file",),
    "export": ("--from", "2031-01-01", "--to", "2031-01-02", "--format", "csv", "--out", "out.csv"),
    "forms": ("papers",),
    "install": ("--rules", str(SEED)),
    "invariants": (),
    "keys backup": ("kept", "--passphrase", "nine lanterns under the bridge"),
    "keys checkpoint": (),
    "keys create": (),
    "keys found": ("one", "other"),
    "keys list": (),
    "keys public": (),
    "keys restore": ("file", "--passphrase", "nine lanterns under the bridge"),
    "keys rotate": ("seal",),
    "keys stolen": ("kid", "one", "other", "--since", "2031-05-02T12:00:00+0100"),
    "migrate": (),
    "missed": ("--from", "2031-01-01", "--to", "2031-01-02"),
    "orders": ("--sender", "a system", "file"),
    "restore": ("folder",),
    "roles": (),
    "rows": (),
    "rules approve": ("a-proposal",),
    "rules check": ("folder",),
    "rules diff": (str(root() / "seed_data"),),
    "rules list": (),
    "rules propose": (str(root() / "seed_data"), "--why", "another set"),
    "rules publish": (str(root() / "seed_data"), "--why", "another set"),
    "rules replay": (str(root() / "seed_data"),),
    "rules show": (),
    "sample": ("--seed", "a", "--from", "2031-01-01", "--to", "2031-01-02", "--per-unit", "1"),
    "senders add": ("a system",),
    "senders list": (),
    "senders revoke": ("a system",),
    "serve": (),
    "sweep": (),
    "training cards": ("--seed", "1", "--out", "cards.pdf"),
    "training copy": ("original",),
    "unit list": (),
    "unit rename": ("ward-4-east", "--name", "Another Name"),
    "verify": ("--store",),
}
# It makes an installation of its own, and ends with it; or it needs none.
OWN = {"demo", "study"}


def every_command(group: click.Group = main, before: tuple[str, ...] = ()) -> Iterator[str]:
    context = click.Context(group)
    for name in group.list_commands(context):
        found = group.get_command(context, name)
        if isinstance(found, click.Group):
            yield from every_command(found, (*before, name))
        else:
            yield " ".join((*before, name))


def test_every_command_is_tried_here() -> None:
    assert set(every_command()) == set(WORDS) | OWN


def run(name: str, environ: dict[str, str]) -> Result:
    # Whatever is asked for at the prompt is answered.
    return CliRunner().invoke(main, [*name.split(), *WORDS[name]], env=environ, input="an answer\n" * 8)


def says_it_in_one_line(ran: Result) -> bool:
    """Whether a command that was stopped says so and no more; one that needs nothing of it may go on."""
    assert ran.exception is None or isinstance(ran.exception, SystemExit), ran.exception
    assert "Traceback" not in ran.output
    if ran.exit_code == 0:
        return False
    last = ran.output.splitlines()[-1]
    assert last.startswith(("error: ", "ok ", "FAULT ")), ran.output
    return True


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").write_bytes(b"nothing of the kind")
    (tmp_path / "empty.sqlite3").touch()
    create_key_file(tmp_path / "application.key")
    monkeypatch.chdir(tmp_path)
    return tmp_path


# What needs neither database nor keys, or makes what is missing, goes on in some of these.
NEEDS_NONE = {"balance", "evaluate", "rules check", "roles", "keys list", "doctor"}
MAKES_IT = {"install", "migrate", "keys restore", "restore", "keys backup", "keys public"}


@pytest.mark.parametrize("name", WORDS)
@pytest.mark.parametrize(
    "broken", ["database down", "no tables", "no key", "no database file", "closed folder"]
)
def test_no_command_ends_in_a_trace(name: str, broken: str, folder: Path) -> None:
    environ = {
        "DATABASE_URL": f"sqlite:///{folder / 'empty.sqlite3'}",
        "COUNTERSIGN_KEY_FILE": str(folder / "application.key"),
    }
    changes: dict[str, dict[str, str]] = {
        "database down": {"DATABASE_URL": "postgresql://nobody@127.0.0.1:1/x"},
        "no tables": {},
        "no database file": {"DATABASE_URL": f"sqlite:///{folder / 'none.sqlite3'}"},
        "no key": {"COUNTERSIGN_KEY_FILE": str(folder / "none.key")},
        "closed folder": {
            "DATABASE_URL": "sqlite:////proc/none/x.sqlite3",
            "COUNTERSIGN_KEY_FILE": "/proc/none/application.key",
            "COUNTERSIGN_SITE_KEYS": "/proc/none/site",
        },
    }
    stopped = says_it_in_one_line(run(name, {**environ, **changes[broken]}))

    assert stopped or name in NEEDS_NONE | MAKES_IT


WRITING = (
    "account make",
    "bed add",
    "keys rotate",
    "rules publish",
    "sweep",
    "training cards",
    "training copy",
    "keys create",
    "export",
)


def test_a_full_database_is_said_in_one_line_by_whatever_writes(
    sqlite_url: str, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    environ = {"DATABASE_URL": sqlite_url, "COUNTERSIGN_KEY_FILE": str(folder / "new" / "application.key")}
    assert install(env=environ).exit_code == 0
    # SQLite's own limit stands in for the disk's: it grows no more from now on.
    monkeypatch.setitem(SQLITE_PRAGMAS, "max_page_count", 1)
    stopped = []
    for number in range(200):
        ran = CliRunner().invoke(main, ["bed", "add", "ward-4-east", f"X{number}"], env=environ)
        if says_it_in_one_line(ran):
            stopped.append(ran.output)
            break
    assert stopped == ["error: the database: it is full; nothing was written\n"]
    for name in WRITING:
        says_it_in_one_line(run(name, environ))
    assert run("bed add", environ).output == stopped[0]


def test_a_full_or_closed_disk_is_said_in_one_line(
    sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    environ = {"DATABASE_URL": sqlite_url, "COUNTERSIGN_KEY_FILE": str(tmp_path / "application.key")}

    def full(*_said: object, **_more: object) -> None:
        raise OSError(28, "No space left on device", str(tmp_path / "application.key"))

    with monkeypatch.context() as filled:
        filled.setattr("app.config.application_key.os.open", full)
        ran = install(env=environ)
    assert ran.output == f"error: {tmp_path / 'application.key'}: No space left on device\n"
    assert ran.exit_code == 2


@pytest.mark.parametrize("year", [2020, 2090])
def test_with_a_clock_that_is_years_off_no_command_ends_in_a_trace(
    year: int, folder: Path, sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Clock:
        @staticmethod
        def now(zone: tzinfo) -> datetime:
            return datetime(year, 5, 2, 12, tzinfo=zone)

    environ = {"DATABASE_URL": sqlite_url, "COUNTERSIGN_KEY_FILE": str(folder / "new" / "application.key")}
    assert install(env=environ).exit_code == 0
    monkeypatch.setattr("app.cli.installation.datetime", Clock)
    for name in WORDS:
        says_it_in_one_line(run(name, environ))


# A word in a name that no keyboard types; each command gets it in the place of one of its words.
NO_TEXT = ("\udcff", "a\0b")


@pytest.mark.parametrize("word", NO_TEXT, ids=["no UTF-8", "NUL"])
@pytest.mark.parametrize("name", [name for name, words in WORDS.items() if words])
def test_words_that_are_no_text_are_refused(name: str, word: str) -> None:
    ran = CliRunner().invoke(main, [*name.split(), *WORDS[name][:-1], word])

    assert (ran.exit_code, ran.output) == (2, "error: what was given is not written in UTF-8\n")


@pytest.mark.parametrize("name", ["export", "keys found", "rules propose"])
@pytest.mark.parametrize("typed", [b"\xff\n" * 4, b""], ids=["no UTF-8", "nothing"])
def test_a_secret_that_is_no_text_opens_nothing(
    name: str, typed: bytes, folder: Path, sqlite_url: str
) -> None:
    environ = {"DATABASE_URL": sqlite_url, "COUNTERSIGN_KEY_FILE": str(folder / "new" / "application.key")}
    assert install(env=environ).exit_code == 0
    words = {**WORDS, "rules propose": (str(changed_rules(folder / "rules", another_policy)), "--why", "x")}
    ran = CliRunner().invoke(main, [*name.split(), *words[name]], env=environ, input=typed)

    assert isinstance(ran.exception, SystemExit), ran.exception
    assert ran.exit_code in {1, 2}
    assert ran.output.splitlines()[-1].startswith(("error: ", "Aborted!"))


def another_policy(files: Files) -> None:
    files["policy.json"]["version"] += "-own"


@pytest.mark.parametrize("closed", ["<&-", ">&-"])
def test_a_closed_stream_ends_no_command_in_a_trace(closed: str, folder: Path, sqlite_url: str) -> None:
    environ = {"DATABASE_URL": sqlite_url, "COUNTERSIGN_KEY_FILE": str(folder / "new" / "application.key")}
    assert install(env=environ).exit_code == 0
    words = shlex.join([sys.executable, "-c", "from app.cli import main; main()", "export", *WORDS["export"]])
    ran = subprocess.run(
        ["sh", "-c", f"{words} {closed}"],
        env={**os.environ, **environ, "PYTHONPATH": str(root())},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 2
    assert ran.stderr == "error: id and secret do not belong together; nothing was written\n"


@pytest.mark.parametrize(
    "address",
    ["sqlite://", "sqlite:///:memory:", "sqlite://host/x", "postgresql://u:hidden@h:port/x"],
)
@pytest.mark.parametrize("name", ["doctor", "migrate", "unit list", "backup", "roles", "install", "verify"])
def test_an_address_that_is_none_is_said_in_one_line_without_its_password(
    name: str, address: str, folder: Path
) -> None:
    ran = run(name, {"DATABASE_URL": address, "COUNTERSIGN_KEY_FILE": str(folder / "application.key")})

    assert says_it_in_one_line(ran)
    assert "DATABASE_URL: " in ran.output
    assert "hidden" not in ran.output


def test_a_folder_that_cannot_be_written_is_said_in_one_line(sqlite_url: str) -> None:
    ran = CliRunner().invoke(main, ["migrate"], env={"DATABASE_URL": "sqlite:////proc/none/x.sqlite3"})

    assert sqlite_url
    assert ran.exit_code == 2
    assert ran.output.startswith("error: /proc/none: ")
    assert ran.output.count("\n") == 1

"""The server for others: https cookies and headers; no start as a demonstration or without a key."""

import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from app.cli import main
from app.keys import create_site_keys
from tests.factories.invented_site import SEED, Files, install, own_rules
from tests.factories.site_keys import owned

ASK = """
from app.wsgi import app
answer = app.test_client().get("/sign-in", base_url="https://localhost")
print(answer.status_code)
print(answer.headers["Strict-Transport-Security"])
print(answer.headers["Set-Cookie"])
"""


def start(environ: dict[str, str], script: str = ASK) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        check=False,
        text=True,
        env={**os.environ, **environ},
    )


def installed(
    tmp_path: Path,
    url: str,
    *,
    invented: bool = False,
    change: Callable[[Files], object] = lambda _files: None,
) -> dict[str, str]:
    environ = {
        "DATABASE_URL": url,
        "COUNTERSIGN_KEY_FILE": str(tmp_path / "keys" / "application.key"),
        "COUNTERSIGN_SITE_KEYS": str(tmp_path / "keys" / "site"),
    }
    made = install(SEED if invented else own_rules(tmp_path / "rules", change), env=environ)
    assert made.exit_code == 0, made.output
    return environ


def test_it_answers_over_https_with_a_cookie_bound_to_the_host(tmp_path: Path, sqlite_url: str) -> None:
    asked = start(installed(tmp_path, sqlite_url))

    assert asked.returncode == 0, asked.stderr
    status, transport, cookie = asked.stdout.splitlines()
    assert status == "200"
    assert transport == "max-age=31536000; includeSubDomains"
    assert cookie.startswith("__Host-countersign-device=")
    # The name of the screen opens nothing, and comes along with a link.
    assert "Secure; HttpOnly; Path=/; SameSite=Lax" in cookie


def test_it_does_not_start_in_the_demonstrations_mode(tmp_path: Path, sqlite_url: str) -> None:
    asked = start({**installed(tmp_path, sqlite_url), "COUNTERSIGN_MODE": "demo"})

    assert asked.returncode != 0
    assert "behind https" in asked.stderr


def test_it_does_not_start_without_its_key(tmp_path: Path, sqlite_url: str) -> None:
    asked = start({"DATABASE_URL": sqlite_url, "COUNTERSIGN_KEY_FILE": str(tmp_path / "none.key")})

    assert asked.returncode != 0
    assert "COUNTERSIGN_KEY_FILE" in asked.stderr


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        (lambda folder: [each.unlink() for each in folder.iterdir()], "there is no seal key"),
        (lambda folder: [each.write_text("x") for each in folder.glob("*.key")], "does not hold a key"),
        (lambda folder: [each.chmod(0o644) for each in folder.glob("checkpoint-*.key")], "chmod 600"),
    ],
    ids=["missing", "damaged", "open to others"],
)
def test_it_does_not_start_without_usable_keys_of_the_site(
    tmp_path: Path, sqlite_url: str, fault: Callable[[Path], object], says: str
) -> None:
    environ = installed(tmp_path, sqlite_url)
    fault(Path(environ["COUNTERSIGN_SITE_KEYS"]))
    asked = start(environ)

    assert asked.returncode != 0
    assert "COUNTERSIGN_SITE_KEYS" in asked.stderr
    assert says in asked.stderr


def test_it_does_not_start_with_a_key_past_its_end(tmp_path: Path, sqlite_url: str) -> None:
    environ = installed(tmp_path, sqlite_url)
    folder = Path(environ["COUNTERSIGN_SITE_KEYS"])
    shutil.rmtree(folder)
    create_site_keys(folder, datetime(2020, 1, 1, tzinfo=UTC), owner=owned("Saint Invented"))
    asked = start(environ)

    assert asked.returncode != 0
    assert "the seal key ended on 2022-12-31" in asked.stderr


def one_line(asked: subprocess.CompletedProcess[str]) -> str:
    """What a server said that did not start: one line, and no trace of the program."""
    assert asked.returncode != 0
    (line,) = asked.stderr.splitlines()
    return line


def test_it_does_not_serve_invented_rules(tmp_path: Path, sqlite_url: str) -> None:
    environ = installed(tmp_path, sqlite_url, invented=True)

    said = one_line(start(environ))
    assert said.startswith("error: rules: some of those in force are invented, never for a patient; publish")


def test_one_invented_file_is_enough_not_to_be_served(tmp_path: Path, sqlite_url: str) -> None:
    def invented_packs(files: Files) -> None:
        files["packs.json"] |= {"invented": True, "caution": "Invented."}

    environ = installed(tmp_path, sqlite_url, change=invented_packs)
    assert "invented" in one_line(start(environ))


@pytest.mark.parametrize(
    ("url", "says"),
    [
        ("sqlite:///{folder}/none.sqlite3", "error: database: it has no tables of this program"),
        ("postgresql://nobody@127.0.0.1:1/nothing", "error: database: it cannot be reached"),
    ],
)
def test_a_database_that_is_not_there_is_said_in_one_line(
    tmp_path: Path, sqlite_url: str, url: str, says: str
) -> None:
    environ = installed(tmp_path, sqlite_url)
    asked = start({**environ, "DATABASE_URL": url.format(folder=tmp_path)})

    assert one_line(asked).startswith(says)
    assert not (tmp_path / "none.sqlite3").exists()


def test_a_database_of_an_older_version_is_said_in_one_line(tmp_path: Path, sqlite_url: str) -> None:
    environ = installed(tmp_path, sqlite_url)
    with sqlite3.connect(sqlite_url.removeprefix("sqlite:///")) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '0001'")
    connection.close()

    assert "run `countersign migrate`" in one_line(start(environ))
    ran = CliRunner().invoke(main, ["sweep"], env=environ)
    assert (ran.exit_code, ran.output.count("\n")) == (2, 1)
    assert "run `countersign migrate`" in ran.output

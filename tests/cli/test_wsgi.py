"""The server for others: https cookies and headers; no start as a demonstration or without a key."""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from app.cli import main
from app.keys import create_site_keys

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


def installed(tmp_path: Path, url: str) -> dict[str, str]:
    environ = {
        "DATABASE_URL": url,
        "COUNTERSIGN_KEY_FILE": str(tmp_path / "keys" / "application.key"),
        "COUNTERSIGN_SITE_KEYS": str(tmp_path / "keys" / "site"),
    }
    made = CliRunner().invoke(main, ["install"], env=environ)
    assert made.exit_code == 0, made.output
    return environ


def test_it_answers_over_https_with_a_cookie_bound_to_the_host(tmp_path: Path, sqlite_url: str) -> None:
    asked = start(installed(tmp_path, sqlite_url))

    assert asked.returncode == 0, asked.stderr
    status, transport, cookie = asked.stdout.splitlines()
    assert status == "200"
    assert transport == "max-age=31536000; includeSubDomains"
    assert cookie.startswith("__Host-countersign-device=")
    assert "Secure; HttpOnly; Path=/; SameSite=Strict" in cookie


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
    create_site_keys(folder, datetime(2020, 1, 1, tzinfo=UTC), site="Saint Invented")
    asked = start(environ)

    assert asked.returncode != 0
    assert "the seal key ended on 2022-12-31" in asked.stderr

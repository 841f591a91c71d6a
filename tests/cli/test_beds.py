"""The beds of a unit on the command line."""

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from app.cli import main
from tests.factories.invented_site import install


@pytest.fixture(autouse=True)
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sqlite_url: str) -> None:
    monkeypatch.setenv("DATABASE_URL", sqlite_url)
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "keys" / "application.key"))
    monkeypatch.setenv("COUNTERSIGN_SITE_KEYS", str(tmp_path / "keys" / "site"))
    made = install()
    assert made.exit_code == 0, made.output


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["bed", *words])


def test_beds_are_added_listed_and_retired() -> None:
    assert run("add", "recovery", "Bay 9", " bay9").output == "recovery: bed Bay 9\nrecovery: bed Bay 9\n"
    assert "recovery: 1, 2, 3, 4, 5, 6, 7, 8, Bay 9\n" in run("list").output
    assert run("retire", "recovery", "bay 9").exit_code == 0
    assert "Bay 9" not in run("list").output


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("add", "no-unit", "1"), "there is no such unit"),
        (("add", "recovery", "bed"), "a bed is a number or a short name"),
        (("retire", "no-unit", "1"), "there is no such unit"),
        (("retire", "recovery", "99"), "This unit has no such bed. It has: 1 to 8."),
    ],
)
def test_what_cannot_be_done_is_said(words: tuple[str, ...], says: str) -> None:
    refused = run(*words)

    assert refused.exit_code == 2
    assert says in refused.output

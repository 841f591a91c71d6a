"""The units of a site on the command line."""

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from app.cli import main
from tests.factories.invented_site import SEED, changed_rules, install


@pytest.fixture(autouse=True)
def environ(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sqlite_url: str) -> None:
    monkeypatch.setenv("DATABASE_URL", sqlite_url)
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "keys" / "application.key"))
    monkeypatch.setenv("COUNTERSIGN_SITE_KEYS", str(tmp_path / "keys" / "site"))


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["unit", *words])


def test_a_unit_is_called_otherwise_and_the_list_says_so() -> None:
    assert install(SEED).exit_code == 0
    said = run("rename", "recovery", "--name", " Recovery, theatres ")
    assert said.output == "recovery is called Recovery, theatres from now on\n"
    assert "recovery: Recovery, theatres\n" in run("list").output


@pytest.mark.parametrize(
    ("unit", "name", "says"),
    [
        ("nowhere", "Anything", "there is no such unit"),
        ("recovery", "--", "Write a name of at most 60 characters"),
        ("recovery", "WARD 4 EAST", "Another unit is called so"),
    ],
)
def test_the_command_refuses_what_the_page_refuses(unit: str, name: str, says: str) -> None:
    assert install(SEED).exit_code == 0
    ran = run("rename", unit, f"--name={name}")
    assert ran.exit_code == 2
    assert says in ran.output


@pytest.mark.parametrize(
    ("name", "says"), [("RECOVERY room", "another unit is called so"), ("-", "a letter")]
)
def test_no_installation_begins_with_two_units_of_one_name(tmp_path: Path, name: str, says: str) -> None:
    def named(files: dict[str, list[dict[str, str]]]) -> None:
        files["units.json"][0]["name"] = name

    ran = install(changed_rules(tmp_path / "rules", named))
    assert ran.exit_code == 2
    assert says in ran.output

"""Accounts on the command line: an account gets a one-time code, and nobody is given a secret."""

import json
import re
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from app.cli import main
from app.site.installation import Site
from app.storage import open_store
from tests.factories.invented_site import install
from tests.support.policies import publish_policy
from tests.support.world import KEY

MAKE = ("--staff-number", "X-1", "--name", "Ida Vance", "--role", "nurse", "--unit", "ward-4-east")


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sqlite_url: str) -> str:
    monkeypatch.setenv("DATABASE_URL", sqlite_url)
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "keys" / "application.key"))
    monkeypatch.setenv("COUNTERSIGN_SITE_KEYS", str(tmp_path / "keys" / "site"))
    made = install()
    assert made.exit_code == 0, made.output
    return sqlite_url


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def test_an_account_is_made_with_a_code_that_is_not_stored(installed: str) -> None:
    made = run("account", "make", "--login", "i.vance", *MAKE)

    assert made.exit_code == 0, made.output
    code = re.search(r"code for i\.vance: (\S+)", made.output)
    assert code is not None
    with open_store(installed).read() as reader:
        person = reader.find_person_by_login("i.vance")
    assert person is not None
    assert person.secret_hash is None
    assert code[1] not in str(person.code_hash)


@pytest.mark.parametrize(
    ("login", "says"),
    [
        ("i.vance", "belongs, or once belonged"),
        ("Ward", "one person's"),
        (" ", "missing: login"),
        ("i_vance", "login: Write letters"),
    ],
)
def test_what_is_no_single_persons_account_is_refused(installed: str, login: str, says: str) -> None:
    assert installed
    run("account", "make", "--login", "i.vance", *MAKE)

    refused = run("account", "make", "--login", login, *MAKE)

    assert refused.exit_code == 2
    assert says in refused.output


def test_the_same_name_is_made_only_where_it_is_said_to_be_another_s(installed: str) -> None:
    assert installed
    run("account", "make", "--login", "i.vance", *MAKE)
    again = ("account", "make", "--login", "ida", *MAKE, "--staff-number", "X-2", "--name", "IDA VANCE")

    refused = run(*again)
    assert refused.exit_code == 2
    assert "Ida Vance (i.vance, X-1)" in refused.output
    assert "one-time code" in run(*again, "--another-person").output


def test_reset_and_deactivate_name_what_they_did(installed: str) -> None:
    run("account", "make", "--login", "i.vance", *MAKE)

    assert "one-time code" in run("account", "reset", "i.vance").output
    assert "deactivated" in run("account", "deactivate", "i.vance").output
    with open_store(installed).read() as reader:
        person = reader.find_person_by_login("i.vance")
    assert person is not None
    assert not person.active


@pytest.mark.parametrize("command", ["reset", "deactivate", "take-authenticators"])
def test_an_unknown_account_is_named(installed: str, command: str) -> None:
    assert installed
    refused = run("account", command, "nobody")

    assert refused.exit_code == 2
    assert "no such account" in refused.output


def test_a_command_without_an_installation_says_what_is_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "none.key"))

    refused = run("sweep")

    assert refused.exit_code == 2
    assert "countersign install" in refused.output


def test_sweep_says_what_it_finished(installed: str) -> None:
    assert installed
    assert "compared 0, issued 0" in run("sweep").output


def test_a_person_is_called_otherwise_and_given_a_code(installed: str) -> None:
    run("account", "make", "--login", "i.vance", *MAKE)
    done = run("account", "rename", "i.vance", "--name", "Ida Vance-Holm")

    assert re.search(
        r"i\.vance is called Ida Vance-Holm from now on; one-time code for i\.vance: \S+", done.output
    )
    with open_store(installed).read() as reader:
        person = reader.find_person_by_login("i.vance")
    assert person is not None
    assert person.printed_name == "Ida Vance-Holm"
    assert run("account", "rename", "nobody", "--name", "X").exit_code == 2


# What stands about people: training, the list of logins.


def listed(*more: str) -> dict[str, Any]:
    shown = run("account", "list", *more)
    assert shown.exit_code == 0, shown.output
    return {each["login"]: each for each in map(json.loads, shown.output.splitlines())}


def test_a_training_is_recorded_listed_and_withdrawn(installed: str) -> None:
    assert installed
    run("account", "make", "--login", "i.vance", *MAKE)

    kept = run("account", "trained", "i.vance", "--for", "the tool", "--on", "2026-01-31")

    assert kept.exit_code == 0, kept.output
    (trained,) = listed()["i.vance"]["training"]
    told = {name: trained[name] for name in ("topic", "trained_on", "recorded_by")}
    assert told == {"topic": "the tool", "trained_on": "2026-01-31", "recorded_by": "operator"}
    again = run("account", "withdraw-training", trained["number"], "--why", "another person")
    assert again.exit_code == 0, again.output
    assert listed()["i.vance"]["training"] == []
    assert run("account", "withdraw-training", trained["number"], "--why", "twice").exit_code == 2


@pytest.mark.parametrize(
    ("login", "day", "says"),
    [
        ("i.vance", "31 January", "year-month-day"),
        ("i.vance", "2999-01-01", "has not come yet"),
        ("nobody", "2026-01-31", "no such account"),
    ],
)
def test_what_is_no_training_is_refused(installed: str, login: str, day: str, says: str) -> None:
    assert installed
    run("account", "make", "--login", "i.vance", *MAKE)

    refused = run("account", "trained", login, "--for", "the tool", "--on", day)

    assert refused.exit_code == 2
    assert says in refused.output


def test_logins_that_nobody_uses_are_listed_where_the_policy_names_a_time(
    installed: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("account", "make", "--login", "i.vance", *MAKE)
    refused = run("account", "list", "--unused")
    assert refused.exit_code == 2
    assert "names no time" in refused.output

    site = Site(store=open_store(installed), key=KEY, site_keys=Path())
    with site.store.read() as reader:
        at = reader.log_entries(after=0, limit=10_000)[-1].at + timedelta(seconds=1)
    publish_policy(site, at, login_unused_days=30)
    site.store.close()
    for days, names in ((29, set()), (31, {"i.vance"})):
        monkeypatch.setattr("app.cli.accounts.now", lambda days=days: at + timedelta(days=days))
        assert set(listed("--unused")) == names
    assert "i.vance" in listed()

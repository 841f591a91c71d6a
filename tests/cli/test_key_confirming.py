"""The first two people of a site confirm each other's keys at the host's command line."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from app.cli import main
from app.cli.installation import now, open_site, settings
from app.people import Person
from app.records.kept_keys import KeptKey
from app.workflow.key_ceremony import usable_key
from app.workflow.refusals import KeyNotConfirmed
from app.workflow.signing_in import SecretSet, replace_code

SECRETS = {"i.vance": "seven herons by the canal", "o.marsh": "nine lanterns under the bridge"}


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


@pytest.fixture
def founders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sqlite_url: str) -> None:
    """A site with two people who have set their secrets, neither of whom anybody has confirmed."""
    monkeypatch.setenv("DATABASE_URL", sqlite_url)
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "keys" / "application.key"))
    run("install")
    for login, secret in SECRETS.items():
        named = ("--staff-number", f"X-{login}", "--name", f"Name of {login}", "--role", "nurse")
        made = run("account", "make", "--login", login, *named, "--unit", "ward-4-east")
        code = re.search(r"code for \S+: (\S+)", made.output)
        assert code is not None, made.output
        site = open_site(settings())
        assert replace_code(site, now(), login=login, code=code[1], secret=secret) == SecretSet()
        site.store.close()


def usable(login: str) -> KeptKey | KeyNotConfirmed:
    site = open_site(settings())
    with site.store.read() as reader:
        person = reader.find_person_by_login(login)
        assert isinstance(person, Person)
        found = usable_key(reader, site, person)
    site.store.close()
    return found


def confirm(login: str, by: str, secret: str) -> Result:
    return run("keys", "confirm", login, "--by", by, "--secret", secret)


@pytest.mark.usefixtures("founders")
def test_the_first_two_confirm_each_other() -> None:
    assert isinstance(usable("i.vance"), KeyNotConfirmed)
    assert confirm("i.vance", "o.marsh", SECRETS["o.marsh"]).exit_code == 0
    assert confirm("o.marsh", "i.vance", SECRETS["i.vance"]).exit_code == 0
    assert isinstance(usable("i.vance"), KeptKey)
    assert isinstance(usable("o.marsh"), KeptKey)
    assert "already" in confirm("i.vance", "o.marsh", SECRETS["o.marsh"]).output


@pytest.mark.usefixtures("founders")
@pytest.mark.parametrize(
    ("login", "by", "secret", "says"),
    [
        ("i.vance", "i.vance", SECRETS["i.vance"], "neither the person"),
        ("i.vance", "o.marsh", SECRETS["i.vance"], "do not belong together"),
        ("nobody", "o.marsh", SECRETS["o.marsh"], "no such account"),
    ],
)
def test_who_is_no_second_person_confirms_nothing(login: str, by: str, secret: str, says: str) -> None:
    refused = confirm(login, by, secret)
    assert refused.exit_code == 2
    assert says in refused.output
    assert isinstance(usable("i.vance"), KeyNotConfirmed)

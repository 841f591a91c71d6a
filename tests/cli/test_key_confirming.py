"""The first two people of a site confirm each other's keys at the host, and nobody after them."""

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
from tests.factories.invented_site import install

SECRETS = {
    "i.vance": "seven herons by the canal",
    "oo.marsh": "nine lanterns under the bridge",
    "late.comer": "eleven kites over the salt marsh",
}


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def set_secret(login: str, given: Result, secret: str) -> None:
    """The person replaces the code that was printed."""
    code = re.search(r"code for \S+: (\S+)", given.output)
    assert code is not None, given.output
    site = open_site(settings())
    assert replace_code(site, now(), login=login, code=code[1], secret=secret) == SecretSet()
    site.store.close()


def reset_and_set(login: str) -> None:
    set_secret(login, run("account", "reset", login), SECRETS[login])


@pytest.fixture
def founders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sqlite_url: str) -> None:
    """A site with three people who have set their secrets, none of whom anybody has confirmed."""
    monkeypatch.setenv("DATABASE_URL", sqlite_url)
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "keys" / "application.key"))
    install()
    for login, secret in SECRETS.items():
        named = ("--staff-number", f"X-{len(login)}", "--name", f"Name of {login}", "--role", "nurse")
        made = run("account", "make", "--login", login, *named, "--unit", "ward-4-east")
        set_secret(login, made, secret)


def usable(login: str) -> KeptKey | KeyNotConfirmed:
    site = open_site(settings())
    with site.store.read() as reader:
        person = reader.find_person_by_login(login)
        assert isinstance(person, Person)
        found = usable_key(reader, site, person)
    site.store.close()
    return found


def found(*logins: str, secrets: tuple[str, ...] = ()) -> Result:
    """Both type their secrets at the prompt."""
    typed = secrets or tuple(SECRETS[each] for each in logins)
    return CliRunner().invoke(main, ["keys", "found", *logins], input="".join(f"{each}\n" for each in typed))


@pytest.mark.usefixtures("founders")
def test_the_first_two_found_and_the_way_is_closed_behind_them() -> None:
    assert isinstance(usable("i.vance"), KeyNotConfirmed)
    done = found("i.vance", "oo.marsh")
    assert done.exit_code == 0, done.output
    assert "begin with i.vance and oo.marsh" in done.output
    assert isinstance(usable("i.vance"), KeptKey)
    assert isinstance(usable("oo.marsh"), KeptKey)
    assert not any(each in done.output for each in SECRETS.values())
    closed = found("i.vance", "late.comer")
    assert closed.exit_code == 2
    assert "a confirmed key is in use" in closed.output
    assert isinstance(usable("late.comer"), KeyNotConfirmed)


@pytest.mark.usefixtures("founders")
def test_two_who_begin_anew_are_told_that_it_stays_named() -> None:
    found("i.vance", "oo.marsh")
    for login in SECRETS:
        reset_and_set(login)
    assert "founding 2, which every record from now on" in found("i.vance", "late.comer").output


@pytest.mark.usefixtures("founders")
@pytest.mark.parametrize(
    ("logins", "secrets", "says"),
    [
        (("i.vance", "i.vance"), (), "two people are needed"),
        (
            ("i.vance", "oo.marsh"),
            (SECRETS["i.vance"],) * 2,
            "oo.marsh: id and secret do not belong together",
        ),
        (
            ("nobody", "oo.marsh"),
            ("no secret of anybody", "x"),
            "nobody: id and secret do not belong together",
        ),
    ],
)
def test_who_does_not_found(logins: tuple[str, ...], secrets: tuple[str, ...], says: str) -> None:
    refused = found(*logins, secrets=secrets)
    assert refused.exit_code == 2
    assert says in refused.output
    assert isinstance(usable("i.vance"), KeyNotConfirmed)

"""`countersign doctor`: each fault with its mend, and no command ends in a trace of the program."""

from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from app.cli import doctor, main
from app.cli.installation import now
from app.keys import new_id
from app.storage import open_store
from app.workflow.sweeping import LEASE
from tests.factories.invented_site import install, own_rules
from tests.story.people import EVERYBODY

SOUND = {"COUNTERSIGN_TRUSTED_HOSTS": "checks.example"}


@pytest.fixture
def environ(database_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """An installation that a server runs on, on each engine."""
    made = {
        "DATABASE_URL": database_url,
        "COUNTERSIGN_KEY_FILE": str(tmp_path / "keys" / "application.key"),
        "COUNTERSIGN_SITE_KEYS": str(tmp_path / "keys" / "site"),
        **SOUND,
    }
    assert install(own_rules(tmp_path / "rules"), env=made).exit_code == 0
    (tmp_path / "countersign.sqlite3").chmod(0o600) if database_url.startswith("sqlite") else None
    at = now()
    store = open_store(database_url)
    with store.write() as tx:
        tx.take_lease(LEASE, new_id(), now=at, until=at + timedelta(hours=1))
    store.close()
    for name, value in made.items():
        monkeypatch.setenv(name, value)
    return made


def looked(**changed: str) -> Result:
    return CliRunner().invoke(main, ["doctor"], env=changed)


def faults(result: Result) -> list[str]:
    return [line.removeprefix("FAULT  ") for line in result.output.splitlines() if line.startswith("FAULT")]


def test_where_everything_is_there_each_part_is_said_to_be(environ: dict[str, str]) -> None:
    sound = looked()
    # The role of the tests' PostgreSQL is its owner: what a site's must not be.
    found = [each for each in faults(sound) if not each.startswith("roles: ")]

    assert found == []
    assert {"ok     rules", "ok     clock", "ok     sweeper"} <= set(sound.output.splitlines())
    assert sound.exit_code == (0 if environ["DATABASE_URL"].startswith("sqlite") else 1)


def test_who_is_missing_is_said_by_role_until_they_are_there(environ: dict[str, str]) -> None:
    def said() -> list[str]:
        lines = looked().output.splitlines()
        return [each.removeprefix("to do  ").split(";")[0] for each in lines if each.startswith("to do")]

    assert said() == [
        "people: nurse: 0 of at least 2",
        "people: charge-nurse: 0 of at least 1",
        "people: pharmacist: 0 of at least 2",
        "people: quality: 0 of at least 1",
        "people: administrator: 0 of at least 1",
        "people: controlled-drug-officer: 0 of at least 1",
        "people: nobody can sign yet",
    ]
    with closing(open_store(environ["DATABASE_URL"])) as store, store.write() as tx:
        for each in EVERYBODY:
            tx.add_person(each.newcomer.person)
    assert said() == [
        "people: pharmacist: 1 of at least 2",
        "people: controlled-drug-officer: 0 of at least 1",
        "people: nobody can sign yet",
    ]


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        (
            {"COUNTERSIGN_IDLE_MINUTES": "soon"},
            "configuration: COUNTERSIGN_IDLE_MINUTES: write a whole",
        ),
        ({"COUNTERSIGN_TRUSTED_HOSTS": ""}, "proxy: no host name is set"),
        ({"COUNTERSIGN_KEY_FILE": "none.key"}, "application key: "),
        ({"COUNTERSIGN_SITE_KEYS": "none"}, "keys of the site: "),
        ({"DATABASE_URL": "postgresql://nobody@127.0.0.1:1/x"}, "database: it cannot be reached; start it"),
    ],
)
def test_each_fault_is_said_with_its_mend(
    environ: dict[str, str], changed: dict[str, str], says: str
) -> None:
    assert environ
    found = looked(**changed)

    assert found.exit_code == 1
    assert any(each.startswith(says) for each in faults(found)), found.output


def test_a_server_that_has_gone_and_a_clock_set_back_are_noticed(
    environ: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert environ
    at = datetime.now(UTC)  # noqa: TID251  # the command reads the clock itself
    monkeypatch.setattr(doctor, "now", lambda: at + timedelta(days=1))
    assert any(each.startswith("sweeper: nobody finishes what a crash left") for each in faults(looked()))
    monkeypatch.setattr(doctor, "now", lambda: at - timedelta(days=1))
    assert any(each.startswith("clock: the last entry of the log was written") for each in faults(looked()))


@pytest.mark.usefixtures("environ")
@pytest.mark.parametrize(
    "wrong", [{"DATABASE_URL": "postgresql://nobody@127.0.0.1:1/x"}, {"COUNTERSIGN_MODE": "any"}]
)
def test_what_was_not_looked_at_is_not_said_to_be_there(wrong: dict[str, str]) -> None:
    said = looked(**wrong).output

    assert not [each for each in ("rules", "people", "clock", "roles", "sweeper") if f"ok     {each}" in said]

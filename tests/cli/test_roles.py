"""Least privilege on PostgreSQL: the program's role does what the program does, and nothing that hides."""

import re
import secrets
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlencode

import pytest
from click.testing import CliRunner, Result
from sqlalchemy import text, update
from sqlalchemy.exc import DBAPIError

from app.auditing.invariants import check_invariants
from app.cli import main
from app.people import Role
from app.records.kept import Draft, Session, ShiftSession, Throttle
from app.storage import find_server_state, migrate, open_store, roles_for, tables
from app.storage.engine import database_url, make_engine
from app.storage.grants import CHANGING, HELD
from app.storage.tables import MUTABLE
from tests.factories.invented_site import own_rules
from tests.factories.quick_pdf import without_rendering
from tests.storage.key_builders import authenticator
from tests.story.people import WARD
from tests.story.ward import BEGAN, written_anew
from tests.story.whole_life import fill_every_table
from tests.support.postgresql import SUPERUSER, Cluster, binaries


@dataclass(frozen=True, kw_only=True)
class Roles:
    """A database and its two roles, as they are addressed."""

    cluster: Cluster
    database: str

    def url(self, role: str) -> str:
        return f"postgresql://{role}@/{self.database}?{urlencode({'host': str(self.cluster.folder)})}"

    @property
    def owner(self) -> str:
        return self.url(f"owner_{self.database}")

    @property
    def program(self) -> str:
        return self.url(f"program_{self.database}")

    @contextmanager
    def with_right(self, what: str) -> Iterator[None]:
        role = f"program_{self.database}"
        with self.cluster.connect(self.database) as connection:
            connection.execute(f"GRANT {what} TO {role}".encode())
            yield
            connection.execute(f"REVOKE {what} FROM {role}".encode())

    @contextmanager
    def without_right(self, what: str) -> Iterator[None]:
        role = f"program_{self.database}"
        with self.cluster.connect(self.database) as connection:
            connection.execute(f"REVOKE {what} FROM {role}".encode())
            yield
            connection.execute(f"GRANT {what} TO {role}".encode())

    def run_by_psql(self, script: str) -> None:
        at = ["--host", str(self.cluster.folder), "--username", SUPERUSER]
        ran = subprocess.run(
            [str(binaries() / "psql"), *at, "--no-psqlrc", "--quiet", "--set", "ON_ERROR_STOP=1", "postgres"],
            input=script,
            text=True,
            capture_output=True,
            check=False,
        )
        assert ran.returncode == 0, ran.stderr


def run(environ: dict[str, str], *words: str) -> Result:
    return CliRunner().invoke(main, list(words), env=environ)


@pytest.fixture(scope="module")
def roles(postgresql: Cluster) -> Iterator[Roles]:
    """A server set up by what `countersign roles` prints, and then migrated by the owner."""
    made = Roles(cluster=postgresql, database=f"roles_{secrets.token_hex(6)}")
    environ = {"DATABASE_URL": made.program, "DATABASE_OWNER_URL": made.owner}
    printed = run(environ, "roles")
    assert printed.exit_code == 0, printed.output
    made.run_by_psql(printed.output)
    migrated = run({**environ, "COUNTERSIGN_KEY_FILE": "none"}, "migrate")
    assert migrated.exit_code == 0, migrated.output
    yield made
    postgresql.drop(made.database)
    with postgresql.connect() as connection:
        for role in ("owner", "program"):
            connection.execute(f"DROP ROLE {role}_{made.database}")


@pytest.fixture(scope="module")
def lived(roles: Roles) -> Roles:
    """A whole set-up and all that can follow it, by the program's role alone."""
    with written_anew(roles.program) as ward, pytest.MonkeyPatch.context() as monkeypatch:
        without_rendering(monkeypatch)
        fill_every_table(ward)
        assert check_invariants(ward.site, ward.now) == ()
    return roles


def test_the_whole_story_runs_by_the_programs_role(lived: Roles) -> None:
    with lived.cluster.connect(lived.database) as connection:
        (count,) = connection.execute("SELECT count(*) FROM pdf").fetchone() or (0,)
    assert count


def test_everything_that_may_change_is_changed_by_the_programs_role(lived: Roles) -> None:
    """What the story has no part in: each change that the store knows, on rows that are there."""
    store, at = open_store(lived.program), BEGAN
    with store.write() as tx:
        tx.add_shift_session(
            ShiftSession(
                id="shift",
                person="nadia",
                device="tablet",
                unit=WARD,
                began_at=at,
                pin_hash="",
                tries=0,
                ended_at=None,
            )
        )
        tx.add_session(
            Session(
                digest="one",
                person="nadia",
                device="tablet",
                unit=WARD,
                signed_in_at=at,
                last_seen_at=at,
                ended_at=None,
                method="pin",
                shift_session="shift",
            )
        )
        tx.touch_session("one", at)
        tx.end_session("one", at)
        tx.set_tries("shift", 1)
        tx.end_shift_sessions_of("nadia", at)
        sealed, *_ = list(tx.rows("personal_key_sealed"))
        tx.set_sealed(sealed["kid"], sealed["sealed"])
        tx.add_authenticator(authenticator("nadia"))
        assert tx.use_authenticator("app of nadia", until=6, sign_count=0)
        assert tx.remove_authenticators("nadia") > 0
        for failures in (1, 2):
            tx.set_throttle(Throttle(key="somebody", failures=failures, not_before=at))
        tx.clear_throttle("somebody")
        for _ in range(2):
            assert tx.take_lease("something", "me", now=at, until=at + timedelta(minutes=1))
        for draft in list(tx.rows("draft"))[:1]:
            kept = Draft(**draft)
            assert tx.save_draft(kept, expected_version=kept.version)
            tx.delete_drafts(kept.check, kept.subject, kept.round)
        tx.set_roles("nadia", [Role.NURSE])
        tx.set_printed_name("nadia", "Nadia Ferrow")
        tx.refuse()
    store.close()


ATTACKS = (
    "ALTER TABLE log_entry DISABLE TRIGGER ALL",
    "ALTER TABLE log_entry DISABLE TRIGGER log_entry_refuses_update",
    "DROP TRIGGER log_entry_refuses_update ON log_entry",
    "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE sql AS 'SELECT 1'",
    "SET session_replication_role = replica",
    "UPDATE log_entry SET canonical = '' WHERE position = 1",
    "DELETE FROM log_entry",
    "TRUNCATE log_entry CASCADE",
    "TRUNCATE draft",
    "DROP TABLE log_entry",
    "ALTER TABLE signature DROP CONSTRAINT one_signature_a_slot",
    "ALTER TABLE person OWNER TO CURRENT_USER",
    "UPDATE person SET login = 'other', login_folded = 'other'",
    "UPDATE signature SET jws = ''",
    "UPDATE reading SET commitment = ''",
    "DELETE FROM access",
    "DELETE FROM person",
    "UPDATE log_head SET id = 2",
    "INSERT INTO log_head VALUES (2, 7)",
    "UPDATE alembic_version SET version_num = '0000'",
    "SELECT setval('access_position_seq', 1)",
    # A table of a moment would stand in for the one that a rule asks.
    "CREATE TEMPORARY TABLE signature (edition integer)",
    "CREATE TABLE signature_of_mine (edition integer)",
    "CREATE SCHEMA mine",
    "COPY person TO PROGRAM 'cat'",
)


@pytest.mark.parametrize("attack", ATTACKS)
def test_the_programs_role_is_refused(lived: Roles, attack: str) -> None:
    """By its rights alone: no trigger is asked."""
    engine = make_engine(database_url(lived.program))
    with engine.connect() as connection, pytest.raises(DBAPIError) as refused:
        connection.execute(text(attack))
    engine.dispose()
    assert re.search("permission denied|must be owner|must be superuser", str(refused.value.orig)), attack


def test_the_role_of_an_owner_is_what_they_are_refused_for(lived: Roles) -> None:
    """The twin: the owner switches the trigger off."""
    engine = make_engine(database_url(lived.owner))
    with engine.connect() as connection:
        connection.execute(text("ALTER TABLE log_entry DISABLE TRIGGER log_entry_refuses_update"))
        connection.execute(text("UPDATE log_entry SET canonical = '' WHERE position = 1"))
        connection.rollback()
    engine.dispose()


@pytest.mark.parametrize("table", sorted(HELD))
def test_what_is_held_by_a_right_to_change_is_not_changed(lived: Roles, table: str) -> None:
    """A lock on a row asks for that right on one column; the trigger refuses the change."""
    engine = make_engine(database_url(lived.program))
    with engine.connect() as connection, pytest.raises(DBAPIError, match="append_only"):
        connection.execute(update(tables.metadata.tables[table]).values(id="other"))
    engine.dispose()


def test_every_table_is_named_and_gives_no_more_than_it_has_to() -> None:
    printed = roles_for(
        owner="postgresql://owner@/x", program='postgresql://the"program@/x'.replace('"', "%22")
    )
    assert printed is not None
    for name in tables.metadata.tables:
        (given,) = re.findall(rf'^GRANT (.*) ON "{name}" TO "the""program";$', printed, re.MULTILINE)
        if name not in {*CHANGING, *HELD}:
            assert given == "SELECT, INSERT", name
    assert not re.search("GRANT [^;]*(TRUNCATE|TRIGGER|REFERENCES|ALL)", printed.replace("ON ALL SEQ", ""))


def test_every_table_whose_rows_may_change_says_what_the_program_changes() -> None:
    assert set(CHANGING) == MUTABLE
    for name, rights in {**CHANGING, **HELD}.items():
        assert set(rights.changes) <= set(tables.metadata.tables[name].columns.keys())


def test_run_again_it_does_no_harm(lived: Roles) -> None:
    printed = roles_for(owner=lived.owner, program=lived.program)
    assert printed
    lived.run_by_psql(printed)
    migrate(lived.owner, program=lived.program)
    state = find_server_state(lived.program)
    assert state is not None
    assert (state.is_superuser, state.is_owner, state.makes_tables) == (False, False, False)
    assert (state.exceeds, state.lacks) == ((), ())


# `doctor`.


@pytest.fixture
def environ(lived: Roles, tmp_path: Path) -> dict[str, str]:
    (tmp_path / "application.key").touch()
    return {"DATABASE_URL": lived.program, "COUNTERSIGN_KEY_FILE": str(tmp_path / "none.key")}


def faults_of_roles(environ: dict[str, str]) -> list[str]:
    lines = run(environ, "doctor").output.splitlines()
    return [each for each in lines if each.startswith("FAULT  roles: ") and "writes values" not in each]


def test_doctor_finds_nothing_wrong_with_the_programs_role(environ: dict[str, str]) -> None:
    assert faults_of_roles(environ) == []


@pytest.mark.parametrize("who", ["owner", "superuser"])
def test_doctor_says_who_the_program_runs_as(lived: Roles, environ: dict[str, str], who: str) -> None:
    url = lived.owner if who == "owner" else lived.cluster.url(lived.database)
    (said,) = faults_of_roles({**environ, "DATABASE_URL": url})
    assert "the owner of the tables" in said if who == "owner" else "a superuser" in said


@pytest.mark.parametrize(
    ("what", "says"),
    [
        ("DELETE ON access", "has rights: DELETE on access"),
        ("UPDATE (jws) ON signature", "has rights: UPDATE jws on signature"),
        ("CREATE ON SCHEMA public", "may make tables"),
    ],
)
def test_doctor_says_what_the_role_has_too_much(
    lived: Roles, environ: dict[str, str], what: str, says: str
) -> None:
    with lived.with_right(what):
        (said,) = faults_of_roles(environ)
    assert says in said
    assert faults_of_roles(environ) == []


def test_doctor_says_what_the_role_lacks(lived: Roles, environ: dict[str, str]) -> None:
    with lived.without_right("INSERT ON pdf"):
        (said,) = faults_of_roles(environ)
    assert "lacks rights: INSERT on pdf" in said
    assert faults_of_roles(environ) == []


def test_a_server_is_not_told_of_the_owner(lived: Roles, environ: dict[str, str]) -> None:
    told = {**environ, "DATABASE_OWNER_URL": lived.owner}
    assert any("DATABASE_OWNER_URL is set" in each for each in faults_of_roles(told))
    served = run(told, "serve")
    assert served.exit_code == 2
    assert "DATABASE_OWNER_URL is set" in served.output


# Around them.


def test_an_installation_is_made_with_both_roles(postgresql: Cluster, tmp_path: Path) -> None:
    made = Roles(cluster=postgresql, database=f"roles_{secrets.token_hex(6)}")
    environ = {
        "DATABASE_URL": made.program,
        "DATABASE_OWNER_URL": made.owner,
        "COUNTERSIGN_KEY_FILE": str(tmp_path / "keys" / "application.key"),
    }
    before = run(environ, "install", "--rules", str(own_rules(tmp_path / "rules")))
    assert before.exit_code == 2, before.output
    made.run_by_psql(run(environ, "roles").output)
    ran = run(environ, "install", "--rules", str(tmp_path / "rules"))
    assert ran.exit_code == 0, ran.output
    assert run({**environ, "DATABASE_OWNER_URL": ""}, "keys", "checkpoint").exit_code == 0
    postgresql.drop(made.database)
    with postgresql.connect() as connection:
        connection.execute(f"DROP ROLE owner_{made.database}")
        connection.execute(f"DROP ROLE program_{made.database}")


def test_a_database_that_is_closed_to_the_program_is_said_in_one_line(
    lived: Roles, environ: dict[str, str]
) -> None:
    with lived.without_right("SELECT ON alembic_version"):
        said = run(environ, "doctor").output
    assert "FAULT  database: the program's role may not read it; run `countersign migrate`" in said


@pytest.mark.parametrize(
    ("environ", "says"),
    [
        ({"DATABASE_URL": "sqlite:///x.sqlite3"}, "SQLite has no roles"),
        ({"DATABASE_URL": "postgresql://one@/x"}, "DATABASE_OWNER_URL: write the address"),
        (
            {"DATABASE_URL": "postgresql://one@/x", "DATABASE_OWNER_URL": "postgresql://one@/x"},
            "DATABASE_OWNER_URL: write the address",
        ),
        (
            {"DATABASE_URL": "postgresql://one@/x", "DATABASE_OWNER_URL": "postgresql://other@/y"},
            "DATABASE_OWNER_URL: write the same host and database",
        ),
    ],
)
def test_what_has_no_two_roles_is_said_in_one_line(environ: dict[str, str], says: str) -> None:
    ran = run(environ, "roles")
    assert ran.exit_code == 2
    assert ran.output.startswith("error: ")
    assert says in ran.output
    assert ran.output.count("\n") == 1


def test_a_role_that_is_not_there_is_said_in_one_line(postgresql_url: str) -> None:
    owner = postgresql_url.replace("postgresql+psycopg", "postgresql")
    program = owner.replace(f"{SUPERUSER}@", "nobody-at-all@", 1)
    ran = run(
        {"DATABASE_URL": program, "DATABASE_OWNER_URL": owner, "COUNTERSIGN_KEY_FILE": "none"}, "migrate"
    )
    assert ran.exit_code == 2, ran.output
    assert ran.output.count("\n") == 1
    assert "run what `countersign roles` prints" in ran.output

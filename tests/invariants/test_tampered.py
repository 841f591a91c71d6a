"""Every invariant has a twin: a database in which somebody broke it is found out."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import timedelta

import pytest
from click.testing import CliRunner

from app.auditing.invariants import Invariant, check_invariants
from app.cli.invariants import invariants
from app.records.state import Phase
from tests.story.script import WAYS
from tests.story.ward import Ward
from tests.story.whole_life import whole_life


@contextmanager
def tampering(sqlite_url: str) -> Iterator[sqlite3.Connection]:
    """The database as somebody has it who owns the file: without triggers, without foreign keys."""
    with closing(sqlite3.connect(sqlite_url.removeprefix("sqlite:///"))) as connection:
        names = connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for (name,) in names:
            connection.execute(f'DROP TRIGGER "{name}"')
        connection.execute("PRAGMA ignore_check_constraints = ON")
        yield connection
        connection.commit()


# What is done to the database -> the invariant that is found broken.
TAMPERED: dict[str, tuple[str, Invariant]] = {
    "a reading is another person's": (
        "UPDATE reading SET person = 'imogen' WHERE slot = 1 AND round = 2",
        Invariant.ONE_READING,
    ),
    "a slot is another person's": (
        "UPDATE participant SET person = 'imogen' WHERE slot = 2",
        Invariant.ONE_READING,
    ),
    "whoever helped becomes one of the two": (
        "UPDATE help_taker SET person = 'tomas'",
        Invariant.ONE_READING,
    ),
    "a request for help is taken over from nobody": (
        "UPDATE help_taker SET turn = 2",
        Invariant.ONE_READING,
    ),
    "a commitment is changed": (
        "UPDATE reading SET commitment = 'x' WHERE slot = 1 AND round = 2",
        Invariant.READING_STANDS,
    ),
    "a reading is exchanged for a later one of the same person": (
        """UPDATE reading SET commitment = (SELECT commitment FROM reading AS other
           WHERE other."check" = reading."check" AND other.round = 3 AND other.slot = reading.slot
           AND other.subject = 'sources') WHERE slot = 1 AND round = 2 AND subject = 'sources'""",
        Invariant.READING_STANDS,
    ),
    "a reading that was compared is gone": (
        "DELETE FROM reading WHERE slot = 1 AND round = 3",
        Invariant.NOTHING_SHOWN,
    ),
    "a comparison is gone": (
        "DELETE FROM comparison WHERE round = 2 AND subject = 'sources'",
        Invariant.NOTHING_HALF,
    ),
    "a value in a comparison is changed": (
        """UPDATE comparison SET "case" = CAST(replace("case", '10 min', '11 min') AS BLOB)
           WHERE round = 2""",
        Invariant.ONE_VERDICT,
    ),
    "a figure in a comparison is changed": (
        """UPDATE comparison SET result = CAST(replace(result, '"exact":"1"', '"exact":"2"') AS BLOB)
           WHERE round = 3""",
        Invariant.ONE_VERDICT,
    ),
    "the verdict on a primed volume is changed": (
        """UPDATE comparison SET result = CAST(replace(result, 'true', 'false') AS BLOB)
           WHERE subject = 'priming'""",
        Invariant.ONE_VERDICT,
    ),
    "a signed record is changed": (
        "UPDATE frozen SET document = CAST(replace(document, 'Nadia', 'Nadja') AS BLOB) WHERE edition = 2",
        Invariant.SIGNABLE,
    ),
    "a signature is over another digest": (
        "UPDATE signature SET digest = 'x' WHERE edition = 2 AND slot = 1",
        Invariant.SIGNABLE,
    ),
    "a signature is somebody else's": (
        "UPDATE signature SET person = 'imogen' WHERE edition = 2 AND slot = 1",
        Invariant.SIGNABLE,
    ),
    "a signature is of a session that six digits opened": (
        """INSERT INTO session (digest, person, device, unit, signed_in_at, last_seen_at, method)
           SELECT session, person, device, 'ward-4-east', signed_in_at, signed_in_at, 'pin' FROM signature
           WHERE edition = 2 AND slot = 1""",
        Invariant.SIGNABLE,
    ),
    "a signature under a PDF is gone": (
        "DELETE FROM signature WHERE edition = 1 AND slot = 2",
        Invariant.ONE_RECORD,
    ),
    "a PDF is exchanged": (
        "UPDATE pdf SET content = CAST('%PDF-1.7 other' AS BLOB) WHERE edition = 2",
        Invariant.ONE_RECORD,
    ),
    "a PDF is gone": ("DELETE FROM pdf WHERE edition = 1", Invariant.ONE_RECORD),
    "an entry is gone": ("DELETE FROM log_entry WHERE position = 7", Invariant.LOG_WHOLE),
    "the last entry is gone": (
        "DELETE FROM log_entry WHERE position = (SELECT size FROM log_head)",
        Invariant.LOG_WHOLE,
    ),
    "an entry is said to be somebody else's": (
        "UPDATE log_entry SET \"by\" = 'imogen' WHERE kind = 'joined'",
        Invariant.LOG_WHOLE,
    ),
    "an entry is moved in time": (
        "UPDATE log_entry SET at = replace(at, '2031', '2030') WHERE kind = 'signed'",
        Invariant.LOG_WHOLE,
    ),
    "a record is changed together with its digest": (
        "UPDATE frozen SET document = CAST(replace(document, 'Nadia', 'Nadja') AS BLOB)",
        Invariant.SAME_BYTES,
    ),
    "a participant is gone": ("DELETE FROM participant WHERE slot = 2", Invariant.NOTHING_HALF),
    "both signatures of a started check are gone": (
        "DELETE FROM signature WHERE edition = 2",
        Invariant.NOT_BETTER,
    ),
    "the start is moved past the clearance": (
        "UPDATE log_entry SET at = replace(at, '2031', '2032') WHERE kind = 'started'",
        Invariant.CLOCK,
    ),
}


@pytest.mark.usefixtures("quick_pdf")
@pytest.mark.parametrize("case", TAMPERED)
def test_what_somebody_broke_is_found(ward: Ward, sqlite_url: str, case: str) -> None:
    statement, invariant = TAMPERED[case]
    ward.begins_at("whole life without pages", whole_life)
    assert check_invariants(ward.site, ward.now) == ()

    with tampering(sqlite_url) as connection:
        changed = connection.execute(statement).rowcount
    assert changed > 0
    broken = check_invariants(ward.site, ward.now)

    assert invariant in {each.invariant for each in broken}, broken


@pytest.mark.usefixtures("quick_pdf")
def test_a_check_that_is_gone_is_missed(ward: Ward, sqlite_url: str) -> None:
    ward.at_stage(Phase.OPENED)
    with tampering(sqlite_url) as connection:
        connection.execute('DELETE FROM "check"')
    (broken,) = check_invariants(ward.site, ward.now)

    assert (broken.invariant, broken.check) == (Invariant.NOTHING_HALF, ward.check)


def test_a_check_in_which_the_last_step_froze_nothing_is_stuck(ward: Ward, sqlite_url: str) -> None:
    ward.at_stage(Phase.SIGNING)
    with tampering(sqlite_url) as connection:
        connection.execute("DELETE FROM frozen")
        connection.execute("DELETE FROM log_entry WHERE kind = 'record-frozen'")

    assert Invariant.NOT_STUCK in {each.invariant for each in check_invariants(ward.site, ward.now)}


def test_what_is_broken_is_named_without_a_value(ward: Ward, sqlite_url: str) -> None:
    ward.at_stage(Phase.STEPS)
    with tampering(sqlite_url) as connection:
        connection.execute(
            "UPDATE comparison SET \"case\" = CAST(replace(\"case\", '10 min', '11 min') AS BLOB)"
        )
    said = " ".join(each.what for each in check_invariants(ward.site, ward.now))

    assert said
    assert "min" not in said


@pytest.mark.parametrize("phase", WAYS, ids=lambda phase: phase.value)
def test_every_stage_holds_all_of_them(ward: Ward, phase: Phase) -> None:
    ward.at_stage(phase)

    assert check_invariants(ward.site, ward.now) == ()
    assert check_invariants(ward.site, ward.now + timedelta(days=30)) == ()


def test_the_command_says_so_and_its_status_too(
    ward: Ward, sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    from app.cli import invariants as module
    from app.site.installation import Site

    class Kept:
        """A store that the command may not close: the test still needs it."""

        def __init__(self, site: Site) -> None:
            self.read, self.write = site.store.read, site.store.write

        def close(self) -> None:
            """Nothing."""

    monkeypatch.setattr(module, "settings", lambda: None)
    kept = replace(ward.site, store=Kept(ward.site))  # type: ignore[arg-type]  # see above
    monkeypatch.setattr(module, "open_site", lambda _, **__: kept)
    monkeypatch.setattr(module, "now", lambda: ward.now)
    ward.at_stage(Phase.CLEARED)

    holds = CliRunner().invoke(invariants)
    assert (holds.exit_code, holds.output) == (0, "all of them hold\n")
    with tampering(sqlite_url) as connection:
        connection.execute("DELETE FROM log_entry WHERE position = 7")
    broken = CliRunner().invoke(invariants)
    assert broken.exit_code == 1
    assert "BROKEN 7: the log has no gap" in broken.output

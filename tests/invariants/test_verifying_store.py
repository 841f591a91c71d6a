# values of any column
"""A whole database verified, and twins of it with rows too many, too few, or in another's place."""

import json
import shutil
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import text

from app.auditing import verifying_checks
from app.auditing.invariants import Invariant, check_invariants
from app.auditing.verifying import PublicMaterial, verify_file
from app.auditing.verifying_store import Wanted, verify_store
from app.keys import create_site_keys, load_site_keys, public_file
from app.people import folded
from app.records.canonical import digest
from app.records.state import Phase
from app.records.store_verification import Began, Failing, Noted, Progress
from app.records.told_rows import OF_THE_SITE
from app.records.verification import NotReadable, Question, Verification
from app.storage import tables
from tests.factories.seed import install_seed
from tests.factories.site_keys import MADE_AT, owned
from tests.invariants.twins import (
    BY_CODE,
    BY_DRAFT,
    BY_LOOK,
    BY_SESSION,
    EVERY,
    OF_WHAT_HAPPENED,
    WHILE_IT_LASTS,
    Told,
    Twin,
    least_change,
    opened,
)
from tests.story.ward import BEGAN, open_ward, site_at
from tests.story.whole_life import move_clock_back, signed_now
from tests.support.tampering import as_database_administrator

# Tables of which nothing that is signed or logged tells; whatever else may change is told too.
OF_A_MOMENT = {
    "session": BY_SESSION,
    "shift_session": BY_SESSION,
    "draft": BY_DRAFT,
    "throttle": WHILE_IT_LASTS,
    "lease": WHILE_IT_LASTS,
}
HELD = {name: each for name, each in EVERY.items() if name not in OF_A_MOMENT}
# Of the others, those of which a row can go, or come, and nothing tells.
GOES_UNSEEN = {
    "join_code": BY_CODE,
    "checkpoint": "the log still begins with every other one; the copies outside are what counts",
    "log_block": "what it says follows from the log, and a start reads the entries in its place",
}
COMES_UNSEEN = {
    "join_code": BY_CODE,
    "access": BY_LOOK,
}


def test_everything_holds_with_the_pages_made_again(twin: Twin) -> None:
    steps = twin.steps(pages=True, checkpoint=twin.told.kept.last)
    assert [each for each in steps if not isinstance(each, Began | Progress)] == []
    last = steps[-1]
    assert isinstance(last, Progress)
    assert (last.checks, last.of_checks, last.records) == (3, 3, 3)
    assert last.entries == twin.told.kept.last.size


def test_it_writes_nothing(twin: Twin) -> None:
    before = _content(twin.file)
    twin.steps()
    assert _content(twin.file) == before


def _content(file: Path) -> list[str]:
    with closing(opened(file)) as connection:
        return list(connection.iterdump())


@pytest.mark.parametrize(
    ("change", "about"),
    [
        ("UPDATE training SET trained_on = '2031-05-02' WHERE id = 'training-2'", "training.trained_on"),
        ("DELETE FROM training_withdrawal", "training_withdrawal"),
        ("UPDATE acceptance SET version = '2'", "acceptance.version"),
        ("UPDATE refused_signings SET count = 1", "refused_signings.count"),
        ("DELETE FROM refused_signings_told", "refused_signings_told"),
        ("UPDATE person SET active = 0 WHERE id = 'nadia'", "person"),
        ("DELETE FROM person_role WHERE person = 'ruth'", "person"),
    ],
)
def test_the_invariants_hold_people_to_the_log_alike(twin: Twin, change: str, about: str) -> None:
    assert not twin.broken()
    twin.changed(change)
    assert [each.what.partition(":")[0] for each in twin.broken()] == [about]
    assert about in {each.about for each in twin.failing()}


def test_it_goes_on_after_the_last_whole_check(twin: Twin) -> None:
    steps = twin.changed("UPDATE signature SET printed_name = 'Nadja Ferrow' WHERE slot = 1").steps()
    places = {each.position: each.checks for each in steps if isinstance(each, Progress) and each.checks}
    assert sorted(places.values()) == [1, 2, 3]
    found = [each.check for each in steps if isinstance(each, Failing)]
    assert set(found) == {twin.told.kept.first, twin.told.kept.second}
    after_first, *_, last = sorted(places)
    rest = twin.failing(after=after_first)
    assert {each.check for each in rest} == {twin.told.kept.second}
    assert twin.failing(after=last) == []


def test_it_reads_either_engine(database_url: str) -> None:
    with open_ward(database_url) as ward:
        ward.at_stage(Phase.STARTED)
        steps = verify_store(ward.site, ward.now, Wanted(checkpoint=signed_now(ward)))
        assert isinstance(steps, Iterator)
        assert [each for each in steps if not isinstance(each, Began | Progress)] == []
        with as_database_administrator(database_url) as connection:
            connection.execute(text("UPDATE participant SET joined_at = signed_in_at FROM reading"))
        again = verify_store(ward.site, ward.now, Wanted())
        assert isinstance(again, Iterator)
        found = {each.about for each in again if isinstance(each, Failing)}
    assert found == {"participant.joined_at"}


def test_every_excuse_is_of_a_table_that_is_there() -> None:
    assert set(GOES_UNSEEN) | set(COMES_UNSEEN) <= set(HELD)
    assert set(OF_A_MOMENT) < tables.MUTABLE


# Whole rows.


@pytest.mark.parametrize("table", HELD)
def test_a_row_that_is_gone(twin: Twin, table: str) -> None:
    where = OF_WHAT_HAPPENED.get(table, f'rowid = (SELECT max(rowid) FROM "{table}")')  # noqa: S608  # of the schema
    twin.changed(f'DELETE FROM "{table}" WHERE {where}')  # noqa: S608  # as above
    assert bool(twin.failing()) is (table not in GOES_UNSEEN)


# Where the key alone is not all that must differ from the row that is copied.
_ALSO_UNIQUE = {
    "person": {"id", "login", "login_folded", "staff_number", "staff_number_folded"},
    "participant": {"slot", "person"},
    "reading": {"id", "round"},
    "site_data": {"version", "number"},
    "ended_check": {"check"},
    "order_sender": {"id", "name_folded", "token_digest"},
    "order_message": {"id", "message_digest"},
}


@pytest.mark.parametrize("table", HELD)
def test_a_row_that_was_put_in(twin: Twin, table: str) -> None:
    """A copy of the last one under another key."""
    _put_in(twin, table)
    assert bool(twin.failing()) is (table not in COMES_UNSEEN)


# State that may change, and what a site has few of: both commands look at it.
OF_THE_WHOLE_SITE = ("person", "person_role", "personal_key_sealed", *OF_THE_SITE)


@pytest.mark.parametrize("table", OF_THE_WHOLE_SITE)
def test_a_row_of_the_site_that_was_put_in_or_is_gone_breaks_an_invariant(twin: Twin, table: str) -> None:
    _put_in(twin, table)
    assert {each.invariant for each in twin.broken()} >= {Invariant.NOTHING_HALF}
    shutil.copyfile(twin.told.file, twin.file)
    assert twin.broken() == ()
    where = OF_WHAT_HAPPENED.get(table, f'rowid = (SELECT max(rowid) FROM "{table}")')  # noqa: S608  # of the schema
    twin.changed(f'DELETE FROM "{table}" WHERE {where}')  # noqa: S608  # as above
    assert {each.invariant for each in twin.broken()} >= {Invariant.NOTHING_HALF}


def test_a_person_put_in_before_anybody_had_an_account_is_seen(sqlite_url: str) -> None:
    """The log tells of no account at all: then there is none."""
    site = site_at(sqlite_url)
    with closing(site.store):
        install_seed(site, BEGAN)
        assert check_invariants(site, BEGAN) == ()
        with closing(opened(Path(sqlite_url.removeprefix("sqlite:///")))) as connection:
            columns = "id, login, staff_number, printed_name, unit, login_folded, staff_number_folded, active"
            called = ("nora", "n.body", "LG-1", "Nora Body", "ward-4-east")
            compared = (folded("n.body"), folded("LG-1"))
            marks = "?, ?, ?, ?, ?, ?, ?, 1"
            connection.execute(f"INSERT INTO person ({columns}) VALUES ({marks})", (*called, *compared))  # noqa: S608  # of this test
            connection.commit()
        assert [each.what for each in check_invariants(site, BEGAN)] == [
            "person: an account, its roles or its locked key is not as the last act on it left it"
        ]
        steps = verify_store(site, BEGAN, Wanted())
        assert isinstance(steps, Iterator)
        assert "person" in {each.about for each in steps if isinstance(each, Failing)}


def _put_in(twin: Twin, table: str) -> None:
    with closing(opened(twin.file)) as connection:
        names = [each.name for each in HELD[table].columns]
        listed = ", ".join(f'"{each}"' for each in names)
        row = connection.execute(
            f'SELECT {listed} FROM "{table}" ORDER BY rowid DESC LIMIT 1'  # noqa: S608  # of the schema
        ).fetchone()
        another = _ALSO_UNIQUE.get(table, {each.name for each in HELD[table].primary_key} - {"check"})
        copied = [
            least_change(value) if name in another else value for name, value in zip(names, row, strict=True)
        ]
        marks = ", ".join("?" for _ in names)
        connection.execute(f'INSERT INTO "{table}" ({listed}) VALUES ({marks})', copied)  # noqa: S608  # as above
        connection.commit()


COPIED = {
    "a signature": "UPDATE signature SET jws = (SELECT jws FROM signature AS other WHERE other.slot = "
    "signature.slot AND other.\"check\" = '{first}' AND other.edition = 1) WHERE \"check\" = '{second}'",
    "a PDF": "UPDATE pdf SET (content, digest) = (SELECT content, digest FROM pdf AS other "
    "WHERE other.\"check\" = '{first}' AND edition = 1) WHERE \"check\" = '{second}'",
    "a record": "UPDATE frozen SET (document, digest) = (SELECT document, digest FROM frozen AS other "
    "WHERE other.\"check\" = '{first}' AND edition = 1) WHERE \"check\" = '{second}'",
    "a reading": "UPDATE reading SET (envelope, commitment) = (SELECT envelope, commitment FROM reading AS "
    "other WHERE other.\"check\" = '{first}' AND other.slot = reading.slot AND other.subject = "
    "reading.subject ORDER BY round LIMIT 1) WHERE \"check\" = '{second}'",
}


@pytest.mark.parametrize("what", COPIED)
def test_something_of_another_record_in_its_place(twin: Twin, what: str) -> None:
    kept = twin.told.kept
    twin.changed(COPIED[what].format(first=kept.first, second=kept.second))
    assert {each.check for each in twin.failing()} == {kept.second}


def test_two_entries_in_each_other_s_place(twin: Twin) -> None:
    """Each is written anew so that its own columns agree with it; the checkpoint knows better."""
    with closing(opened(twin.file)) as connection:
        found = connection.execute(
            "SELECT position, canonical FROM log_entry WHERE kind = 'account-changed' "
            "ORDER BY position LIMIT 2"
        ).fetchall()
        (one, first), (other, second) = found
        columns = '"at", "by", kind, session, device, signed_in_at, canonical'
        rows = {
            position: connection.execute(
                f"SELECT {columns} FROM log_entry WHERE position = ?",  # noqa: S608  # as above
                (position,),
            ).fetchone()
            for position in (one, other)
        }
        for position, (*same, content) in ((one, rows[other]), (other, rows[one])):
            written = json.loads(content) | {"position": position}
            put = json.dumps(written, separators=(",", ":"), sort_keys=True, ensure_ascii=False).encode()
            connection.execute(
                f"UPDATE log_entry SET ({columns}) = (?, ?, ?, ?, ?, ?, ?) WHERE position = ?",  # noqa: S608  # as above
                (*same, put, position),
            )
        connection.commit()
    assert first != second
    assert {each.about for each in twin.failing()} >= {"checkpoint.root"}


# The files, where all rows agree.


def test_the_first_file_of_a_seal_is_verified_in_full_and_the_others_quickly(
    twin: Twin, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[bytes] = []

    def counted(content: bytes, material: PublicMaterial, *, pages: bool) -> Verification | NotReadable:
        asked.append(content)
        return verify_file(content, material, pages=pages)

    monkeypatch.setattr(verifying_checks, "verify_file", counted)
    last = twin.steps()[-1]
    assert isinstance(last, Progress)
    # What followed a record is verified in full as well.
    assert (last.records, len(asked)) == (3, 2)
    asked.clear()
    # Something else of its check is wrong: then nothing of its files is taken as known.
    twin.changed("UPDATE signature SET printed_name = 'Nadja Ferrow' WHERE slot = 1")
    assert twin.failing() != []
    assert len(asked) == 4


@pytest.mark.parametrize("which", ["first", "second"])
def test_a_file_changed_together_with_everything_that_tells_of_it(twin: Twin, which: str) -> None:
    """Whoever owns the database writes row and log anew; the seal is left, also after the first file."""
    check = getattr(twin.told.kept, which)
    with closing(opened(twin.file)) as connection:
        content, old = connection.execute(
            'SELECT content, digest FROM pdf WHERE "check" = ? AND edition = 1', (check,)
        ).fetchone()
        changed = least_change(content)
        new = digest(changed)
        connection.execute(
            'UPDATE pdf SET content = ?, digest = ? WHERE "check" = ? AND edition = 1', (changed, new, check)
        )
        (written,) = connection.execute(
            "SELECT canonical FROM log_entry WHERE kind = 'record-issued' AND \"check\" = ? "
            "ORDER BY position LIMIT 1",
            (check,),
        ).fetchone()
        connection.execute(
            "UPDATE log_entry SET canonical = ? WHERE canonical = ?",
            (written.replace(old.encode(), new.encode()), written),
        )
        connection.commit()
    of_the_log = ("checkpoint", "log_block")
    failing = [each for each in twin.failing() if not each.about.startswith(of_the_log)]
    # What followed the first one's record tells of this entry of the log.
    told = {(check, "what_followed.document")} if which == "first" else set()
    assert {(each.check, each.about) for each in failing} == {(check, "pdf.content")} | told
    assert any(Question.SEAL.value in each.what for each in failing)


# What only a copy kept outside can show, and what is shown without being wrong.


def test_the_newest_entries_cut_off_show_beside_a_checkpoint_kept_outside(twin: Twin) -> None:
    size = twin.told.kept.before.size
    twin.changed(
        f"DELETE FROM log_entry WHERE position > {size}",  # noqa: S608  # a number
        f"UPDATE log_head SET size = {size}",  # noqa: S608  # as above
    )
    assert twin.failing() == []
    assert [each.about for each in twin.failing(checkpoint=twin.told.kept.last)] == [
        "the checkpoint given.size"
    ]


def test_a_checkpoint_of_nobody_is_none(twin: Twin) -> None:
    forged = replace(twin.told.kept.last, root="0" * 64)
    assert [each.about for each in twin.failing(checkpoint=forged)] == ["the checkpoint given.signature"]


def test_certificates_from_outside_count_and_not_those_of_the_installation(
    twin: Twin, tmp_path: Path
) -> None:
    """Somebody put other keys in the place of the site's: who kept `site.pem` sees it."""
    create_site_keys(tmp_path / "other", MADE_AT, owner=owned("Another hospital (invented)"))
    others = public_file(load_site_keys(tmp_path / "other", twin.told.ward.now).known)
    found = {each.about for each in twin.failing(certificates=others)}
    assert {"checkpoint.signature", "pdf.content"} <= found


def test_a_clock_that_was_moved_back_is_shown_and_nothing_is_reordered(
    sqlite_url: str,
) -> None:
    with open_ward(sqlite_url) as ward:
        ward.opens()
        outside = signed_now(ward)
        move_clock_back(ward, hours=2)
        steps = verify_store(ward.site, ward.now, Wanted(checkpoint=outside))
        assert isinstance(steps, Iterator)
        told = [each for each in steps if not isinstance(each, Progress | Began)]
    (noted,) = told
    assert isinstance(noted, Noted)
    assert noted.position > outside.size
    assert noted.before - noted.at > timedelta(hours=1)
    assert "the clock was moved back" in noted.says


def test_without_the_site_s_keys_the_question_is_not_put(told: Told, tmp_path: Path) -> None:
    site = replace(told.ward.site, site_keys=tmp_path)
    assert isinstance(verify_store(site, told.ward.now, Wanted()), NotReadable)

"""Lists over many checks: nothing is forgotten, nothing is listed twice, and pages fit together."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest
from sqlalchemy import Engine, event, select, text

from app.records.events import Abandoned, RoundVoided
from app.records.reached import Reached
from app.records.visibility import bed_of
from app.storage import Reader, Store, Transaction
from app.storage.row_tables import finding_reached
from tests.bench import many_findings
from tests.storage import builders as build
from tests.storage.builders import NOW, later
from tests.story.people import QUILL
from tests.support.tampering import as_database_administrator


def _cleared(tx: Transaction, check: str, signed_at: datetime, **given: str) -> None:
    build.add_joined_check(tx, id=check, **given)
    build.add_signed_record(tx, check=check, signed_at=signed_at)


def _abandon(tx: Transaction, check: str, at: datetime) -> None:
    tx.append(Abandoned(reason="patient left", text=""), act=build.act(at=at), check=check)


@pytest.fixture
def seven(store: Store) -> Store:
    """Cleared: five checks, two of them in the same second. Abandoned: two."""
    with store.write() as tx:
        build.add_ward(tx)
        for name, minutes in (("c1", 1), ("c2", 3), ("c3", 3), ("c4", 5), ("c5", 7)):
            _cleared(tx, name, later(minutes))
        for name in ("a1", "a2"):
            build.add_joined_check(tx, id=name)
    for name, minutes in (("a1", 2), ("a2", 6)):
        with store.write() as tx:
            _abandon(tx, name, later(minutes))
    return store


def test_a_round_that_both_handed_in_is_left_to_compare(ward: Store) -> None:
    with ward.write() as tx:
        tx.add_reading(build.reading(1))
    with ward.read() as reader:
        assert reader.uncompared() == ()
    with ward.write() as tx:
        tx.add_reading(build.reading(2))
        for slot in (1, 2):
            tx.add_reading(build.reading(slot, subject="priming"))
            tx.add_reading(build.reading(slot, round=2))
    with ward.read() as reader:
        assert reader.uncompared() == (
            ("check-1", "priming", 1),
            ("check-1", "sources", 1),
            ("check-1", "sources", 2),
        )
    with ward.write() as tx:
        tx.add_comparison(build.comparison())
    with ward.read() as reader:
        assert reader.uncompared() == (("check-1", "priming", 1), ("check-1", "sources", 2))


def test_what_is_left_is_looked_for_where_something_happened_since(ward: Store) -> None:
    """Readings of one check are left; only an entry of that very check after the position brings it back."""
    with ward.write() as tx:
        build.add_joined_check(tx, id="check-2")
        for check in ("check-1", "check-2"):
            for slot in (1, 2):
                tx.add_reading(build.reading(slot, check=check))
        tx.append(RoundVoided(round=9, why="danger"), act=build.act(), check="check-1")
        tx.append(RoundVoided(round=9, why="danger"), act=build.act(), check="check-2")
    with ward.read() as reader:
        head = reader.head()
        found = [reader.uncompared(after=after) for after in (0, head - 2, head - 1, head)]
    one, two = (("check-1", "sources", 1),), (("check-2", "sources", 1),)
    assert found == [(*one, *two), (*one, *two), two, ()]


def test_records_too(seven: Store) -> None:
    with seven.write() as tx:
        tx.append(RoundVoided(round=9, why="danger"), act=build.act(), check="c3")
    with seven.read() as reader:
        head = reader.head()
        assert len(reader.unissued()) == 5
        assert reader.unissued(after=head - 1) == (("c3", 1),)
        assert reader.unissued(after=head) == ()


@pytest.mark.parametrize(
    ("ask", "is_bounded"),
    [
        (lambda reader: reader.uncompared(after=7), True),
        (lambda reader: reader.unissued(after=7), True),
        (lambda reader: reader.open_checks_of_person("amari", beside=build.check()), True),
        # The twins: what a sweep cost before, and costs the first time.
        (lambda reader: reader.uncompared(), False),
        (lambda reader: reader.unissued(), False),
    ],
    ids=["uncompared", "unissued", "open", "uncompared of ever", "unissued of ever"],
)
def test_what_each_sweep_and_each_page_asks_walks_through_no_table(
    filled_sqlite: Engine, ask: Callable[[Reader], object], *, is_bounded: bool
) -> None:
    """Each table is entered by an index, so that finished checks, however many, are not even looked at."""
    asked: list[tuple[str, Any]] = []
    event.listen(filled_sqlite, "before_cursor_execute", lambda *given: asked.append((given[2], given[3])))
    with filled_sqlite.connect() as connection:
        ask(Reader(connection))
        statement, values = next(each for each in asked if each[0].startswith("SELECT"))
        plan = [row[-1] for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values)]
    walked = [step for step in plan if step.startswith("SCAN")]
    assert (walked == []) is is_bounded, plan
    assert any(step.startswith("SEARCH") for step in plan)


def test_the_open_checks_of_a_person(ward: Store) -> None:
    with ward.write() as tx:
        for name in ("check-2", "check-3"):
            build.add_joined_check(tx, id=name)
    with ward.write() as tx:
        _abandon(tx, "check-2", NOW)
    with ward.read() as reader:
        check = reader.find_check("check-3")
        assert check is not None
        at, elsewhere = bed_of(check), replace(check, unit="no unit", infusion="none")
        assert [each.id for each in reader.open_checks_of_person("amari")] == ["check-1", "check-3"]
        its = reader.open_checks_of_person("amari", beside=check)
        assert [each.id for each in its if bed_of(each) != at] == []
        assert "check-3" in [each.id for each in its]
        assert reader.open_checks_of_person("amari", beside=elsewhere) == ()
        assert reader.open_checks_of_person("amari", beside=replace(check, bed="no", infusion="none")) == ()
        # Its infusion may have gone to another bed since.
        of_it = reader.open_checks_of_person("amari", beside=replace(check, unit="no", bed="no"))
        assert check in of_it
        assert reader.open_checks_of_person("nobody") == ()


def test_a_voided_round_is_never_compared(ward: Store) -> None:
    """Only that round, and only its reading of the sources."""
    with ward.write() as tx:
        for slot in (1, 2):
            tx.add_reading(build.reading(slot))
            tx.add_reading(build.reading(slot, round=2))
            tx.add_reading(build.reading(slot, subject="priming"))
        tx.append(RoundVoided(round=1, why="danger"), act=build.act(), check="check-1")
    with ward.read() as reader:
        assert reader.uncompared() == (("check-1", "priming", 1), ("check-1", "sources", 2))


def test_an_abandoned_check_is_not_compared_afterwards(ward: Store) -> None:
    """A reading whose round was never compared is never shown to anyone."""
    with ward.write() as tx:
        for slot in (1, 2):
            tx.add_reading(build.reading(slot))
        _abandon(tx, "check-1", later(9))
    with ward.read() as reader:
        assert reader.uncompared() == ()


def test_a_record_that_both_signed_is_left_to_issue(ward: Store) -> None:
    with ward.write() as tx:
        for slot in (1, 2):
            tx.add_reading(build.reading(slot))
        tx.add_frozen(build.frozen())
        tx.add_signature(build.signature(2))
    with ward.read() as reader:
        assert reader.unissued() == ()
    with ward.write() as tx:
        tx.add_signature(build.signature(1))
    with ward.read() as reader:
        assert reader.unissued() == (("check-1", 1),)
    with ward.write() as tx:
        tx.add_pdf(build.pdf())
    with ward.read() as reader:
        assert reader.unissued() == ()


def test_postgresql_expects_as_many_findings_given_to_somebody_as_there_are(postgresql_url: str) -> None:
    """Else it sorts all that were ever given to them for one page, instead of going through an index."""
    with as_database_administrator(postgresql_url) as connection:
        many_findings.fill(connection, 2_000)
        its = finding_reached.c
        given = select(its.check).where(its.state == Reached.GIVEN_TO, its.person == QUILL.id)
        there_are = len(connection.execute(given).all())
        values = {"state": Reached.GIVEN_TO.value, "person": QUILL.id}
        asked = "SELECT * FROM finding_reached WHERE state = :state AND person = :person"
        (plan,) = connection.execute(text(f"EXPLAIN (FORMAT JSON) {asked}"), values).scalar_one()
    assert there_are > 0
    assert plan["Plan"]["Plan Rows"] == there_are

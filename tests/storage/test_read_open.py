"""A list reads what is open, and asks again only what something happened to; what is over is not read."""

from typing import Any

import pytest
from sqlalchemy import Engine, event

from app.records.events import Abandoned, RoundVoided
from app.records.kept import KeptCheck
from app.storage import OfChecks, OfInfusions, ReadAhead, Reader, Store
from app.storage.remembered import Memory, Remembered
from tests.storage import builders as build
from tests.storage.builders import NOW, later


def _open(reader: Reader) -> list[str]:
    return [each.id for each in reader.checks_that(OfChecks.OPEN, "ward-5")]


def _happens(store: Store, check: str, happened: Any = None) -> None:  # noqa: ANN401  # any event
    with store.write() as tx:
        tx.append(happened or RoundVoided(round=9, why="danger"), act=build.act(at=NOW), check=check)


ENDED = Abandoned(reason="patient left", text="")


def test_what_changes_an_answer_is_asked_again(ward: Store) -> None:
    with ward.read() as reader:
        assert _open(reader) == ["check-1"]
    with ward.write() as tx:
        build.add_joined_check(tx, id="check-2")
    _happens(ward, "check-2")
    with ward.read() as reader:
        assert _open(reader) == ["check-1", "check-2"]
    _happens(ward, "check-1", ENDED)
    with ward.read() as reader:
        assert _open(reader) == ["check-2"]
        assert reader.checks_that(OfChecks.OPEN, "ward-6") == ()
        assert [each.id for each in reader.open_checks_of_person("amari")] == ["check-2"]


def test_whoever_writes_sees_what_is_not_committed_and_leaves_no_memory_of_it(ward: Store) -> None:
    with ward.read() as reader:
        assert _open(reader) == ["check-1"]
    with ward.write() as tx:
        tx.append(ENDED, act=build.act(), check="check-1")
        assert _open(tx) == []
        tx.refuse(None)
    with ward.read() as reader:
        assert _open(reader) == ["check-1"]


def test_a_snapshot_from_before_an_answer_asks_for_itself() -> None:
    memory = Memory()
    memory.keep(OfChecks.OPEN, Remembered(position=7, rows={"check-1": "as it was"}))

    assert memory.find(OfChecks.OPEN, 6) is None
    assert memory.find(OfChecks.WAITS, 9) is None
    # And what it found is not put in the place of what is known since.
    memory.keep(OfChecks.OPEN, Remembered(position=6, rows={}))
    for head in (7, 8):
        known = memory.find(OfChecks.OPEN, head)
        assert known is not None
        assert known.rows == {"check-1": "as it was"}


@pytest.mark.usefixtures("ward")
def test_where_nothing_happened_nothing_is_asked(sql: Engine) -> None:
    memory = Memory()
    with sql.connect() as connection:
        asked: list[str] = []
        event.listen(sql, "before_cursor_execute", lambda *given: asked.append(given[2]))
        for wanted in (2, 3):
            assert _open(Reader(connection, memory)) == ["check-1"]
            # The second time the log's head alone.
            assert len([each for each in asked if each.startswith("SELECT")]) == wanted


def test_the_checks_of_a_person_that_ended_lately(ward: Store) -> None:
    with ward.write() as tx:
        for name in ("check-2", "check-3"):
            build.add_joined_check(tx, id=name)
    for name, minutes in (("check-2", 1), ("check-3", 5)):
        with ward.write() as tx:
            tx.append(ENDED, act=build.act(at=later(minutes)), check=name)
    with ward.read() as reader:

        def ended(person: str, minutes: int) -> list[str]:
            return [each.id for each in reader.checks_of_person_ended_since(person, later(minutes))]

        assert ended("amari", 0) == ["check-2", "check-3"]
        assert ended("amari", 5) == ["check-3"]
        assert ended("amari", 6) == []
        assert ended("nobody", 0) == []


def _asked_of(engine: Engine, head_before: int) -> list[tuple[str, Any]]:
    """What a list asks when it was last asked at a position of the log."""
    asked: list[tuple[str, Any]] = []
    memory = Memory()
    for question in (OfChecks.OPEN, OfInfusions.GOES_ON, OfInfusions.UNCHECKED, OfInfusions.END_IS_DUE):
        memory.keep(question, Remembered(position=head_before, rows={"check-1": _CHECK}))
    event.listen(engine, "before_cursor_execute", lambda *given: asked.append((given[2], given[3])))
    with engine.connect() as connection:
        reader = ReadAhead(connection, memory)
        reader.checks_that(OfChecks.OPEN, "ward-5")
        reader.open_checks_of_person("amari")
        reader.infusions_that(OfInfusions.GOES_ON, "ward-5")
        reader.infusions_that(OfInfusions.UNCHECKED, "ward-5")
        reader.infusions_that(OfInfusions.END_IS_DUE, "ward-5")
        reader.checks_of_person_ended_since("amari", NOW)
        reader.take_states([_CHECK], ["infusion-1"])
    # The log's head is the one row of its table.
    return [each for each in asked if each[0].startswith("SELECT") and "log_head" not in each[0]]


_CHECK = KeptCheck(
    id="check-1",
    infusion="infusion-1",
    kind="set-up",
    unit="ward-5",
    bed="3",
    opened_by="amari",
    opened_at=NOW,
)


_WALKED = ("check_by_unit", "infusion_by_bed", "participant_by_person", "log_entry_by_kind (kind=?)")


def test_a_list_walks_through_no_table_on_sqlite(filled_sqlite: Engine) -> None:
    asked = _asked_of(filled_sqlite, head_before=0)
    assert len(asked) >= 5
    with filled_sqlite.connect() as connection:
        for statement, values in asked:
            plan = [row[-1] for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values)]
            # What is scanned besides is a row of constants, or the few rows of a question within.
            scanned = {step.split()[1] for step in plan if step.startswith("SCAN")} - {"CONSTANT"}
            assert [name for name in scanned if not name.startswith("(subquery-")] == [], plan
            assert any(step.startswith("SEARCH") for step in plan)
            # And no index by which everything of a unit, of a person or of a kind would be walked.
            walked = (
                "check_by_unit",
                "infusion_by_bed",
                "participant_by_person",
                "log_entry_by_kind (kind=?)",
            )
            assert not [step for step in plan if any(name in step for name in walked)], plan

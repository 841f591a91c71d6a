"""The stops that count for nothing are found by themselves, however many entries of other kinds there are."""

from sqlalchemy import create_engine, text

from app.records.events import DeviceStopped, StopMisplaced
from app.records.ward_events import StopSettled
from app.storage import tables


def test_what_is_asked_names_the_kinds_of_event() -> None:
    asked = str(tables.OF_STOPS_NOWHERE)
    for event in (DeviceStopped, StopMisplaced, StopSettled):
        assert f"'{event.kind}'" in asked
    assert asked.count("'") == len((DeviceStopped, StopMisplaced, StopSettled)) * 2


def test_the_index_of_exactly_these_is_taken(sqlite_url: str) -> None:
    with create_engine(sqlite_url).connect() as connection:
        asked = f"SELECT * FROM log_entry WHERE {tables.OF_STOPS_NOWHERE} ORDER BY position"  # noqa: S608  # text of this program alone
        plan = connection.execute(text(f"EXPLAIN QUERY PLAN {asked}")).all()

    (taken,) = [row[3] for row in plan]
    assert taken.startswith("SEARCH log_entry USING INDEX log_entry_of_stops_nowhere ")

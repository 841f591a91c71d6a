# ruff: noqa: PT012  # what is refused is a whole transaction
"""The log: gap-free positions, canonical bytes, and nothing added without them."""

import json
from datetime import datetime, timedelta, timezone

import pytest
import rfc8785

from app.records.events import Joined, NextReadingOpened, SecurityNoted
from app.storage import ConstraintBroken, Store
from tests.storage import builders as build
from tests.storage.builders import NOW, later


def test_an_entry_is_written_as_canonical_bytes(ward: Store) -> None:
    """The exact bytes, worked out by hand: keys in order, no spaces, times in UTC with microseconds and Z."""
    with ward.write() as tx:
        tx.append(Joined(slot=2), act=build.act("birk", at=later(1)), check="check-1")
    with ward.read() as reader:
        (entry,) = reader.entries("check-1")
    assert entry.canonical == (
        b'{"at":"2026-03-01T22:16:00.000000Z","by":"birk","check":"check-1","data":{"slot":2},'
        b'"device":"tablet 3","format":"countersign.log-entry/1",'
        b'"infusion":"infusion-1","kind":"joined","position":1,'
        b'"session":"session of birk","signed_in_at":"2026-03-01T22:15:00.000000Z"}'
    )
    assert entry.canonical == rfc8785.dumps(json.loads(entry.canonical))


def test_what_is_appended_is_what_is_read(ward: Store) -> None:
    event = NextReadingOpened(
        round=2, scope=(("device", ("concentration",)), ("label", ())), touched=("device",), why="stop"
    )
    with ward.write() as tx:
        appended = tx.append(event, act=build.act(), check="check-1")
        assert tx.entries("check-1") == (appended,)
    with ward.read() as reader:
        assert reader.entries("check-1") == reader.log_entries(after=0, limit=9) == (appended,)
        assert appended.event == event


def test_the_site_s_own_acts_have_a_moment_and_no_session(ward: Store) -> None:
    event = SecurityNoted(person="amari", what="throttled")
    with ward.write() as tx:
        tx.append(event, at=NOW, by="sweeper")
    with ward.read() as reader:
        (entry,) = reader.log_entries(after=0, limit=10)
    assert (entry.at, entry.by, entry.session, entry.signed_in_at) == (NOW, "sweeper", "", None)
    assert (entry.check, entry.infusion) == ("", "")
    assert b'"signed_in_at":null' in entry.canonical


def test_a_time_of_another_zone_is_kept_in_utc(ward: Store) -> None:
    moment = datetime(2026, 3, 1, 23, 15, tzinfo=timezone(timedelta(hours=1)))
    with ward.write() as tx:
        tx.append(SecurityNoted(person="amari", what="signed in"), at=moment)
    with ward.read() as reader:
        (entry,) = reader.log_entries(after=0, limit=10)
    assert entry.at.isoformat() == "2026-03-01T22:15:00+00:00"
    assert b'"at":"2026-03-01T22:15:00.000000Z"' in entry.canonical


def test_a_time_without_a_zone_is_refused(ward: Store) -> None:
    with pytest.raises(ValueError, match="aware"), ward.write() as tx:
        tx.append(SecurityNoted(person="amari", what="signed in"), at=NOW.replace(tzinfo=None))


def test_an_event_needs_an_act_or_a_moment(ward: Store) -> None:
    for given in ({}, {"act": build.act(), "at": NOW}):
        with pytest.raises(ValueError, match="either"), ward.write() as tx:
            tx.append(SecurityNoted(person="amari", what="signed in"), **given)  # type: ignore[arg-type]  # on purpose


def test_an_unknown_check_is_a_bug(ward: Store) -> None:
    with pytest.raises(LookupError), ward.write() as tx:
        tx.append(Joined(slot=1), act=build.act(), check="none")


def test_positions_start_at_one_and_have_no_gap(ward: Store) -> None:
    with ward.write() as tx:
        first = [tx.append(Joined(slot=1), act=build.act(), check="check-1").position for _ in range(3)]
    with ward.write() as tx:
        tx.append(Joined(slot=1), act=build.act(), check="check-1")
        tx.refuse()
    with pytest.raises(ConstraintBroken), ward.write() as tx:
        tx.append(Joined(slot=1), act=build.act(), check="check-1")
        tx.add_participant(build.participant())
    with ward.write() as tx:
        last = tx.append(Joined(slot=2), act=build.act(), check="check-1").position
    assert [*first, last] == [1, 2, 3, 4]
    with ward.read() as reader:
        assert reader.head() == 4


def test_the_log_is_read_in_pages(ward: Store) -> None:
    with ward.write() as tx:
        for slot in range(7):
            tx.append(Joined(slot=slot), act=build.act(), check="check-1")
    pages = []
    with ward.read() as reader:
        after = 0
        while page := reader.log_entries(after=after, limit=3):
            pages.append([entry.position for entry in page])
            after = page[-1].position
    assert pages == [[1, 2, 3], [4, 5, 6], [7]]

"""Each day the log says what the list of looks was; whoever changes the list is found out."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import text

from app.auditing.access_digest import changed_accesses, digest_accesses
from app.keys import ApplicationKey
from app.records.kept import Access
from app.records.site_events import AccessesDigested
from app.site.installation import Site
from app.storage import open_store
from tests.factories.site_keys import site_keys
from tests.support.tampering import as_database_administrator

MIDNIGHT = datetime(2031, 5, 3, tzinfo=UTC)
MINUTE, DAY = timedelta(minutes=1), timedelta(days=1)


@pytest.fixture
def site(database_url: str) -> Iterator[Site]:
    """Three looks on one day and one on the next, digested when each was over."""
    made = Site(store=open_store(database_url), key=ApplicationKey(content=bytes(32)), site_keys=site_keys())
    for at in (MIDNIGHT - 3 * MINUTE, MIDNIGHT - 2 * MINUTE, MIDNIGHT - MINUTE):
        looks(made, at)
    assert digest_accesses(made, MIDNIGHT + 6 * MINUTE)
    looks(made, MIDNIGHT + 7 * MINUTE)
    assert digest_accesses(made, MIDNIGHT + DAY + 6 * MINUTE)
    yield made
    made.store.close()


def looks(site: Site, at: datetime, what: str = "record") -> None:
    with site.store.write() as tx:
        tx.add_access(Access(at=at, person="nadia", session="s", check="", what=what))


def changed(site: Site) -> tuple[int, ...]:
    with site.store.read() as reader:
        return changed_accesses(reader)


def digested(site: Site) -> list[AccessesDigested]:
    with site.store.read() as reader:
        entries = reader.entries_of_kind(AccessesDigested.kind)
    return [each.event for each in entries if isinstance(each.event, AccessesDigested)]


def test_each_look_stands_in_the_digest_of_its_day(site: Site) -> None:
    assert [(each.up_to, each.count) for each in digested(site)] == [(3, 3), (4, 1)]
    assert changed(site) == ()


def test_it_is_done_once_a_day_when_the_day_has_settled(site: Site) -> None:
    for later in (7 * MINUTE, DAY, DAY + 4 * MINUTE):
        assert not digest_accesses(site, MIDNIGHT + DAY + later)
    assert digest_accesses(site, MIDNIGHT + 2 * DAY + 5 * MINUTE)
    assert [(each.up_to, each.count) for each in digested(site)] == [(3, 3), (4, 1), (4, 0)]


def test_a_look_of_today_changes_no_day_that_is_over(site: Site) -> None:
    looks(site, MIDNIGHT + DAY + MINUTE)
    assert changed(site) == ()


CHANGES = {
    "a look taken out": "DELETE FROM access WHERE position = 2",
    "another person's": "UPDATE access SET person = 'tomas' WHERE position = 2",
    "of something else": "UPDATE access SET what = 'check' WHERE position = 2",
    "another session's": "UPDATE access SET session = 't' WHERE position = 1",
    "moved to another day": "UPDATE access SET at = '2031-05-01T12:00:00.000000Z' WHERE position = 1",
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_changed_list_is_found_out(site: Site, database_url: str, change: str) -> None:
    with as_database_administrator(database_url) as connection:
        connection.execute(text(CHANGES[change]))
    assert changed(site) == (3,)


def test_two_looks_swapped_are_found_out(site: Site, database_url: str) -> None:
    with as_database_administrator(database_url) as connection:
        for place, other in ((1, -2), (2, -1)):
            connection.execute(
                text("UPDATE access SET position = :other WHERE position = :place"),
                {"place": place, "other": other},
            )
        connection.execute(text("UPDATE access SET position = -position WHERE position < 0"))
    assert changed(site) == (3,)


def test_a_look_put_in_afterwards_stands_after_all_that_are_settled(site: Site) -> None:
    looks(site, MIDNIGHT - 2 * MINUTE)
    assert changed(site) == ()
    assert digest_accesses(site, MIDNIGHT + 2 * DAY + 6 * MINUTE)
    assert [(each.up_to, each.count) for each in digested(site)][-1] == (5, 1)


@pytest.mark.parametrize("jump", [DAY, -DAY, 400 * DAY])
def test_a_clock_that_was_moved_changes_nothing_about_looks(site: Site, jump: timedelta) -> None:
    """It jumps while people look, the list is settled by it, and it is put right again."""
    now = MIDNIGHT + DAY + 10 * MINUTE
    looks(site, now)
    looks(site, now + jump)
    digest_accesses(site, now + jump + 6 * MINUTE)
    looks(site, now + 7 * MINUTE)
    # Its day is another again: nothing waits until the day that the clock had jumped to.
    assert digest_accesses(site, now + 2 * DAY)

    assert changed(site) == ()
    assert sum(each.count for each in digested(site)) == 7

"""Findings that a third person classified, as the estimate of what both missed takes them."""

from datetime import timedelta

import pytest

from app.records.kept import Unit
from app.storage import Counted, Store, Tally
from tests.factories.many_checks import Found, Past, add_past, add_said
from tests.storage import builders as build
from tests.storage.builders import NOW

DAY = timedelta(days=1)
ALL = Counted(months=[NOW, NOW + 30 * DAY], unit="")
STOP = Found(code="device-differs", field="lockout")
CAUTION = Found(code="patient-at-risk", severity="caution")
GITA, FEMI = "gita", "femi"


def past(name: str, days: int, *found: Found, unit: str = "ward-5", is_open: bool = False) -> Past:
    return Past(id=name, at=NOW + days * DAY, unit=unit, people=("amari", "birk"), found=found, open=is_open)


@pytest.fixture
def classified(store: Store) -> Store:
    """Of two units: errors, what is none, a caution, one of before and one of a check that goes on."""
    with store.write() as tx:
        build.add_ward(tx)
        tx.add_unit(Unit(id="ward-6", name="Ward 6"))
        for each in (
            past("old", -1, STOP),
            past("first", 1, CAUTION, STOP),
            past("second", 2, STOP, unit="ward-6"),
            past("harmless", 3, STOP),
            past("open", 4, STOP, is_open=True),
            past("unsaid", 5, STOP),
        ):
            add_past(tx, each)
        add_said(tx, "first", (GITA, "B", ""), number=1)
        add_said(tx, "first", (GITA, "B", "A"), (FEMI, "C", ""), number=2)
        add_said(tx, "second", (GITA, "D", ""), (FEMI, "D", ""))
        # The first says whether it was an error.
        add_said(tx, "harmless", (GITA, "A", ""), (FEMI, "C", ""))
        for name in ("old", "open"):
            add_said(tx, name, (GITA, "B", ""), (FEMI, "B", ""))
    return store


def errors(store: Store, counted: Counted, most: int | None = None) -> list[tuple[str, str, str]]:
    with store.read() as reader:
        found = reader.classified_errors(counted, most)
    return [(each.kept.check, each.field, each.readers) for each in found]


def test_stops_of_ended_checks_that_were_called_an_error_the_newest_first(classified: Store) -> None:
    both = [("second", "lockout", ""), ("first", "lockout", "A")]

    assert errors(classified, ALL) == both
    assert errors(classified, ALL, most=1) == both[:1]
    assert errors(classified, Counted(months=ALL.months, unit="ward-5")) == both[1:]
    without = frozenset({("ward-6", "12")})
    assert errors(classified, Counted(months=ALL.months, unit="", without=without)) == both[1:]


def test_whoever_may_still_be_the_second_is_counted_nothing_of_the_first_s_alone(classified: Store) -> None:
    with classified.write() as tx:
        add_said(tx, "unsaid", (GITA, "B", "A"))

    def told_to(who: str) -> list[str]:
        with classified.read() as reader:
            return [each.kept.check for each in reader.classified_errors(ALL, None, classifier=who)]

    assert told_to("") == told_to(GITA) == ["unsaid", "second", "first"]
    assert told_to(FEMI) == ["second", "first"]


def test_how_often_two_said_what_of_the_same_finding(classified: Store) -> None:
    with classified.read() as reader:
        twice = reader.classified_twice(ALL)

    assert twice == (
        Tally(what="A", other="C", count=1),
        Tally(what="B", other="C", count=1),
        Tally(what="D", other="D", count=1),
    )

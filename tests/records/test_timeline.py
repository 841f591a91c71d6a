"""The time line: what happened, the newest first, and of an open check no more than that it was opened."""

from app.records import events
from app.records.account_entries import AccountEntry
from app.records.timeline import moments, open_checks_in
from app.records.ward_events import LinePaused
from tests.story.events import CHECK, NADIA, RUTH, TOMAS, Story


def kinds(story: Story) -> list[str]:
    return [each.event.kind for each in moments(story.entries, ())]


def test_of_an_open_check_no_more_is_told_than_that_it_was_opened_and_a_stop() -> None:
    reading = Story().found().stopped()
    assert open_checks_in(reading.entries) == {CHECK.id}
    assert kinds(reading) == [events.DeviceStopped.kind, events.CheckOpened.kind]


def test_once_it_has_ended_all_of_it_is_told_the_newest_first() -> None:
    started = Story().found().steps_confirmed().frozen().signed().looked().started()
    assert open_checks_in(started.entries) == frozenset()
    assert kinds(started) == [each.event.kind for each in reversed(started.entries)]


def test_what_happened_to_the_infusion_itself_is_told_at_once() -> None:
    story = Story().found()
    (*_, entry) = story.tell(LinePaused(why="walk"), by=RUTH).entries
    story.entries[-1] = type(entry)(**{**vars(entry), "check": ""})
    paused = moments(story.entries, ())[0]
    assert (paused.event, paused.check, paused.check_kind) == (LinePaused(why="walk"), "", "")
    assert paused.people == (RUTH,)


def test_what_ended_a_check_is_by_its_two_and_all_else_by_whoever_did_it() -> None:
    started = Story().found().steps_confirmed().frozen().signed().looked().started()
    told = moments(started.entries, ())
    assert {each.check_kind for each in told} == {"set-up"}
    assert told[0].people == (NADIA, TOMAS)
    assert told[-1].people == (NADIA,)


def test_a_stop_is_by_its_author_whoever_placed_it() -> None:
    stop = events.DeviceStopped(stopped_at="", why="other", totals="", author=TOMAS)
    assert moments(Story().opened().tell(stop, by=RUTH).entries, ())[0].people == (TOMAS,)


def test_each_has_what_it_put_into_the_account() -> None:
    started = Story().found().steps_confirmed().frozen().signed().looked().started()
    last = started.entries[-1]
    entries = tuple(
        AccountEntry(at=last.at, data={"kind": kind}, position=last.position)
        for kind in ("loaded", "started")
    )
    told = moments(started.entries, entries)
    assert told[0].entries == entries
    assert not any(each.entries for each in told[1:])


def test_whoever_is_named_in_it_belongs_to_it_too() -> None:
    story = Story().taken_back().tell(events.Abandoned(reason="time", text=""), by=NADIA)
    assert moments(story.entries, ())[1].named == {NADIA, RUTH}

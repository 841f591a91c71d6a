"""A stop that counts for nothing when it is written is told to the unit until it is settled."""

from dataclasses import replace
from datetime import datetime, timedelta

from app.records.state import Phase
from app.records.ward_events import StopSettled
from app.site.loading import load_infusion
from app.workflow import placing_stops, stopping
from app.workflow.refusals import NoSuchBed, NoSuchUnit, NotAllowed, NotFound, NotYours
from tests.story.people import ADELE, NADIA, RECOVERY, RUTH, TOMAS, WARD, Somebody
from tests.story.ward import Ward

SEDATED = stopping.Stop(stopped_at="", why="sedation-or-breathing", totals="4 mg")


def stops_at(ward: Ward, bed: str, who: Somebody = NADIA) -> int:
    said = stopping.note_stop_at(ward.site, ward.act(who), who.roles, unit=WARD, bed=bed, stop=SEDATED)
    assert isinstance(said, stopping.StopNoted)
    return said.note


def places(ward: Ward, note: int, bed: str, who: Somebody = RUTH, *, unit: str = WARD) -> object:
    return placing_stops.place_stop(ward.site, ward.act(who), who.roles, note, unit=unit, bed=bed)


def says_nowhere(ward: Ward, note: int, who: Somebody = RUTH) -> object:
    return placing_stops.say_nowhere(ward.site, ward.act(who), who.roles, note)


def told(ward: Ward, who: Somebody) -> list[tuple[int, str, str, datetime]]:
    nowhere = placing_stops.stops_nowhere(ward.site, ward.act(who), who.roles)
    return [(each.note, each.bed, each.by, each.at) for each in nowhere]


def is_running(ward: Ward, infusion: str) -> bool:
    with ward.site.store.read() as reader:
        return load_infusion(reader, infusion).is_running


def test_the_unit_is_told_of_it_however_long_until_it_is_settled(ward: Ward) -> None:
    note = stops_at(ward, " no such bed ")
    written_at = ward.now
    # What counts for a check is told there.
    stops_at(ward, ward.opens().state().check.bed)

    ward.wait(timedelta(days=3))
    assert told(ward, RUTH) == told(ward, TOMAS) == [(note, "no such bed", NADIA.printed_name, written_at)]
    # On another unit, and for whoever sees no unit, there is nothing.
    assert told(ward, ADELE) == []
    act = ward.act(RUTH)
    elsewhere = replace(act, by=replace(act.by, unit=RECOVERY))
    assert placing_stops.stops_nowhere(ward.site, elsewhere, RUTH.roles) == ()
    assert placing_stops.say_nowhere(ward.site, elsewhere, RUTH.roles, note) == NotFound()

    assert says_nowhere(ward, note) == placing_stops.StopPlaced(bed="", counts_for=0)
    assert told(ward, RUTH) == []
    with ward.site.store.read() as reader:
        (settled,) = reader.entries_of_kind(StopSettled.kind)
    assert (settled.by, settled.event) == (RUTH.id, StopSettled(stop=str(note), unit=WARD, bed=""))


def test_its_author_may_still_say_that_it_was_another_bed(ward: Ward) -> None:
    note = stops_at(ward, "nor this one")
    assert stopping.say_misplaced(ward.site, ward.act(TOMAS), note) == NotYours()
    assert stopping.say_misplaced(ward.site, ward.act(NADIA), note) == stopping.SaidMisplaced()
    assert told(ward, RUTH) == []
    assert says_nowhere(ward, note) == placing_stops.AlreadySettled(by=NADIA.printed_name, bed="")


def test_where_it_is_placed_it_counts_for_what_runs_and_is_open_and_names_its_author(ward: Ward) -> None:
    started = ward.at_stage(Phase.STARTED).state().check
    # Another unit's stop is that unit's; this one was meant for the bed.
    note = stops_at(ward, "99")
    written_at = ward.now
    assert is_running(ward, started.infusion)

    assert places(ward, note, f"bed {started.bed}") == placing_stops.StopPlaced(bed=started.bed, counts_for=1)
    assert not is_running(ward, started.infusion)
    (shown,) = ward.state().stop_notes
    assert (shown.note, shown.by, shown.why, shown.totals) == (note, NADIA.id, SEDATED.why, "4 mg")
    assert shown.stopped_at == written_at.isoformat(timespec="minutes")
    assert told(ward, RUTH) == []

    # Two charge nurses, or a press repeated: what was said first stands.
    assert places(ward, note, "3") == placing_stops.AlreadySettled(by=RUTH.printed_name, bed=started.bed)
    assert says_nowhere(ward, note) == placing_stops.AlreadySettled(by=RUTH.printed_name, bed=started.bed)


def test_a_placed_stop_undoes_what_any_stop_undoes_and_is_taken_back_by_either_of_the_two(
    ward: Ward,
) -> None:
    for who in (NADIA, RUTH):
        ward.at_stage(Phase.CLEARED)
        note = stops_at(ward, "99")
        places(ward, note, ward.state().check.bed)
        assert ward.phase is Phase.STEPS

        assert stopping.say_misplaced(ward.site, ward.act(TOMAS), note) == NotYours()
        assert stopping.say_misplaced(ward.site, ward.act(who), note) == stopping.SaidMisplaced()
        assert [each.misplaced for each in ward.state().stop_notes] == [True]
        # A clearance that was void once does not come back.
        assert ward.phase is Phase.STEPS


def test_what_was_started_after_it_was_written_is_not_stopped_by_it(ward: Ward) -> None:
    note = stops_at(ward, "99")
    started = ward.at_stage(Phase.STARTED).state().check

    assert places(ward, note, started.bed) == placing_stops.StopPlaced(bed=started.bed, counts_for=0)
    assert is_running(ward, started.infusion)


def test_who_settles_it_and_where(one_ward: Ward) -> None:
    note = stops_at(one_ward, "99")

    assert places(one_ward, note, "3", NADIA) == NotAllowed()
    assert says_nowhere(one_ward, note, NADIA) == NotAllowed()
    assert isinstance(places(one_ward, note, "98"), NoSuchBed)
    assert places(one_ward, note, "3", unit="no-unit") == NoSuchUnit()
    assert places(one_ward, note + 1, "3") == NotFound()
    # It was written for one unit and belongs to another.
    assert places(one_ward, note, "3", unit=RECOVERY) == placing_stops.StopPlaced(bed="3", counts_for=0)

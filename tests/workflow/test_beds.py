"""A unit's beds are a list: checks are opened at these, and one is retired only when nothing is there."""

from app.records.kinds import RE_CHECK
from app.records.restarting import HeldBack, Why
from app.records.state import Phase
from app.records.ward_events import BedAdded
from app.workflow import beds, opening, starting
from app.workflow.refusals import NoSuchBed, NoSuchUnit
from tests.story.people import ADELE, NADIA, TOMAS, WARD
from tests.story.ward import Ward
from tests.support.together import together


def adds(ward: Ward, bed: str, *, unit: str = WARD) -> object:
    return beds.add_bed(ward.site, ward.wait().now, by=ADELE.id, unit=unit, bed=bed)


def retires(ward: Ward, bed: str, *, unit: str = WARD) -> object:
    return beds.retire_bed(ward.site, ward.wait().now, by=ADELE.id, unit=unit, bed=bed)


def known(ward: Ward) -> tuple[str, ...]:
    return beds.beds_of_unit(ward.site, WARD)


def test_a_check_is_opened_at_a_known_bed_alone_however_it_is_written(ward: Ward) -> None:
    refused = ward.opening(NADIA, bed="99")
    assert refused == NoSuchBed(beds=known(ward))
    assert "12" in known(ward)
    assert ward.opening(NADIA, bed="  ") == refused

    assert isinstance(ward.opening(NADIA, bed=" Bed 12"), opening.Opened)
    assert isinstance(ward.opening(TOMAS, bed="12 "), opening.AlreadyOpen)


def test_what_had_to_start_without_a_check_is_at_a_known_bed(one_ward: Ward) -> None:
    assert isinstance(one_ward.starting_without_check(NADIA, bed="99"), NoSuchBed)
    assert isinstance(one_ward.starting_without_check(NADIA, bed="bed 3"), starting.StartNoted)
    # What it lacks is a check of what runs; once it stands it may be set up anew at the same bed.
    assert one_ward.opening(NADIA, bed="3") == HeldBack(why=Why.OTHER_KIND, kind=RE_CHECK.name)
    opened = one_ward.stops_at("3").opens(bed="3").state()
    assert opened.course == "running without a check"


def test_a_bed_is_added_once(ward: Ward) -> None:
    assert adds(ward, " 40a ") == beds.BedKept(bed="40a")
    size = _entries(ward)
    assert adds(ward, "Bed 40 A") == beds.BedKept(bed="40a")
    assert _entries(ward) == size
    assert known(ward)[-1] == "40a"
    for nothing in ("", "  ", "bed", "x" * 21, "4\x1b[2J", "4\n5"):
        assert adds(ward, nothing) == beds.NotABed()
    assert adds(ward, "1", unit="no-unit") == NoSuchUnit()


def test_two_who_add_the_same_bed_at_the_same_instant_add_one(ward: Ward) -> None:
    now = ward.wait().now
    together(
        *(
            lambda typed=typed: beds.add_bed(ward.site, now, by=ADELE.id, unit=WARD, bed=typed)
            for typed in ("40a", "40 A")
        )
    )
    assert len([bed for bed in known(ward) if bed.casefold().replace(" ", "") == "40a"]) == 1


def test_a_bed_is_retired_when_nothing_is_there(ward: Ward) -> None:
    ward.opens(bed="7")
    assert retires(ward, "bed 7") == beds.BedInUse(bed="7")
    ward.abandons()
    assert retires(ward, "bed 7") == beds.BedGone()
    assert "7" not in known(ward)
    assert isinstance(ward.opening(NADIA, bed="7"), NoSuchBed)
    assert isinstance(retires(ward, "7"), NoSuchBed)
    assert retires(ward, "7", unit="no-unit") == NoSuchUnit()
    # It comes back as it was, and with it what was set up there.
    assert adds(ward, " 7") == beds.BedKept(bed="7")
    assert ward.opens(bed="7").state().course == "goes on"


def test_nor_while_something_runs_there_checked_or_not(one_ward: Ward) -> None:
    one_ward.starts_without_check(bed="9")
    assert retires(one_ward, "9") == beds.BedInUse(bed="9")
    one_ward.at_stage(Phase.STARTED)
    bed = one_ward.state().check.bed
    assert retires(one_ward, bed) == beds.BedInUse(bed=bed)
    one_ward.stops(why="end-of-therapy")
    assert retires(one_ward, bed) == beds.BedGone()


def _entries(ward: Ward) -> int:
    with ward.site.store.read() as reader:
        return len(reader.entries_of_kind(BedAdded.kind))

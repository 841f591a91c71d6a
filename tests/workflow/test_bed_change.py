"""The bed of what was started changes without a check: what happened stays where it was."""

import pytest

from app.auditing.invariants import check_invariants
from app.records.kinds import RE_CHECK
from app.records.state import Phase
from app.records.visibility import Sight
from app.workflow import changing, looking, opening
from app.workflow.infusions import see_infusion
from app.workflow.listing import unit_list
from app.workflow.refusals import NoSuchBed, NotFound
from tests.factories.answers import answers, of_patient
from tests.story.people import IMOGEN, INES, NADIA, RALPH, RUTH, TOMAS, Somebody
from tests.story.ward import Ward
from tests.workflow.test_transfer import both_read, is_checked_by, takes


@pytest.fixture
def running(ward: Ward) -> Ward:
    return ward.has_beds("40", "41").at_stage(Phase.STARTED)


def moves(ward: Ward, bed: str) -> object:
    return changing.change_bed(ward.site, ward.act(NADIA), ward.state().check.infusion, bed=bed)


def beds_listed(ward: Ward) -> list[str]:
    return [each.bed for each in unit_list(ward.site, ward.act(RUTH)).running]


def test_the_list_shows_the_new_bed_and_the_check_its_own(running: Ward) -> None:
    before = running.state().check.bed
    assert beds_listed(running) == [before]

    assert moves(running, " bed 40") == changing.BedKept(bed="40")
    assert (beds_listed(running), running.state().check.bed) == (["40"], before)
    assert moves(running, "41") == changing.BedKept(bed="41")
    assert beds_listed(running) == ["41"]


def test_what_is_checked_or_stopped_then_is_at_the_new_bed(running: Ward) -> None:
    infusion = running.state().check.infusion
    moves(running, "40")
    running.re_checks().both_read(answers()).compares().both_sign()

    assert running.state().check.bed == "40"
    assert running.opening(NADIA, bed="40") != opening.AlreadyOpen(check=running.check)
    with running.site.store.read() as reader:
        assert infusion in {each.id for each in reader.alive_at("ward-4-east", "40")}


def test_whoever_reads_it_blind_at_the_new_bed_sees_no_check_from_before(running: Ward) -> None:
    before = running.check
    moves(running, "40")
    running.re_checks()

    for who in (NADIA, TOMAS):
        seen = looking.see_check(running.site, running.act(who), before)
        assert isinstance(seen, looking.Seen)
        assert seen.sight is Sight.PROGRESS
    seen = looking.see_check(running.site, running.act(RUTH), before)
    assert isinstance(seen, looking.Seen)
    assert seen.sight is Sight.EVERYTHING


def test_the_bed_that_it_left_is_free(running: Ward) -> None:
    before, infusion = running.state().check.bed, running.state().check.infusion
    moves(running, "40")

    with running.site.store.read() as reader:
        assert reader.alive_at("ward-4-east", before) == reader.infusions_at("ward-4-east", before) == ()
        assert [each.id for each in reader.infusions_ever_at("ward-4-east", before)] == [infusion]
    running.opens(bed=before)
    assert running.state().check.infusion != infusion


def test_it_does_not_go_to_an_occupied_bed_nor_where_it_is(running: Ward) -> None:
    bed, infusion = running.state().check.bed, running.state().check.infusion
    running.opens(bed="40")
    act = running.act(RUTH)

    assert changing.change_bed(running.site, act, infusion, bed="40") == changing.Occupied(bed="40")
    assert changing.change_bed(running.site, act, infusion, bed=bed) == changing.SameBed()
    assert isinstance(changing.change_bed(running.site, act, infusion, bed="no such bed"), NoSuchBed)


def test_while_a_check_of_it_is_open_it_stays(running: Ward) -> None:
    running.changes(RE_CHECK)

    assert moves(running, "40") == changing.CheckIsOpen()


def test_what_has_ended_goes_nowhere(running: Ward) -> None:
    running.stops(why="end-of-therapy")

    assert moves(running, "40") == changing.HasEnded()


def test_what_ran_at_a_bed_before_it_was_moved_verifies(ward: Ward) -> None:
    ward.has_beds("40", "41").at_stage(Phase.STARTED)
    bed, first = ward.state().check.bed, ward.state().check.infusion
    # Another set-up at the bed, which finds that the first still runs there.
    ward.opens(bed=bed).joins().both_read(of_patient("DM-50001", answers())).compares()
    assert "bed-still-runs" in {each.code for each in ward.state().findings}
    ward.abandons()
    assert changing.change_bed(ward.site, ward.act(NADIA), first, bed="40") == changing.BedKept(bed="40")

    assert check_invariants(ward.site, ward.now) == ()


def test_the_unit_that_was_left_keeps_the_record_of_what_was_checked_there_and_nothing_since(
    one_ward: Ward,
) -> None:
    before = one_ward.at_stage(Phase.STARTED).check
    infusion = one_ward.state().check.infusion
    takes(one_ward)

    def reads(who: Somebody, check: str) -> bool:
        return isinstance(looking.see_record(one_ward.site, one_ward.act(who), check), looking.RecordSeen)

    assert see_infusion(one_ward.site, one_ward.act(RUTH), infusion) == NotFound()
    assert [reads(who, before) for who in (RUTH, NADIA, IMOGEN, RALPH)] == [True, True, True, False]
    is_checked_by(one_ward, NADIA, INES)
    # Whoever reads in its check reads it blind, wherever the earlier one was.
    assert [reads(who, before) for who in (RUTH, NADIA, INES)] == [True, False, False]
    both_read(one_ward, (NADIA, INES), answers(), answers()).signs(NADIA).signs(INES)
    assert [reads(who, one_ward.check) for who in (RUTH, IMOGEN, RALPH)] == [False, False, True]

"""What somebody answers for: handed over bed by bed, and covered while she is on a break."""

from datetime import timedelta

import pytest

from app.records.due import DueThing
from app.records.kept import Session
from app.records.state import Phase
from app.workflow import answering
from app.workflow.listing import unit_list
from app.workflow.refusals import NotAllowed
from tests.story.people import ADELE, IMOGEN, INES, NADIA, PETRA, RUTH, TOMAS, Somebody
from tests.story.ward import Ward

TIME = timedelta(minutes=30)


@pytest.fixture
def running(ward: Ward) -> Ward:
    return ward.at_stage(Phase.STARTED)


def mine(ward: Ward, who: Somebody) -> answering.MyInfusions:
    return answering.my_infusions(ward.site, ward.act(who))


def signed_in(ward: Ward, who: Somebody, *, unit: str) -> None:
    actor = ward.signs_in(who, unit=unit)
    with ward.site.store.write() as tx:
        tx.add_session(
            Session(
                digest=actor.session,
                person=who.id,
                device=actor.device,
                unit=unit,
                signed_in_at=ward.now,
                last_seen_at=ward.now,
                ended_at=None,
                method=actor.method,
                shift_session="",
            )
        )


def covering(ward: Ward, who: Somebody, *, by: Somebody) -> object:
    return answering.cover_break(ward.site, ward.act(who), covers=by.id)


def test_one_sees_what_one_answers_for_bed_by_bed(running: Ward) -> None:
    (first,) = mine(running, NADIA).mine
    assert (first.runs, first.open_check) == (True, "")
    assert mine(running, TOMAS).mine == ()
    assert mine(running, INES).mine == ()

    running.hands_over()
    (now,) = mine(running, NADIA).mine
    assert (now.open_check, now.open_kind) == (running.check, "handoff")
    running.both_read().compares().both_sign()
    assert mine(running, NADIA).mine == ()
    assert [each.bed for each in mine(running, TOMAS).mine] == [first.bed]


def test_a_colleague_covers_for_the_sites_time(running: Ward) -> None:
    covered = covering(running, NADIA, by=TOMAS)
    assert isinstance(covered, answering.Covered)
    assert covered.until <= running.now + TIME

    (of_nadia,) = mine(running, NADIA).covered
    assert (of_nadia.by, of_nadia.until, of_nadia.overdue) == (TOMAS.printed_name, covered.until, False)
    (of_tomas,) = mine(running, TOMAS).covering
    assert (of_tomas.whose, of_tomas.overdue) == (NADIA.printed_name, False)
    assert mine(running, IMOGEN).covering == ()
    # She answers for it all the same.
    assert running.loaded().infusion.responsible == NADIA.id


def test_longer_shows_and_becomes_a_handoff(running: Ward) -> None:
    covering(running, NADIA, by=TOMAS)
    running.wait(TIME + timedelta(minutes=1))

    assert [each.overdue for each in mine(running, NADIA).covered] == [True]
    (line,) = unit_list(running.site, running.act(RUTH)).running
    assert [(each.what, each.overdue) for each in line.due] == [(DueThing.BREAK, True)]
    # It is not made longer.
    assert covering(running, NADIA, by=IMOGEN) == answering.NothingToCover()
    running.hands_over().both_read().compares().both_sign()
    assert mine(running, TOMAS).covering == ()
    assert running.loaded().infusion.responsible == TOMAS.id


def test_whoever_is_back_looks_after_it_again(running: Ward) -> None:
    assert answering.come_back(running.site, running.act(NADIA)) == answering.NotOnBreak()
    covering(running, NADIA, by=TOMAS)
    # Not whoever covers.
    assert answering.come_back(running.site, running.act(TOMAS)) == answering.NotOnBreak()
    assert answering.come_back(running.site, running.act(NADIA)) == answering.Back()
    assert answering.come_back(running.site, running.act(NADIA)) == answering.NotOnBreak()
    assert mine(running, NADIA).covered == ()
    assert isinstance(covering(running, NADIA, by=IMOGEN), answering.Covered)


@pytest.mark.parametrize("by", [NADIA, INES, PETRA, ADELE], ids=lambda each: str(each.id))
def test_only_a_colleague_of_the_unit_who_may_check_covers(running: Ward, by: Somebody) -> None:
    assert by.id not in mine(running, NADIA).colleagues
    assert covering(running, NADIA, by=by) == answering.NoColleague()


def test_two_do_not_cover_each_other_nor_does_whoever_is_on_a_break(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)
    one_ward.opens(TOMAS).joins(IMOGEN)
    one_ward.reads(TOMAS).reads(IMOGEN).compares().confirms_all().signs(TOMAS).signs(IMOGEN)
    one_ward.looking(TOMAS, same=True)
    one_ward.looking(IMOGEN, same=True)
    one_ward.starting(TOMAS)
    assert isinstance(covering(one_ward, NADIA, by=TOMAS), answering.Covered)

    covers = answering.CoversAnother(whose=NADIA.printed_name)
    assert covering(one_ward, TOMAS, by=NADIA) == covering(one_ward, TOMAS, by=IMOGEN) == covers
    answering.come_back(one_ward.site, one_ward.act(NADIA))
    assert isinstance(covering(one_ward, TOMAS, by=IMOGEN), answering.Covered)
    assert TOMAS.id not in mine(one_ward, NADIA).colleagues
    assert covering(one_ward, NADIA, by=TOMAS) == answering.NoColleague()


def test_whoever_is_on_shift_here_covers_and_not_whoever_is_on_shift_elsewhere(running: Ward) -> None:
    """By the last time that each signed in, as long as a shift lasts; before that by the own unit."""
    elsewhere = {INES: INES.unit, TOMAS: TOMAS.unit}
    for who, unit in ((INES, TOMAS.unit), (TOMAS, INES.unit)):
        for at in (elsewhere[who], unit):
            signed_in(running, who, unit=at)
    assert {INES.id, TOMAS.id} & {*mine(running, NADIA).colleagues} == {INES.id}
    assert covering(running, NADIA, by=TOMAS) == answering.NoColleague()
    assert isinstance(covering(running, NADIA, by=INES), answering.Covered)

    running.wait(timedelta(hours=13))
    assert {INES.id, TOMAS.id} & {*mine(running, NADIA).colleagues} == {TOMAS.id}


def test_who_answers_for_nothing_has_nothing_covered(running: Ward) -> None:
    assert covering(running, TOMAS, by=IMOGEN) == answering.NothingToCover()
    assert covering(running, PETRA, by=IMOGEN) == NotAllowed()
    assert answering.come_back(running.site, running.act(PETRA)) == NotAllowed()

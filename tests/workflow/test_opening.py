"""Open, join, by a code or on one device; who can be one of the two, and who cannot."""

from datetime import timedelta

import pytest

from app.records.course import Course
from app.records.kept import FIRST, SECOND
from app.records.kinds import RE_CHECK
from app.records.restarting import HeldBack, Why
from app.records.state import Phase
from app.workflow import helping, opening, starting, stopping
from app.workflow.listing import unit_list
from app.workflow.refusals import NoSuchUnit, NotAllowed, NotFound, NotNow, NotOnShift
from tests.factories.answers import answers
from tests.story.people import ADELE, IMOGEN, INES, NADIA, PETRA, QUILL, RUTH, TOMAS, WARD, Somebody
from tests.story.trying import A_MOMENT
from tests.story.ward import DIFFERING, Ward


def opens(ward: Ward, who: Somebody, *, bed: str = "7", unit: str = WARD) -> object:
    return opening.open_check(ward.site, ward.act(who), unit=unit, bed=bed)


def joins(ward: Ward, who: Somebody, check: str = "") -> object:
    return opening.join_check(ward.site, ward.act(who), check or ward.check)


@pytest.mark.parametrize(("opener", "joiner"), [(NADIA, TOMAS), (TOMAS, NADIA)])
def test_whoever_opens_is_the_first_nurse_and_whoever_joins_the_second(
    one_ward: Ward, opener: Somebody, joiner: Somebody
) -> None:
    one_ward.opens(opener).joins(joiner)

    assert one_ward.state().people == {FIRST: opener.id, SECOND: joiner.id}


def test_only_units_of_the_site_have_beds(one_ward: Ward) -> None:
    assert opens(one_ward, NADIA, unit="ward-9") == NoSuchUnit()


def test_a_bed_has_one_open_check(ward: Ward) -> None:
    ward.opens(NADIA, bed="7")

    assert opens(ward, IMOGEN) == opening.AlreadyOpen(check=ward.check)
    # The same bed, however it is typed.
    assert opens(ward, IMOGEN, bed=" 7 ") == opening.AlreadyOpen(check=ward.check)
    assert isinstance(opens(ward, IMOGEN, bed="8"), opening.Opened)


def test_a_bed_has_one_open_check_also_after_earlier_ones(ward: Ward) -> None:
    ward.opens(bed="7").joins().both_read().compares().confirms_all().both_sign()
    ward.looks(NADIA).looks(TOMAS).starts()
    ward.opens(NADIA, bed="7")

    assert opens(ward, IMOGEN) == opening.AlreadyOpen(check=ward.check)


def test_after_a_start_the_next_set_up_is_of_another_infusion(one_ward: Ward) -> None:
    started = one_ward.at_stage(Phase.STARTED).state().check
    one_ward.opens(bed=started.bed)

    assert one_ward.state().check.infusion != started.infusion
    assert one_ward.state().course == Course.STARTED


def test_an_abandoned_set_up_passes_its_infusion_and_its_count_on(ward: Ward) -> None:
    ward.opens(bed="7").joins().both_read(answers(), DIFFERING).compares()
    ward.reads_again().both_read(answers(), DIFFERING).compares().abandons()
    abandoned = ward.state().check
    ward.opens(IMOGEN, bed="7").joins(NADIA)

    assert ward.state().check.infusion == abandoned.infusion
    assert ward.state().rereadings == 1
    assert ward.state().course == Course.GOES_ON


@pytest.mark.parametrize(
    ("later", "course"),
    [
        (timedelta(hours=12) - A_MOMENT, Course.GOES_ON),
        (timedelta(hours=12), Course.TOO_LONG_AGO),
    ],
)
def test_it_passes_them_on_for_the_sites_time_only(one_ward: Ward, later: timedelta, course: Course) -> None:
    one_ward.opens(bed="7").joins().both_read(answers(), DIFFERING).compares().reads_again().abandons()
    before = one_ward.state()
    # Opening itself takes a moment, or a little more with the sign-in before it.
    one_ward.signs_in(IMOGEN)
    one_ward.now = before.now + later
    one_ward.opens(IMOGEN, bed="7")

    assert one_ward.state().course == course
    assert (one_ward.state().check.infusion == before.check.infusion) is (course is Course.GOES_ON)
    assert one_ward.state().rereadings == (before.rereadings if course is Course.GOES_ON else 0)


def test_a_set_up_that_was_ever_cleared_passes_nothing_on(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.LAPSED)
    cleared = one_ward.state().check
    one_ward.reads_again(NADIA, "device").abandons().opens(IMOGEN, bed=cleared.bed)

    assert one_ward.state().check.infusion != cleared.infusion
    assert one_ward.state().course == Course.NEW
    assert one_ward.state().rereadings == 0


def notes_start(ward: Ward, bed: str = "7") -> str:
    """An infusion that runs without a check; it is the unit's only one."""
    noted = starting.note_start_without_check(
        ward.site, ward.act(NADIA), unit=WARD, bed=bed, reason="no second nurse", started_at=""
    )
    assert noted == starting.StartNoted()
    (running,) = unit_list(ward.site, ward.act(RUTH)).unchecked
    return running.infusion


def stops(ward: Ward, infusion: str, why: str = "", who: Somebody = NADIA) -> object:
    return stopping.note_stop_of_infusion(
        ward.site, ward.act(who), who.roles, infusion, stop=stopping.Stop(why=why)
    )


def test_an_infusion_that_runs_without_a_check_is_set_up_anew_once_it_stands(ward: Ward) -> None:
    infusion = notes_start(ward, bed="7 ")
    assert opens(ward, NADIA) == HeldBack(why=Why.OTHER_KIND, kind=RE_CHECK.name)
    ward.stops_at("7").opens(NADIA, bed="7")

    assert ward.state().check.infusion == infusion
    assert ward.state().course == Course.UNCHECKED


def test_it_runs_without_a_check_until_one_is_cleared(ward: Ward) -> None:
    infusion = notes_start(ward)

    def listed() -> list[str]:
        return [each.infusion for each in unit_list(ward.site, ward.act(RUTH)).unchecked]

    ward.stops_at("7").opens(bed="7").joins().abandons()
    assert listed() == [infusion]
    # However long it takes, and however often a check is ended.
    ward.wait(timedelta(hours=20)).opens(bed="7").joins().both_read().compares().confirms_all()
    assert ward.state().check.infusion == infusion
    assert listed() == [infusion]
    ward.signs(NADIA)
    assert listed() == [infusion]
    ward.signs(TOMAS)
    assert listed() == []


def test_or_until_its_end_is_recorded(ward: Ward) -> None:
    infusion = notes_start(ward)
    assert isinstance(
        opening.open_on_infusion(ward.site, ward.act(NADIA), RE_CHECK, infusion), opening.Opened
    )

    # A stop is not yet the end.
    assert isinstance(stops(ward, infusion, "line-or-site"), stopping.StopNoted)
    assert len(unit_list(ward.site, ward.act(RUTH)).unchecked) == 1
    assert isinstance(stops(ward, infusion, "end-of-therapy"), stopping.StopNoted)
    assert unit_list(ward.site, ward.act(RUTH)).unchecked == ()

    assert stops(ward, "no-such-infusion") == NotFound()
    assert stops(ward, infusion, who=ADELE) == NotAllowed()


def is_asked_for_a_new_set(ward: Ward) -> bool:
    plan = ward.state().plan
    return plan is not None and "earlier-set" in {step.id for step in plan.steps}


def test_a_line_that_a_check_left_primed_is_replaced_in_the_next_whosever_infusion_it_is(
    one_ward: Ward,
) -> None:
    primed = one_ward.at_stage(Phase.SIGNING).abandons().state().check
    # Given up at once: whatever hangs there still hangs there.
    one_ward.opens(bed=primed.bed).abandons()
    assert is_asked_for_a_new_set(one_ward)

    one_ward.wait(timedelta(days=3)).opens(bed=primed.bed)
    assert one_ward.state().check.infusion != primed.infusion
    assert is_asked_for_a_new_set(one_ward)


def test_where_no_line_was_primed_or_what_was_primed_has_started_no_new_set_is_asked_for(
    one_ward: Ward,
) -> None:
    one_ward.opens(bed="7").joins().abandons().opens(bed="7")
    assert not is_asked_for_a_new_set(one_ward)
    one_ward.abandons()

    started = one_ward.at_stage(Phase.STARTED).state().check
    one_ward.opens(bed=started.bed)
    assert not is_asked_for_a_new_set(one_ward)


def test_why_it_had_to_start_is_closed_to_whoever_reads_blind_in_it(one_ward: Ward) -> None:
    infusion = notes_start(one_ward)
    opened = opening.open_on_infusion(one_ward.site, one_ward.act(NADIA), RE_CHECK, infusion)
    assert isinstance(opened, opening.Opened)

    for who, reason in ((NADIA, ""), (TOMAS, "no second nurse")):
        (running,) = unit_list(one_ward.site, one_ward.act(who)).unchecked
        assert running.reason == reason


def test_no_set_up_is_opened_beside_an_open_check_of_an_older_infusion_at_the_bed(ward: Ward) -> None:
    older = ward.at_stage(Phase.STARTED).state().check
    # No stop is written down, so that the next set-up there begins another infusion; it is given up.
    newer = ward.opens(bed=older.bed).abandons().state().check
    assert newer.infusion != older.infusion
    ward.check = older.id
    re_check = ward.re_checks().state().check

    assert ward.opening(RUTH, bed=older.bed) == opening.AlreadyOpen(check=re_check.id)
    ward.abandons()
    assert isinstance(ward.opening(RUTH, bed=older.bed), opening.Opened)


# ---------------------------------------------------------------------------------------------------------
# The code


def code_of(ward: Ward, who: Somebody = NADIA) -> str:
    made = opening.new_code(ward.site, ward.act(who), ward.check)
    assert isinstance(made, opening.NewCode)
    return made.code


def test_a_code_brings_the_second_to_the_check(ward: Ward) -> None:
    opened = opens(ward, NADIA)
    assert isinstance(opened, opening.Opened)

    assert opening.check_by_code(ward.site, ward.act(TOMAS), opened.code) == opened.check
    # As people type: small letters, spaces, hyphens.
    typed = f" {opened.code[:3].lower()}-{opened.code[3:].lower()} "
    assert opening.check_by_code(ward.site, ward.act(TOMAS), typed) == opened.check


def test_a_code_lives_for_the_sites_time(one_ward: Ward) -> None:
    code = code_of(one_ward.opens())
    act = one_ward.act(TOMAS)
    one_ward.wait(timedelta(minutes=11))

    assert opening.check_by_code(one_ward.site, act, code) == one_ward.check
    assert opening.check_by_code(one_ward.site, one_ward.act(TOMAS), code) == opening.CodeNotKnown()
    assert opening.check_by_code(one_ward.site, one_ward.act(TOMAS), "QQQQQQ") == opening.CodeNotKnown()


def test_a_new_code_is_for_the_opener_of_a_check_that_waits(one_ward: Ward) -> None:
    one_ward.opens(NADIA)

    assert opening.new_code(one_ward.site, one_ward.act(TOMAS), one_ward.check) == NotFound()
    assert opening.new_code(one_ward.site, one_ward.act(NADIA), "no-such-check") == NotFound()
    assert code_of(one_ward) != code_of(one_ward)
    one_ward.joins(TOMAS)
    assert opening.new_code(one_ward.site, one_ward.act(NADIA), one_ward.check) == opening.Full()


# ---------------------------------------------------------------------------------------------------------
# Two people, never more, never the same


def test_who_can_join(ward: Ward) -> None:
    ward.opens(NADIA)

    assert joins(ward, TOMAS, "no-such-check") == NotFound()
    assert joins(ward, NADIA) == opening.AlreadyJoined(ward.check)
    assert joins(ward, TOMAS) == opening.Joined(check=ward.check)
    assert joins(ward, TOMAS) == opening.AlreadyJoined(ward.check)
    assert joins(ward, IMOGEN) == opening.Full()


@pytest.mark.parametrize("who", [PETRA, QUILL, ADELE])
def test_only_who_may_check_can_open_or_join_whatever_the_route_asked(one_ward: Ward, who: Somebody) -> None:
    one_ward.signs_in(who, unit=WARD)
    one_ward.opens(NADIA, bed="7")

    assert opens(one_ward, who, bed="8") == NotAllowed()
    assert joins(one_ward, who) == NotAllowed()
    assert (
        opening.open_check(
            one_ward.site,
            one_ward.act(Somebody(id="nobody", printed_name="", roles=frozenset())),
            unit=WARD,
            bed="8",
        )
        == NotAllowed()
    )
    assert one_ward.state().people == {FIRST: NADIA.id}


def test_a_check_is_opened_and_joined_by_who_is_on_shift_there(one_ward: Ward) -> None:
    one_ward.opens(NADIA, bed="7")

    assert opens(one_ward, INES, bed="8") == NotOnShift()
    assert joins(one_ward, INES) == NotOnShift()
    # The shift is taken at sign-in, not by the account.
    one_ward.signs_in(INES, unit=WARD)
    assert joins(one_ward, INES) == opening.Joined(check=one_ward.check)


def test_an_abandoned_check_cannot_be_joined(one_ward: Ward) -> None:
    one_ward.opens(NADIA).abandons()

    assert joins(one_ward, TOMAS) == NotNow(phase=Phase.ABANDONED)


def test_whoever_helped_is_neither_of_the_two_here_nor_in_the_infusions_next_check(ward: Ward) -> None:
    ward.opens(NADIA, bed="7").asks_for_help(NADIA).takes_help(RUTH)

    assert joins(ward, RUTH) == opening.ThirdPersonElsewhere()
    ward.settles_help("other").abandons(NADIA)
    assert opens(ward, RUTH) == opening.ThirdPersonElsewhere()
    # Nothing of the refused opening stays: the bed is free.
    ward.opens(IMOGEN, bed="7")
    assert joins(ward, RUTH) == opening.ThirdPersonElsewhere()
    # In the check after the next she may again.
    ward.abandons(IMOGEN).opens(RUTH, bed="7")
    assert ward.state().slot_of(RUTH.id) == FIRST


def test_one_of_the_two_cannot_help(ward: Ward) -> None:

    ward.opens(RUTH).joins(TOMAS).asks_for_help(TOMAS)

    taken = helping.take_help(ward.site, ward.act(RUTH), RUTH.roles, ward.check)

    assert taken == helping.OneOfTheTwo()
    ward.takes_help(PETRA)
    assert ward.state().help[0].taken_by == PETRA.id
